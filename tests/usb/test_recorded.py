"""Real bodies as they were recorded, so that not all that is tried here is our own belief of how bodies answer.

`make prove` fetches one recording; a debug log of another body (an EOS 60D is public) may be put beside it by hand.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.usb.bus import Named
from tests.usb.recorded import FOLDER, RecordedCamera, answers, transfers_of_log, transfers_of_umockdev
from tests.usb.rig import Rig

pytestmark = pytest.mark.prove

COMPACT = FOLDER / "canon-powershot-sx200.ioctl"
COMPACT_NAMED = Named(vendor=0x04A9, product=0x31C0, maker="Canon Inc.", name="Canon Digital Camera")
EOS_60D = Named(vendor=0x04A9, product=0x3215, maker="Canon Inc.", name="Canon Digital Camera")
_READ = """
from pathlib import Path
from tether.body.driver.session import Session
session = Session("", "")
print(session.model, session.read("cameramodel").text, sep="; ")
for folder, name in session.files():
    size = session.fetch(folder, name, Path(name))
    print(folder, name, size, session.size(folder, name))
session.end()
"""


@pytest.fixture
def compact(usb: Rig) -> RecordedCamera:
    """A compact camera of 2009."""
    assert COMPACT.exists(), f"{COMPACT} is not there: make prove fetches it"
    camera = RecordedCamera(answers(transfers_of_umockdev(COMPACT.read_text())))
    camera.plug(usb.bus, COMPACT_NAMED)
    return camera


def test_a_real_bodys_card_is_listed_and_its_files_come_home_whole(usb: Rig, compact: RecordedCamera) -> None:
    said = usb.python(_READ)
    assert said.code == 0, said
    head, *files = said.out.splitlines()
    assert head == "Canon PowerShot SX200 IS; Canon PowerShot SX200 IS"
    assert len(files) >= 2
    for line in files:
        _, name, fetched, size = line.split()
        assert fetched == size
        picture = (usb.folder / name).read_bytes()
        assert (picture[:2], picture[-2:]) == (b"\xff\xd8", b"\xff\xd9")


def test_a_real_body_without_settings_is_listed_and_can_not_be_drafted_in_silence(
    usb: Rig, compact: RecordedCamera
) -> None:
    assert "Canon PowerShot SX200 IS" in usb.tether("body", "list").out
    said = usb.tether("body", "draft", "new.toml", "--family", "canon-eos")
    assert said.code == 3, said
    assert "offers no times" in said.words


#: Debug logs that were put there by hand; without one there is nothing to be tried.
LOGS = sorted(FOLDER.glob("*60d*.log"))
if LOGS:

    @pytest.mark.parametrize("log", LOGS, ids=lambda log: log.name)
    def test_a_real_eos_is_read_from_a_debug_log(usb: Rig, log: Path) -> None:
        table = answers(transfers_of_log(log.read_text(encoding="utf-8", errors="replace")))
        RecordedCamera(table).plug(usb.bus, EOS_60D)
        said = usb.tether("body", "draft", "new.toml")
        assert said.code in (0, 3), said
        assert "Canon EOS 60D" in (said.words if said.code else (usb.folder / "new.toml").read_text())
