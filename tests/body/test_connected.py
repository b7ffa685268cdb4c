"""What is connected, and which body file fits it best."""

from __future__ import annotations

from pathlib import Path

import pytest

from tether.body import connected as module
from tether.body.bodyfile import load_body_file
from tether.body.connected import Connected, connected, fitting, is_of_one_body, the_known, the_one
from tether.body.driver import session
from tether.body.driver.known import KnownBody
from tether.body.driver.usb import UsbDevice
from tether.errors import CameraError


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's own folder of body files, with one for an invented model of a family."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    folder = tmp_path / "tether" / "bodies"
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text('like = "canon-eos"\n[driver]\nmodels = ["Canon EOS Q9"]\n')
    (folder / "broken.toml").write_text("name = ")
    return folder


def test_the_file_of_one_body_goes_before_its_familys(own: Path) -> None:
    assert fitting("Canon EOS Q9")[0] == "mine"
    assert "canon-eos" in fitting("Canon EOS Q9")
    assert "mine" not in fitting("Canon EOS Q8")
    assert fitting("Zorki 4") == ()
    assert is_of_one_body(load_body_file("mine"), "Canon EOS Q9")
    assert not is_of_one_body(load_body_file("canon-eos"), "Canon EOS Q9")


def test_no_file_of_a_simulated_camera_fits_a_real_one() -> None:
    assert not [name for name in fitting("Canon EOS (WLAN)") if name.startswith("wire")]


def test_what_the_library_finds_and_what_it_does_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    node = tmp_path / "004"
    node.touch()
    devices = (
        UsbDevice(name="Maker A", node=node, port="usb:001,004"),
        UsbDevice(name="Maker B", node=tmp_path / "gone", port="usb:001,005"),
        UsbDevice(name="Maker C", node=node, port="usb:001,006"),
    )
    monkeypatch.setattr(session, "cameras_found", lambda: [("Canon EOS Q9", "usb:001,004"), ("Other", "disk:/x")])
    monkeypatch.setattr(module, "find_devices", lambda: devices)
    monkeypatch.setattr(module, "holders_of", lambda device: ("monitor (process 7)",) if device.port[-1] == "4" else ())
    found = {one.port: one for one in connected()}
    assert [one.model for one in found.values()] == ["Canon EOS Q9", "Other", "Maker B", "Maker C"]
    assert "monitor (process 7) has it open" in (found["usb:001,004"].hindrance or "")
    assert found["disk:/x"].hindrance is None
    assert "cable" in (found["usb:001,005"].hindrance or "")
    assert "does not know it" in (found["usb:001,006"].hindrance or "")


def test_the_one_that_is_meant_or_a_sentence() -> None:
    first, second = (Connected(model="A", port=f"usb:001,00{number}", hindrance=None) for number in (4, 5))
    held = Connected(model="B", port="usb:001,006", hindrance="held.")
    assert the_one([first]) is first
    assert the_one([first, second], second.port) is second
    for cameras, port, words in (([], "", "No camera"), ([first, second], "", "say which"), ([held], "", "held.")):
        with pytest.raises(CameraError, match=words):
            the_one(cameras, port)


def at(port: str, model: str, product: str, hindrance: str | None = None) -> Connected:
    device = UsbDevice(name=model, node=Path("/dev/null"), port=port, place="1-1", vendor="04a9", product=product)
    return Connected(model=model, port=port, hindrance=hindrance, device=device)


def test_the_body_of_a_ladder_is_found_wherever_it_is_and_no_other_is_taken_for_it() -> None:
    known = KnownBody(model="A", serial="1", vendor="04a9", product="3250", place="1-1")
    own, other = at("usb:001,009", "A", "3250"), at("usb:001,004", "B", "0430")
    assert the_known([other, own], known, "usb:001,004") is own
    with pytest.raises(CameraError, match=r"The A that this ladder was begun on is not found\. B at usb:001,004 is an"):
        the_known([other], known, "usb:001,004")
    with pytest.raises(CameraError, match="A at usb:001,009: held"):
        the_known([at("usb:001,009", "A", "3250", "held.")], known)


def test_a_body_that_was_not_seen_on_usb_is_found_by_its_port() -> None:
    one = Connected(model="A", port="disk:/x", hindrance=None)
    assert the_known([one], KnownBody(model="A"), "disk:/x") is one
