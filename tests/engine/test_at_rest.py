"""Before any all-clear the camera is at rest: what it may still expose, make or write is waited for, and no longer."""

from __future__ import annotations

import queue
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any, cast

import pytest

from tether.body.protocol import CardFile, Status
from tether.body.stamps import Stamps
from tether.clock import SteppedClock, to_ns, to_s
from tether.engine.at_rest import BUSY_FOR_S, Owed, card_at_rest, owed
from tether.engine.frame_files import FrameFiles
from tether.engine.run_state import Run
from tether.errors import BusyError
from tether.journal.codec import Entry
from tether.journal.records import Applied, ExposeIntent, ExposeOutcome, FetchOutcome, FrameOutcome, Record

NOW = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
#: As decided: a body that makes its own dark frame takes as long again, and a minute to write.
WRITING_S = 60.0


@dataclass
class Camera:
    """A camera whose frame comes onto the card, and which is busy, until given moments [s]."""

    clock: SteppedClock
    comes_s: float | None = None
    busy_s: float = 0.0
    refuses_s: float = 0.0
    looks: list[float] = field(default_factory=list)

    def _now_s(self) -> float:
        return to_s(self.clock.now_ns())

    def card_files(self) -> tuple[CardFile, ...]:
        self.looks.append(self._now_s())
        if self._now_s() < self.refuses_s:
            raise BusyError("busy")
        here = self.comes_s is not None and self._now_s() >= self.comes_s
        return (CardFile(folder="/card", name="A_0001.CR3", number=1, size=None),) if here else ()

    def status(self) -> Status:
        return Status(battery=None, card_frames_left=None, temperature_c=None, busy=self._now_s() < self.busy_s)

    def new_files(self, expected: int, allow_s: float) -> tuple[CardFile, ...]:
        return ()


def a_run(camera: Camera, *, dark: bool | None = False, left: Stamps | None = None) -> tuple[Run, list[str]]:
    """Return what of a run is needed here, and what is told."""
    told: list[str] = []

    def tell(record: Any) -> None:
        told.append(record.text)

    run = SimpleNamespace(
        camera=camera,
        clock=camera.clock,
        abilities=SimpleNamespace(dark_frame_by_body=dark),
        left=left,
        files=FrameFiles(),
        tell=tell,
        box=queue.SimpleQueue(),
    )
    return cast("Run", run), told


def waited_s(clock: SteppedClock) -> float:
    return to_s(clock.now_ns())


@pytest.fixture
def clock() -> SteppedClock:
    return SteppedClock(start_utc=NOW)


def test_a_frame_still_to_come_is_waited_for_until_it_is_there(clock: SteppedClock) -> None:
    run, told = a_run(Camera(clock, comes_s=31.0))
    rested = card_at_rest(run, Owed(frames=1, until_ns=to_ns(120.0)))
    assert (len(rested.files), rested.at_rest) == (1, True)
    assert 31.0 <= waited_s(clock) <= 33.0
    assert told == ["Waiting, 120 s at most, for what the camera may still be making or writing to its card."]


def test_a_frame_that_never_comes_is_waited_for_no_longer_than_it_could_take(clock: SteppedClock) -> None:
    run, _ = a_run(Camera(clock))
    assert card_at_rest(run, Owed(frames=1, until_ns=to_ns(120.0))).at_rest
    assert 120.0 <= waited_s(clock) <= 122.0


def test_where_nothing_is_owed_nothing_is_waited_for(clock: SteppedClock) -> None:
    run, told = a_run(Camera(clock))
    assert card_at_rest(run, Owed(frames=0, until_ns=0)).at_rest
    assert (waited_s(clock), told) == (0.0, [])


@pytest.mark.parametrize("how", ["busy_s", "refuses_s"])
def test_a_camera_that_is_busy_is_waited_for_and_then_listed(clock: SteppedClock, how: str) -> None:
    camera = Camera(clock, comes_s=20.0)
    setattr(camera, how, 20.0)
    run, told = a_run(camera)
    rested = card_at_rest(run, Owed(frames=0, until_ns=0))
    assert (len(rested.files), rested.at_rest) == (1, True)
    assert 20.0 <= waited_s(clock) <= 22.0
    assert told == ["Waiting for the camera, which is busy."]


