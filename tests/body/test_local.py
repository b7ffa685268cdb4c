"""The handle on a body in this process: exposures happen while the clock steps, with the same events and refusals."""

from __future__ import annotations

import queue
from dataclasses import dataclass, field
from typing import Any

import pytest

from tests.body.fakes import RecordingShutter
from tether.body.hold import CLOSE_TRIES
from tether.body.local import NOT_BEGUN, LocalCamera
from tether.body.protocol import CameraEvent, Changed, Ended, Failed, Opened, Order, SceneChange
from tether.clock import SteppedClock, to_ns
from tether.errors import BusyError, CameraError, LostError

HELD = Order(frame=1, way="held", command_s=10.0)
TIMED = Order(frame=2, way="timed", command_s=0.5)


class Recording(RecordingShutter):
    """A body that also answers one question, is staged and left."""

    def identify(self) -> str:
        self._called("identify", 0.0, None)
        return "a body"

    def stage(self, change: SceneChange) -> None:
        self._called("stage", 0.0, None)

    def leave(self) -> None:
        self._called("leave", 0.0, None)


@dataclass
class Rig:
    """A camera on a clock that is stepped, and what its body was told."""

    clock: SteppedClock = field(default_factory=SteppedClock)
    box: queue.SimpleQueue[CameraEvent] = field(default_factory=queue.SimpleQueue)
    body: Any = None

    def camera(self, **body: Any) -> LocalCamera:
        self.body = Recording(self.clock, **body)
        return LocalCamera(self.body, self.clock, self.box)

    def step(self, by_s: float) -> None:
        self.clock.wait_until(self.clock.now_ns() + to_ns(by_s))

    def told(self) -> list[CameraEvent]:
        return [self.box.get() for _ in range(self.box.qsize())]

    def did(self) -> list[str]:
        return [what for what, _ in self.body.calls]


@pytest.fixture
def rig() -> Rig:
    return Rig()


def test_a_shutter_that_is_found_open_is_closed_first(rig: Rig) -> None:
    rig.camera()
    assert rig.did() == ["close"]


def test_a_hold_is_begun_and_closed_as_the_clock_steps(rig: Rig) -> None:
    camera = rig.camera()
    rig.step(5.0)
    camera.begin(HELD)
    assert rig.told() == []
    rig.step(9.999)
    assert rig.told() == [Opened(frame=1, at_ns=to_ns(5), closes_at_ns=to_ns(15))]
    rig.step(0.001)
    (end,) = rig.told()
    assert isinstance(end, Ended)
    assert (end.opening.held_s, end.opening.closed_by, end.opening.realtime) == (10.0, "planned", None)
    assert rig.body.moments_ns("close") == [0, to_ns(15)]


def test_a_timed_frame_ends_when_the_body_says_so(rig: Rig) -> None:
    camera = rig.camera(take_s=0.7)
    camera.begin(TIMED)
    rig.step(1.0)
    opened, end = rig.told()
    assert opened == Opened(frame=2, at_ns=0, closes_at_ns=to_ns(0.5))
    assert isinstance(end, Ended)
    assert (end.opening.closed_by, end.opening.close_returned_ns) == ("body", to_ns(0.7))
    camera.identify()


def test_while_a_frame_is_in_hand_only_the_world_can_be_changed(rig: Rig) -> None:
    camera = rig.camera()
    camera.begin(HELD)
    rig.step(1.0)
    for busy in (camera.identify, camera.reach_again, lambda: camera.begin(HELD)):
        with pytest.raises(BusyError):
            busy()
    camera.stage(SceneChange(capped=True))
    rig.step(9.0)
    assert camera.identify() == "a body"  # type: ignore[comparison-overlap]
    assert rig.did() == ["close", "open", "stage", "close", "identify"]


def test_a_close_is_moved_and_told_and_the_earlier_plan_does_nothing(rig: Rig) -> None:
    camera = rig.camera()
    camera.begin(HELD)
    rig.step(1.0)
    camera.change(5.0)
    assert rig.told()[1:] == [Changed(frame=1, closes_at_ns=to_ns(15))]
    rig.step(13.0)
    assert rig.told() == []
    rig.step(1.0)
    (end,) = rig.told()
    assert isinstance(end, Ended)
    assert (end.opening.held_s, end.opening.asked_s) == (15.0, 15.0)


def test_a_close_now_ends_it_at_once_and_is_no_change(rig: Rig) -> None:
    camera = rig.camera()
    camera.begin(HELD)
    rig.step(3.0)
    rig.told()
    camera.close_now()
    rig.step(0.0)
    (end,) = rig.told()
    assert isinstance(end, Ended)
    assert (end.opening.held_s, end.opening.closed_by) == (3.0, "person")
    rig.step(20.0)
    assert rig.told() == []
    assert rig.did() == ["close", "open", "close"]


def test_words_without_a_shutter_that_is_open_do_nothing(rig: Rig) -> None:
    camera = rig.camera()
    camera.change(5.0)
    camera.close_now()
    rig.step(1.0)
    assert rig.told() == []
    assert rig.did() == ["close"]


def test_an_opening_that_is_refused_leaves_the_camera_free(rig: Rig) -> None:
    camera = rig.camera(open_error=CameraError("Turn the dial to M."))
    camera.begin(HELD)
    rig.step(0.0)
    (end,) = rig.told()
    assert isinstance(end, Failed)
    assert end.sentences == ("Turn the dial to M.",)
    camera.identify()


def test_a_shutter_that_may_have_stayed_open_is_closed_before_anything_is_asked(rig: Rig) -> None:
    # The first close is that of the start, and is taken.
    errors = (CameraError("no"),) * CLOSE_TRIES
    camera = rig.camera()
    rig.body._close_errors = list(errors)
    camera.begin(HELD)
    rig.step(60.0)
    opened, failed = rig.told()
    assert isinstance(opened, Opened)
    assert isinstance(failed, Failed)
    assert "THE SHUTTER MAY STILL BE OPEN" in failed.sentences[0]
    before = len(rig.body.calls)
    camera.identify()
    assert rig.did()[before:] == ["close", "identify"]
    (end,) = rig.told()
    assert isinstance(end, Ended)
    assert (end.opening.closed_by, end.opening.close_returned_ns) == ("lost", rig.clock.now_ns())
    camera.identify()
    assert rig.did()[before:] == ["close", "identify", "identify"]


def test_leaving_closes_an_open_shutter_and_says_whose_doing_it_was(rig: Rig) -> None:
    camera = rig.camera()
    camera.begin(HELD)
    rig.step(4.0)
    camera.leave()
    camera.leave()
    _, end = rig.told()
    assert isinstance(end, Ended)
    assert (end.opening.held_s, end.opening.closed_by) == (4.0, "camera process")
    rig.step(60.0)
    assert rig.told() == []
    assert rig.did() == ["close", "open", "close", "leave"]


def test_leaving_before_an_exposure_is_begun_fails_it(rig: Rig) -> None:
    camera = rig.camera()
    camera.begin(HELD)
    camera.leave()
    rig.step(60.0)
    assert rig.told() == [Failed(frame=1, kind="lost", sentences=(NOT_BEGUN,), opening=None)]
    assert rig.did() == ["close", "leave"]


def test_after_leaving_nothing_can_be_asked(rig: Rig) -> None:
    camera = rig.camera()
    camera.leave()
    for asked in (
        camera.identify,
        camera.reach_again,
        camera.close_now,
        lambda: camera.begin(HELD),
        lambda: camera.stage(SceneChange()),
    ):
        with pytest.raises(LostError, match="connect anew"):
            asked()
