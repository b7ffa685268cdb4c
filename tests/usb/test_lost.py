"""A cable that is pulled out on USB: the same camera is taken again wherever it is, and never another one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from subprocess import Popen

import pytest

from tests.usb.camera import EOS, NIKON, UsbCamera
from tests.usb.rig import Rig, soon

pytestmark = [pytest.mark.prove, pytest.mark.timeout(300)]

#: Two short ones, and one that is held long enough for a cable to be pulled out meanwhile and put in again.
HELD = ("1/60", "1/8", "8")
TIMED = ("1/60", "1/8", "4")
BASE = "1/4"


@contextmanager
def running(usb: Rig, camera: UsbCamera, times: tuple[str, ...], longest: str = "1/4") -> Iterator[Popen[str]]:
    """Have a ladder run for the block."""
    plan = usb.plan(camera.kind, times, longest=longest, base=BASE)
    with usb.begun("run", plan, "--outing", usb.outing) as process:
        yield process


def until_open(camera: UsbCamera, frame: int) -> None:
    """Wait until a frame's shutter has been opened."""
    soon(lambda: any(one.frame == frame for one in camera.seen()))


def test_unplugged_in_a_hold_and_plugged_in_elsewhere_it_is_closed_and_goes_on(usb: Rig) -> None:
    camera = usb.camera().plug("1-1")
    with running(usb, camera, HELD) as process:
        until_open(camera, 3)
        camera.unplug()
        soon(lambda: usb.noted("Trying to reach it again"))
        camera.plug("1-3")
        soon(usb.over, within_s=150.0)
        faces, _ = process.communicate(timeout=30)
    assert usb.ladder().outcome == "done"
    seen = camera.seen()
    assert all(one.shutter_closed_ns for one in seen)
    assert seen[-1].held
    again = f"Session with {EOS.model}, serial {camera.serial}, firmware 1.0 at {camera.port}."
    assert again in usb.notes()
    assert f"Again with {EOS.model} at {camera.port}." in " ".join(faces.split())
    assert camera.serial not in faces.partition("\nNotes\n")[0]  # what follows is the log, from the journal


def test_unplugged_in_a_timed_frame_it_goes_on(usb: Rig) -> None:
    camera = usb.camera(longest_s=4.0).plug("1-1")
    with running(usb, camera, TIMED, longest="4"):
        until_open(camera, 3)
        camera.unplug()
        soon(lambda: usb.noted("Trying to reach it again"))
        camera.plug("1-1")
        soon(usb.over, within_s=150.0)
    assert usb.ladder().outcome == "done"
    assert not any(one.held for one in camera.seen())


def test_another_camera_is_never_taken_for_the_one_that_was_unplugged(usb: Rig) -> None:
    camera, other = usb.camera().plug("1-1"), usb.camera(NIKON)
    with running(usb, camera, HELD):
        until_open(camera, 3)
        camera.unplug()
        other.plug("1-2")
        soon(lambda: usb.noted(f"The {NIKON.model} at {other.port} is not the camera of this ladder"))
        assert not other.opened
        assert other.seen() == []
        camera.plug("1-1")
        soon(usb.over, within_s=150.0)
    assert usb.ladder().outcome == "done"
    assert other.seen() == []


def test_another_one_of_the_same_model_is_refused_by_its_serial_number(usb: Rig) -> None:
    camera, other = usb.camera().plug("1-1"), usb.camera()
    with running(usb, camera, HELD):
        until_open(camera, 3)
        camera.unplug()
        other.plug("1-1")
        soon(lambda: usb.noted("is not the camera of this ladder"))
        camera.plug("1-2")
        soon(usb.over, within_s=150.0)
    assert usb.ladder().outcome == "done"
    assert other.seen() == []
    assert other.settings_written() == 0


@pytest.mark.parametrize("leaves", [False, True], ids=["address kept", "leaves and comes back"])
def test_a_body_out_of_step_is_reset_at_its_own_port_and_no_other(usb: Rig, leaves: bool) -> None:
    other, camera = usb.camera(NIKON).plug("1-2"), usb.camera(leaves_at_reset=leaves).plug("1-1")
    plan = usb.plan(EOS, HELD, base=BASE)
    with usb.begun("run", plan, "--outing", usb.outing, "--port", camera.port):
        until_open(camera, 3)
        camera.deaf = True
        soon(usb.over, within_s=200.0)
    assert usb.ladder().outcome == "done"
    assert camera.resets >= 1
    assert other.resets == 0
    assert not other.opened