def test_a_camera_that_stays_busy_is_not_at_rest(clock: SteppedClock) -> None:
    run, _ = a_run(Camera(clock, busy_s=10_000.0))
    assert not card_at_rest(run, Owed(frames=0, until_ns=0)).at_rest
    assert waited_s(clock) <= BUSY_FOR_S + 2.0


# How long that is


def intent(open_s: float) -> ExposeIntent:
    nothing = Applied(time_s=None, aperture=None, iso=None, time_label=None, aperture_label=None, iso_label=None)
    return ExposeIntent(
        frame=1, ladder=1, rung=1, kind="rung", way="held", planned=nothing, asked=nothing, open_s=open_s
    )


def outcome(how: FrameOutcome, held_s: float | None = None, called_ns: int | None = None) -> ExposeOutcome:
    return ExposeOutcome(
        frame=1,
        outcome=how,
        held_s=held_s,
        realtime=None,
        closed_by=None,
        open_called_ns=called_ns,
        open_returned_ns=None,
        close_called_ns=None,
        close_returned_ns=None,
        opened_utc=None,
        closed_utc=None,
        note=None,
    )


HOME = FetchOutcome(frame=1, card_name="A_0001.CR3", name="frames/1.CR3", size=1, sha256="")


def entries(*records: tuple[float, Record]) -> list[Entry]:
    """Return records written so many seconds ago."""
    return [
        Entry(seq=seq, utc=NOW - timedelta(seconds=ago_s), mono_ns=0, record=record)
        for seq, (ago_s, record) in enumerate(records, 1)
    ]


@pytest.mark.parametrize(
    ("written", "dark", "frames", "left_s"),
    [
        # Begun 10 s ago for 30 s, with no word since: 20 s open, as long again dark, and the writing.
        ([(10.0, intent(30.0))], True, 1, 20.0 + 30.0 + WRITING_S),
        ([(10.0, intent(30.0))], None, 1, 20.0 + 30.0 + WRITING_S),
        ([(10.0, intent(30.0))], False, 1, 20.0 + WRITING_S),
        # Over 5 s ago, held for 40 s: the dark frame and the writing are left.
        ([(45.0, intent(30.0)), (5.0, outcome("made", 40.0, 1))], True, 1, 35.0 + WRITING_S),
        ([(45.0, intent(30.0)), (5.0, outcome("dropped", 40.0, 1))], True, 1, 35.0 + WRITING_S),
        # Lost 4 s after it was begun: the body may go on with it.
        ([(4.0, intent(30.0)), (0.0, outcome("lost", None, 1))], True, 1, 30.0 + 30.0 + WRITING_S),
        # Shorter than a second: no dark frame.
        ([(0.0, intent(0.5))], True, 1, 0.5 + WRITING_S),
        # Long ago, refused, or home: nothing.
        ([(3600.0, intent(30.0))], True, 1, 0.0),
        ([(1.0, intent(30.0)), (0.5, outcome("failed"))], True, 0, 0.0),
        ([(99.0, intent(30.0)), (5.0, outcome("made", 30.0, 1)), (1.0, HOME)], True, 0, 0.0),
        # A failed one whose opening was called may be there.
        ([(1.0, intent(0.5)), (0.0, outcome("failed", None, 1))], True, 1, WRITING_S),
    ],
)
def test_what_may_still_come_is_reckoned_from_when_it_was_begun_or_over(
    clock: SteppedClock, written: list[tuple[float, Record]], dark: bool | None, frames: int, left_s: float
) -> None:
    run, _ = a_run(Camera(clock), dark=dark)
    due = owed(run, entries(*written))
    assert due.frames == frames
    assert to_s(due.until_ns) == pytest.approx(left_s, abs=0.01)


def test_a_clock_that_was_set_back_makes_no_wait_longer_than_it_could_be(clock: SteppedClock) -> None:
    run, _ = a_run(Camera(clock), dark=False)
    assert to_s(owed(run, entries((-9999.0, intent(30.0)))).until_ns) == pytest.approx(30.0 + WRITING_S)
