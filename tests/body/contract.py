"""What every body, and every handle on one, must do: one suite in parts, whatever stands behind it.

A :class:`Bench` puts a body and a camera behind the same few calls. A body is put through every part that it is able
to pass at all: :class:`Settles` and :class:`Leaves` all of them, :class:`Exposes` what can take frames, :class:`Holds`
what can be held open, :class:`Shows` what has live view, :class:`Focuses` what moves its lens, :class:`IsSteered`
cameras, which expose while they hear.
"""

from __future__ import annotations

import abc
import queue
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tests.body.choices import really
from tether.body.hold import hold, take
from tether.body.protocol import (
    BULB,
    MOST_NUDGES,
    Camera,
    CameraEvent,
    Changed,
    Ended,
    Failed,
    Fitted,
    Held,
    Identifies,
    Opened,
    Order,
    Rehearsable,
    Remark,
    SceneChange,
    Settable,
    Settings,
    ShowsLive,
    ShutterRecord,
    Stores,
    Tells,
    Timed,
)
from tether.body.simulated.live import TIMES
from tether.body.simulated.world import SceneTruth
from tether.clock import Clock, to_ns
from tether.errors import BusyError, CameraError, LostError, TetherError

TIMED = Settings(time="1/8", aperture="f/8", iso="200")
LONG = Settings(time="4", aperture="f/8", iso="200")
HELD = Settings(time=BULB, aperture="f/11", iso="100")
#: A scene in which nothing moves, so that live pictures can be compared however far apart they are.
STILL = SceneTruth(fall_m_s=0, run_m_s=0, pool_m_s=0, leaves_m=0)


@dataclass(frozen=True, kw_only=True)
class Times:
    """What is exposed, and for how long, so that no body's suite takes long.

    `late_s` is how late the machine may be with an event, in the seconds of its clock; `unit_s` is a quarter of a hold
    that is steered while it is open.
    """

    timed: Settings = LONG
    timed_s: float = 4.0
    held_s: float = 30.0
    unit_s: float = 100.0
    late_s: float = 40.0


class Asked(Identifies, Settable, Stores, Tells, ShowsLive, Rehearsable, Protocol):
    """What a body and a camera have in common."""

    def leave(self) -> None: ...


class AskedBody(Asked, Timed, Held, Protocol):
    """A body alone."""


@dataclass(frozen=True, kw_only=True)
class Bench(abc.ABC):
    """The thing under test: `asked` with its `clock`, a `folder` for fetched files, and how long to expose.

    `truth` is the folder of the simulated body that is behind it.
    """

    asked: Asked
    clock: Clock
    folder: Path
    truth: Path
    times: Times = Times()

    @abc.abstractmethod
    def exposed(self, order: Order) -> list[CameraEvent]:
        """Make one exposure and return all that was told of it."""

    def opening(self, order: Order) -> ShutterRecord:
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
        """Return the next event of an exposure; it must come."""
        event = self.clock.take(self.box, self.clock.now_ns() + to_ns(2000))
        assert event is not None, "no event came"
        return self.event() if isinstance(event, Remark) else event

    def nothing_happened(self) -> bool:
        """Say whether no exposure has been told of; a camera may have remarked that its session was begun."""
        while not self.box.empty():
            if not isinstance(self.box.get(), Remark):
                return False
        return True

    def opened(self, order: Order) -> Opened:
        """Begin an exposure and return the event of its opening."""
        self.asked.begin(order)
        opened = self.event()
        assert isinstance(opened, Opened)
        return opened

    def ended(self) -> ShutterRecord:
        """Return what is known of the exposure that ends next, which must go well."""
        ended = self.event()
        assert isinstance(ended, Ended), ended
        return ended.opening


