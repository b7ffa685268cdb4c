"""What every body, and every handle on one, must do: one suite, whatever stands behind it.

A :class:`Bench` puts a body and a camera behind the same few calls: :class:`Contract` is for both,
:class:`SteeredContract` for cameras, which expose while they hear.
"""

from __future__ import annotations

import abc
import queue
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import pytest

from tether.body.hold import hold, take
from tether.body.protocol import (
    BULB,
    Camera,
    CameraEvent,
    Changed,
    Ended,
    Failed,
    Fitted,
    Held,
    Identifies,
    Opened,
    Opening,
    Order,
    Rehearsable,
    Settable,
    Settings,
    Stage,
    Stores,
    Tells,
    Timed,
)
from tether.clock import Clock, to_ns
from tether.errors import BusyError, CameraError, LostError, TetherError

TIMED = Settings(time="1/8", aperture="f/8", iso="200")
HELD = Settings(time=BULB, aperture="f/11", iso="100")
#: How long a paced machine may be late with an event, in the seconds of its clock [s].
LATE_S = 40.0


class Asked(Identifies, Settable, Stores, Tells, Rehearsable, Protocol):
    """What a body and a camera have in common."""

    def leave(self) -> None: ...


class AskedBody(Asked, Timed, Held, Protocol):
    """A body alone."""


@dataclass(frozen=True, kw_only=True)
class Bench(abc.ABC):
    """The thing under test: `asked` with its `clock`, and a `folder` for fetched files."""

    asked: Asked
    clock: Clock
    folder: Path

    @abc.abstractmethod
    def exposed(self, order: Order) -> list[CameraEvent]:
        """Make one exposure and return all that was told of it."""

    def opening(self, order: Order) -> Opening:
        """Make one exposure, which must go well, and return what is known of it."""
        opened, ended = self.exposed(order)
        assert isinstance(opened, Opened)
        assert isinstance(ended, Ended), ended
        assert opened.frame == ended.frame == ended.opening.frame == order.frame
        assert opened.at_ns == ended.opening.open_called_ns
        return ended.opening


@dataclass(frozen=True, kw_only=True)
class BodyBench(Bench):
    """A body alone, exposed by the hold itself."""

    asked: AskedBody

    def exposed(self, order: Order) -> list[CameraEvent]:
        events: list[CameraEvent] = []
        if order.way == "timed":
            take(self.asked, self.clock, order, events.append)
        else:
            hold(self.asked, self.clock, order, self._hear_nothing, events.append, realtime=False)
        return events

    def _hear_nothing(self, until_ns: int) -> None:
        self.clock.wait_until(until_ns)


@dataclass(frozen=True, kw_only=True)
class CameraBench(Bench):
    """A camera, with the box where its events come."""

    asked: Camera
    box: queue.SimpleQueue[CameraEvent]

    def exposed(self, order: Order) -> list[CameraEvent]:
        self.asked.begin(order)
        events = [self.event()]
        while not isinstance(events[-1], (Ended, Failed)):
            events.append(self.event())
        return events

    def event(self) -> CameraEvent:
        """Return the next event; it must come."""
        event = self.clock.take(self.box, self.clock.now_ns() + to_ns(2000))
        assert event is not None, "no event came"
        return event

    def opened(self, order: Order) -> Opened:
        """Begin an exposure and return the event of its opening."""
        self.asked.begin(order)
        opened = self.event()
        assert isinstance(opened, Opened)
        return opened

    def ended(self) -> Opening:
        """Return what is known of the exposure that ends next, which must go well."""
        ended = self.event()
        assert isinstance(ended, Ended), ended
        return ended.opening


