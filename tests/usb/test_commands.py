"""The commands on a camera on USB: what is connected, a draft of its body file, a trial, and what is in the way."""

from __future__ import annotations

import pytest

from tests.usb.camera import EOS, NIKON
from tests.usb.rig import Rig, soon
from tether.body.responder.start import WireHow

pytestmark = pytest.mark.prove


def test_every_camera_is_listed_with_its_port(usb: Rig) -> None:
    eos, nikon = usb.camera().plug("1-1"), usb.camera(NIKON).plug("1-2")
    said = usb.tether("body", "list")
    assert said.code == 0
    for camera in (eos, nikon):
        assert camera.kind.model in said.out
        assert camera.port in said.out


def test_a_draft_has_what_the_body_offers(usb: Rig) -> None:
    usb.camera().plug()
    said = usb.tether("body", "draft", "new.toml")
    assert said.code == 0, said
    text = (usb.folder / "new.toml").read_text()
    assert 'like = "canon-eos"' in text
    assert f'models = ["{EOS.model}"]' in text
    assert 'shortest = "1/8000"' in text


def test_a_draft_with_the_dial_off_m_says_so_and_writes_nothing(usb: Rig) -> None:
    usb.camera(how=WireHow(mode="Av")).plug().offer_no_times()
    said = usb.tether("body", "draft", "new.toml")
    assert said.code == 3
    assert "offers no times with its present settings" in said.words
    assert "Turn the mode dial to M." in said.words
    assert not (usb.folder / "new.toml").exists()


def test_a_body_is_tried_in_the_quick_form(usb: Rig) -> None:
    camera = usb.camera().plug()
    said = usb.tether("body", "try", "--quick", "--yes", "--report", "trial.md", within_s=110.0)
    assert said.code == 0, said
    report = (usb.folder / "trial.md").read_text()
    assert EOS.model in report
    assert camera.serial not in report
    assert [one.held for one in camera.seen()].count(True) >= 1


def test_a_camera_that_another_program_holds_is_said_to_be_held(usb: Rig) -> None:
    camera = usb.camera().plug()
    hold = "import gphoto2 as gp, time\nc = gp.Camera()\nc.init()\ntime.sleep(60)\n"
    with usb.begun_python(hold):
        soon(lambda: camera.there and camera.there.node.claimed)
        said = usb.tether("body", "draft", "new.toml")
    assert said.code == 3
    assert "Another program is using the camera" in said.words


def test_an_account_that_may_not_open_it_is_told_what_to_do(usb: Rig) -> None:
    camera = usb.camera().plug(mode=0o600)
    said = usb.unprivileged("body", "draft", "new.toml")
    assert said.code == 3, said
    assert "This account may not open the camera (/dev/bus/usb/001/004)" in said.words
    assert camera.seen() == []