class Settles:
    """Who it is, what it is set to, how it is."""

    def test_it_says_who_it_is(self, bench: Bench) -> None:
        identity = bench.asked.identify()
        assert identity.model
        assert identity.simulated

    def test_it_reads_back_what_it_was_set_to(self, bench: Bench) -> None:
        answered = bench.asked.apply(TIMED)
        assert answered.settings == TIMED
        assert (answered.time_s, answered.aperture, answered.iso) == (2**-3, 2**3, 200)
        assert bench.asked.read_back() == answered

    def test_it_refuses_what_it_does_not_offer_and_keeps_what_it_had(self, bench: Bench) -> None:
        bench.asked.apply(TIMED)
        with pytest.raises(CameraError, match="f/12"):
            bench.asked.apply(Settings(time="1/8", aperture="f/12", iso="200"))
        assert bench.asked.read_back().settings == TIMED

    def test_it_is_put_back_as_it_was_found(self, bench: Bench) -> None:
        as_found = bench.asked.read_back()
        bench.asked.apply(TIMED)
        assert bench.asked.put_back() == ()
        assert bench.asked.read_back() == as_found

    def test_what_it_offers_can_be_set(self, bench: Bench) -> None:
        offers = bench.asked.offers()
        assert TIMED.time in offers.times
        wanted = Settings(time=offers.times[0], aperture=offers.apertures[-1], iso=offers.isos[-1])
        assert bench.asked.apply(wanted).settings == wanted

    def test_it_is_looked_at_without_a_stop(self, bench: Bench) -> None:
        assert [found for found in bench.asked.look() if found.verdict == "stop"] == []

    def test_it_tells_how_it_is(self, bench: Bench) -> None:
        status = bench.asked.status()
        assert status.battery is None or 0 < status.battery <= 1
        assert status.card_frames_left is None or status.card_frames_left > 0
        assert not status.busy

    def test_a_new_card_is_empty_and_brings_nothing(self, bench: Bench) -> None:
        assert bench.asked.card_files() == ()
        assert bench.asked.new_files(0, 0.1) == ()

    def test_it_hears_what_a_person_did_at_the_tripod(self, bench: Bench) -> None:
        bench.asked.stage(SceneChange(fitted=(Fitted(name="Calder 10", stops=10.0),), knock_px=(1.5, -2.0)))
        assert bench.asked.identify().simulated


class Exposes:
    """Timed frames, and files."""

    def test_a_timed_frame_is_ended_by_the_body(self, bench: Bench) -> None:
        times = bench.times
        bench.asked.apply(times.timed)
        opening = bench.opening(Order(frame=1, way="timed", command_s=times.timed_s))
        assert (opening.way, opening.closed_by, opening.realtime) == ("timed", "body", None)
        assert times.timed_s <= opening.held_s <= times.timed_s + times.late_s

    def test_every_frame_comes_home_whole_and_once(self, bench: Bench) -> None:
        bench.asked.apply(bench.times.timed)
        for frame in (1, 2):
            bench.opening(Order(frame=frame, way="timed", command_s=bench.times.timed_s))
        files = bench.asked.new_files(2, 60.0)
        assert len(files) == 2
        assert bench.asked.new_files(0, 0.1) == ()
        assert [file.places for file in bench.asked.card_files()] == [file.places for file in files]
        into = bench.folder / files[0].name
        size = bench.asked.fetch(files[0], into)
        assert into.stat().st_size == size > 0
        with pytest.raises(TetherError):
            bench.asked.fetch(files[0], bench.folder / "no folder" / "frame")


class Holds:
    """Frames that we hold open."""

    def test_it_says_that_it_can(self, bench: Bench) -> None:
        offers = bench.asked.offers()
        assert offers.held_by
        assert offers.why_not_held is None

    def test_on_bulb_it_has_no_time_of_its_own(self, bench: Bench) -> None:
        assert bench.asked.apply(HELD).time_s is None

    def test_a_held_frame_is_closed_when_it_was_asked(self, bench: Bench) -> None:
        bench.asked.apply(HELD)
        held_s = bench.times.held_s
        opening = bench.opening(Order(frame=2, way="held", command_s=held_s))
        assert (opening.way, opening.closed_by, opening.asked_s) == ("held", "planned", held_s)
        assert held_s <= opening.held_s <= held_s + bench.times.late_s
        assert len(bench.asked.new_files(1, 60.0)) == 1

    def test_a_held_frame_needs_bulb(self, bench: Bench) -> None:
        bench.asked.apply(TIMED)
        (failed,) = bench.exposed(Order(frame=3, way="held", command_s=5.0))
        assert isinstance(failed, Failed)
        assert (failed.frame, failed.kind, failed.opening) == (3, "camera", None)
        assert bench.asked.read_back().settings == TIMED