class Contract:
    """The suite; collected through a class that has the fixture `bench`."""

    def test_it_says_who_it_is(self, bench: Bench) -> None:
        identity = bench.asked.identify()
        assert identity.model
        assert identity.simulated

    def test_it_reads_back_what_it_was_set_to(self, bench: Bench) -> None:
        answered = bench.asked.apply(TIMED)
        assert answered.settings == TIMED
        assert (answered.time_s, answered.aperture, answered.iso) == (2**-3, 2**3, 200)
        assert bench.asked.read_back() == answered

    def test_on_bulb_it_has_no_time_of_its_own(self, bench: Bench) -> None:
        assert bench.asked.apply(HELD).time_s is None

    def test_it_refuses_what_it_does_not_offer_and_keeps_what_it_had(self, bench: Bench) -> None:
        bench.asked.apply(TIMED)
        with pytest.raises(CameraError, match="f/12"):
            bench.asked.apply(Settings(time="1/8", aperture="f/12", iso="200"))
        assert bench.asked.read_back().settings == TIMED

    def test_it_tells_how_it_is(self, bench: Bench) -> None:
        status = bench.asked.status()
        assert status.battery is None or 0 < status.battery <= 1
        assert status.card_frames_left is None or status.card_frames_left > 0
        assert not status.busy

    def test_a_new_card_is_empty_and_brings_nothing(self, bench: Bench) -> None:
        assert bench.asked.card_files() == ()
        assert bench.asked.new_files(0, 0.1) == ()

    def test_it_hears_what_a_person_did_at_the_tripod(self, bench: Bench) -> None:
        bench.asked.stage(Stage(fitted=(Fitted(name="Calder 10", stops=10.0),), knock_px=(1.5, -2.0)))
        assert bench.asked.identify().simulated

    def test_a_timed_frame_is_ended_by_the_body(self, bench: Bench) -> None:
        bench.asked.apply(Settings(time="4", aperture="f/8", iso="200"))
        opening = bench.opening(Order(frame=1, way="timed", open_s=4.0))
        assert (opening.way, opening.closed_by, opening.realtime) == ("timed", "body", None)
        assert 4.0 <= opening.held_s <= 4.0 + LATE_S

    def test_a_held_frame_is_closed_when_it_was_asked(self, bench: Bench) -> None:
        bench.asked.apply(HELD)
        opening = bench.opening(Order(frame=2, way="held", open_s=30.0))
        assert (opening.way, opening.closed_by, opening.asked_s) == ("held", "planned", 30.0)
        assert 30.0 <= opening.held_s <= 30.0 + LATE_S

    def test_a_held_frame_needs_bulb(self, bench: Bench) -> None:
        bench.asked.apply(TIMED)
        (failed,) = bench.exposed(Order(frame=3, way="held", open_s=5.0))
        assert isinstance(failed, Failed)
        assert (failed.frame, failed.kind, failed.opening) == (3, "camera", None)
        assert bench.asked.read_back().settings == TIMED

    def test_every_frame_comes_home_whole_and_once(self, bench: Bench) -> None:
        bench.asked.apply(HELD)
        for frame in (1, 2):
            bench.opening(Order(frame=frame, way="held", open_s=2.0))
        files = bench.asked.new_files(2, 60.0)
        assert len(files) == 2
        assert bench.asked.new_files(0, 0.1) == ()
        assert bench.asked.card_files() == files
        into = bench.folder / files[0].name
        size = bench.asked.fetch(files[0], into)
        assert into.stat().st_size == size > 0
        with pytest.raises(TetherError):
            bench.asked.fetch(files[0], bench.folder / "no folder" / "frame")

    def test_leaving_ends_the_session_and_twice_is_harmless(self, bench: Bench) -> None:
        bench.asked.leave()
        bench.asked.leave()
        with pytest.raises(LostError):
            bench.asked.status()


class SteeredContract:
    """What cameras must do besides; collected through a class that has the fixture `camera`."""

    def test_while_open_it_can_be_moved_and_asked_for_nothing(self, camera: CameraBench) -> None:
        asked = camera.asked
        asked.apply(HELD)
        opened = camera.opened(Order(frame=4, way="held", open_s=400.0))
        for ask in (asked.status, asked.card_files, lambda: asked.apply(TIMED)):
            with pytest.raises(BusyError):
                ask()
        with pytest.raises(BusyError):
            asked.begin(Order(frame=5, way="held", open_s=1.0))
        asked.stage(Stage(knock_px=(3.0, 0.0)))
        asked.change(100.0)
        assert camera.event() == Changed(frame=4, closes_at_ns=opened.closes_at_ns + to_ns(100))
        asked.change(-300.0)
        assert camera.event() == Changed(frame=4, closes_at_ns=opened.closes_at_ns - to_ns(200))
        opening = camera.ended()
        assert (opening.asked_s, opening.closed_by) == (200.0, "planned")
        assert opening.close_called_ns >= opened.closes_at_ns - to_ns(200)
        assert not asked.status().busy

    def test_close_now_keeps_the_frame(self, camera: CameraBench) -> None:
        camera.asked.apply(HELD)
        camera.opened(Order(frame=6, way="held", open_s=3600.0))
        camera.clock.wait_until(camera.clock.now_ns() + to_ns(5))
        camera.asked.close_now()
        opening = camera.ended()
        assert opening.closed_by == "person"
        assert 5.0 <= opening.held_s < 3600.0
        assert len(camera.asked.new_files(1, 60.0)) == 1

    def test_words_without_an_open_shutter_change_nothing(self, camera: CameraBench) -> None:
        camera.asked.change(10.0)
        camera.asked.close_now()
        assert not camera.asked.status().busy
        assert camera.box.empty()

    def test_reaching_again_is_harmless_when_all_is_well(self, camera: CameraBench) -> None:
        camera.asked.apply(TIMED)
        camera.asked.reach_again()
        assert camera.asked.read_back().settings == TIMED
        assert camera.box.empty()

    def test_leaving_closes_an_open_shutter(self, camera: CameraBench) -> None:
        camera.asked.apply(HELD)
        camera.opened(Order(frame=8, way="held", open_s=3600.0))
        camera.asked.leave()
        opening = camera.ended()
        assert opening.closed_by == "person"
        assert opening.held_s < 3600.0
