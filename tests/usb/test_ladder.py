"""A ladder of ten rungs, three held, on a camera on USB, worked by the run as it is: guard, run, camera process.

What the camera itself saw is what the journal is held against.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.faults.ladder import TEN
from tests.usb.camera import EOS, NIKON, Kind, UsbCamera
from tests.usb.rig import Rig

pytestmark = [pytest.mark.prove, pytest.mark.timeout(300)]


def opened(camera: UsbCamera, held: bool) -> Callable[[], bool]:
    """Say whether its shutter has opened, for a held or a timed frame of a second or more."""
    return lambda: any(one.held == held for one in camera.seen())


def run_through(usb: Rig, camera: UsbCamera, *, times: tuple[str, ...] = TEN) -> None:
    said = usb.tether("run", usb.plan(camera.kind, times), "--outing", usb.outing, within_s=200.0)
    assert said.code == 0, said


@pytest.mark.parametrize("kind", [EOS, NIKON], ids=lambda kind: kind.dialect)
def test_ten_rungs_with_three_held_are_exposed_as_asked(usb: Rig, kind: Kind) -> None:
    camera = usb.camera(kind).plug()
    run_through(usb, camera)
    ladder = usb.ladder()
    assert ladder.outcome == "done"
    seen = camera.seen()
    assert [one.held for one in seen] == [False] * 7 + [True] * 3
    assert [frame.outcome for frame in ladder.frames] == ["made"] * 10
    assert all(len(frame.files) == 1 for frame in ladder.frames)
    asked = [frame.asked for frame in ladder.frames]
    assert [one.aperture for one in seen] == [one.aperture_label for one in asked]
    assert [one.iso for one in seen] == [one.iso_label for one in asked]
    assert [one.held_s for one in seen[7:]] == pytest.approx(
        [frame.open_s.asked for frame in ladder.frames[7:]], abs=0.1
    )


def test_each_opening_stands_in_the_journal_with_model_serial_and_firmware(usb: Rig) -> None:
    camera = usb.camera().plug()
    run_through(usb, camera, times=("1/500", "1/30"))
    notes = usb.notes()
    assert f"Session with {EOS.model}, serial {camera.serial}, firmware 1.0 at {camera.port}." in notes