class CannotHold:
    """Bodies that can't be held open say so."""

    def test_it_says_why_and_makes_no_frame(self, bench: Bench) -> None:
        offers = bench.asked.offers()
        assert offers.held_by is None
        assert offers.why_not_held
        (failed,) = bench.exposed(Order(frame=3, way="held", command_s=5.0))
        assert isinstance(failed, Failed)
        assert (failed.kind, failed.opening) == ("camera", None)
        assert bench.asked.card_files() == ()


def pixels(path: Path) -> NDArray[np.float64]:
    """Return a JPEG's grey levels, shape (height, width)."""
    with Image.open(path) as image:
        assert image.format == "JPEG"
        return np.asarray(image.convert("L"), dtype=np.float64)


def sharpness(path: Path) -> float:
    """Return how much neighbouring pixels of a JPEG differ, mean square."""
    across = np.diff(pixels(path), axis=1)
    return float((across**2).mean())


def likeness(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Return the correlation of two pictures of the same shape."""
    return float(np.corrcoef(one.ravel(), other.ravel())[0, 1])


def magnified(path: Path, left: float, upper: float) -> NDArray[np.float64]:
    """Return the part of a JPEG that begins at these shares of it, as large as the whole."""
    with Image.open(path) as image:
        width, height = image.size
        box = (left * width, upper * height, (left + 1 / TIMES) * width, (upper + 1 / TIMES) * height)
        return np.asarray(image.convert("L").resize(image.size, Image.Resampling.BICUBIC, box=box), dtype=np.float64)


class Shows:
    """Live view."""

    def test_it_shows_the_whole_or_a_magnified_part(self, bench: Bench) -> None:
        offers = bench.asked.offers().live
        assert (offers.why_no_picture, offers.why_not_magnified) == (None, None)
        whole, part = bench.folder / "whole.jpg", bench.folder / "part.jpg"
        assert bench.asked.live(whole, None).times == 1
        for at, left, upper in (((0.25, 0.75), 0.15, 0.65), ((1.0, 0.0), 0.8, 0.0)):  # the second is in a corner
            assert bench.asked.live(part, at).times in (TIMES, None)
            assert likeness(pixels(part), magnified(whole, left, upper)) > 0.85
        assert bench.asked.live(part, None).times == 1
        assert likeness(pixels(part), pixels(whole)) > 0.85
        with pytest.raises(TetherError):
            bench.asked.live(bench.folder / "no folder" / "live.jpg", None)

    def test_it_is_off_when_it_is_switched_off_or_the_body_needs_its_shutter(self, bench: Bench) -> None:
        timed = bench.times.timed
        order = Order(frame=1, way="timed", command_s=bench.times.timed_s)
        bench.asked.live_off()
        bench.asked.apply(timed)
        for times, ends in enumerate(
            (
                bench.asked.live_off,
                lambda: bench.opening(order),
                lambda: bench.asked.apply(timed),
                bench.asked.put_back,
                bench.asked.leave,
            )
        ):
            bench.asked.live(bench.folder / "live.jpg", None)
            bench.asked.live(bench.folder / "live.jpg", (0.5, 0.5))
            assert [line["on"] for line in really(bench.truth, "live")] == [True, False] * times + [True]
            ends()
            assert [line["on"] for line in really(bench.truth, "live")] == [True, False] * (times + 1)
            if times == 1:
                assert len(bench.asked.new_files(1, 60.0)) == 1
        (opened,) = really(bench.truth, "opened")
        assert (opened["time"], opened["aperture"]) == (timed.time, timed.aperture)


class Focuses:
    """Focus that is nudged."""

    def test_nudges_there_and_back_soften_and_sharpen(self, bench: Bench) -> None:
        assert bench.asked.offers().live.why_not_nudged is None
        path, seen = bench.folder / "live.jpg", []
        for steps in (0, -8, 8):
            bench.asked.nudge_focus(steps)
            bench.asked.live(path, None)
            seen.append(sharpness(path))
        assert seen[1] < 0.7 * seen[0]
        assert seen[2] == pytest.approx(seen[0], rel=0.15)
        with pytest.raises(CameraError, match=str(MOST_NUDGES)):
            bench.asked.nudge_focus(-MOST_NUDGES - 1)


class ShowsNothing:
    """Bodies without live view say so."""

    def test_it_says_why_not(self, bench: Bench) -> None:
        offers = bench.asked.offers().live
        assert offers.why_no_picture
        assert offers.why_not_magnified
        assert offers.why_not_nudged
        with pytest.raises(CameraError):
            bench.asked.live(bench.folder / "live.jpg", None)
        with pytest.raises(CameraError):
            bench.asked.nudge_focus(1)
        bench.asked.live_off()


class Leaves:
    """The end of a session."""

    def test_leaving_ends_the_session_and_twice_is_harmless(self, bench: Bench) -> None:
        bench.asked.leave()
        bench.asked.leave()
        with pytest.raises(LostError):
            bench.asked.status()


class IsSteered:
    """What cameras must do besides; collected through a class that has the fixture `camera`."""

    def test_while_open_it_can_be_moved_and_asked_for_nothing(self, camera: CameraBench) -> None:
        asked, unit_s = camera.asked, camera.times.unit_s
        asked.apply(HELD)
        opened = camera.opened(Order(frame=4, way="held", command_s=4 * unit_s))
        live = camera.folder / "live.jpg"
        for ask in (
            asked.status,
            asked.card_files,
            lambda: asked.apply(TIMED),
            lambda: asked.live(live, None),
            asked.live_off,
            lambda: asked.nudge_focus(1),
        ):
            with pytest.raises(BusyError):
                ask()
        with pytest.raises(BusyError):
            asked.begin(Order(frame=5, way="held", command_s=1.0))
        asked.stage(SceneChange(knock_px=(3.0, 0.0)))
        asked.change(unit_s)
        assert camera.event() == Changed(frame=4, closes_at_ns=opened.closes_at_ns + to_ns(unit_s))
        asked.change(-3 * unit_s)
        assert camera.event() == Changed(frame=4, closes_at_ns=opened.closes_at_ns - to_ns(2 * unit_s))
        opening = camera.ended()
        assert (opening.asked_s, opening.closed_by) == (2 * unit_s, "planned")
        assert opening.close_called_ns >= opened.closes_at_ns - to_ns(2 * unit_s)
        camera.asked.new_files(1, 60.0)
        assert not asked.status().busy

    def test_close_now_keeps_the_frame(self, camera: CameraBench) -> None:
        camera.asked.apply(HELD)
        camera.opened(Order(frame=6, way="held", command_s=3600.0))
        camera.clock.wait_until(camera.clock.now_ns() + to_ns(camera.times.unit_s / 20))
        camera.asked.close_now()
        opening = camera.ended()
        assert opening.closed_by == "person"
        assert camera.times.unit_s / 20 <= opening.held_s < 3600.0
        assert len(camera.asked.new_files(1, 60.0)) == 1

    def test_words_without_an_open_shutter_change_nothing(self, camera: CameraBench) -> None:
        camera.asked.change(10.0)
        camera.asked.close_now()
        assert not camera.asked.status().busy
        assert camera.nothing_happened()

    def test_reaching_again_is_harmless_when_all_is_well(self, camera: CameraBench) -> None:
        camera.asked.apply(TIMED)
        camera.asked.reach_again()
        assert camera.asked.read_back().settings == TIMED
        assert camera.nothing_happened()

    def test_leaving_closes_an_open_shutter(self, camera: CameraBench) -> None:
        camera.asked.apply(HELD)
        camera.opened(Order(frame=8, way="held", command_s=3600.0))
        camera.asked.leave()
        opening = camera.ended()
        assert opening.closed_by == "camera process"
        assert opening.held_s < 3600.0
