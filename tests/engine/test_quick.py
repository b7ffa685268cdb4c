"""A quick frame when the person wants one: as bright, through what is on the lens; all is set as before after it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, work
from tests.engine.small import Telling, effect, small_run
from tether.control.commands import Verb
from tether.engine.in_hand import OpenFrame
from tether.engine.run_state import Run
from tether.journal.records import FrameOpened, Record, Said, Steered, Turn

TEXT = BASE + '[rungs]\ntimes = ["1/125", "1/2"]\nframes = 2\n' + SIX


def once(wanted: Callable[[Record], bool], verb: Verb = "quick frame") -> Callable[[Record], Verb | None]:
    said: list[Verb] = []

    def when(record: Record) -> Verb | None:
        if said or not wanted(record):
            return None
        said.append(verb)
        return verb

    return when


def test_at_a_task_it_is_taken_with_what_is_still_on_the_lens_and_the_task_stays_asked(tmp_path: Path) -> None:
    worked = work(tmp_path, TEXT, when=once(lambda one: isinstance(one, Turn) and one.state == "asked"))
    assert worked.outcome == "done"
    (quick,) = [frame for frame in worked.frames if frame.kind == "proof" and not frame.filters]
    first = worked.frames[0]
    assert worked.still_level(quick) == pytest.approx(worked.still_level(first), rel=0.05)
    assert [one.state for one in worked.ladder.turns] == ["answered for me"]


def test_between_two_frames_it_is_as_bright_through_the_filter_and_quicker_and_the_second_is_set_as_the_first(
    tmp_path: Path,
) -> None:
    opened = once(lambda one: isinstance(one, FrameOpened) and one.rung == 2 and one.kind == "rung")
    worked = work(tmp_path, TEXT + "[run]\nproof = false\n", when=opened)
    one, quick, other = worked.frames[-3:]
    assert [frame.kind for frame in (one, quick, other)] == ["rung", "proof", "rung"]
    assert quick.filters == one.filters == ("Calder 6",)
    assert worked.still_level(quick) == pytest.approx(worked.still_level(one), rel=0.1)
    assert quick.exif is not None
    assert one.exif is not None
    assert other.exif is not None
    assert (quick.exif.time_s or 0) < (one.exif.time_s or 0) / 8
    assert (one.exif.time_s, one.exif.iso) == (other.exif.time_s, other.exif.iso)
    assert worked.rung_outcomes() == ["done", "done"]


# A lamp


def lamp(run: Run, telling: Telling) -> str:
    return effect(run, telling, "headlamp")


def test_a_lamp_is_always_allowed_and_the_open_frame_is_noted() -> None:
    run, telling, _ = small_run(TEXT)
    assert lamp(run, telling) == "your lamp is always allowed; no frame is open, so there is nothing to note"
    assert telling.of(Said) == []
    run.hand.open = OpenFrame(frame=7, held=True, command_s=60.0)
    assert lamp(run, telling) == "noted at frame 7; your lamp is always allowed"
    (noted,) = telling.of(Said)
    assert (noted.frame, noted.text) == (7, "A lamp was on while this frame was open.")
    assert len(telling.of(Steered)) == 2
