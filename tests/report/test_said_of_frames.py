"""What is said of frames: what they are called, how they were set, and which rungs have none."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import pytest

from tests.journal.outings import frame, told, weir
from tests.journal.shown import rung_ended
from tether.journal.story import LadderStory
from tether.report.said_of_frames import changed, named, opened, untaken

WEIR = told(weir())
LADDER = WEIR.ladders[0]


def renamed() -> LadderStory:
    """Return the ladder as if 2:08 had been asked for where it is open for 124.3 s, or less."""
    assert LADDER.planned is not None
    rungs = tuple(
        replace(one, wanted_s=128.0, wanted_label="2:08") if one.rung == 5 else one for one in LADDER.planned.rungs
    )
    return replace(LADDER, planned=replace(LADDER.planned, rungs=rungs))


def test_a_frame_is_called_as_its_rung_and_how_long_it_was_open_stands_beside_it() -> None:
    """Frame 8 was closed after 101 s: a third of a stop short of 128 s, and of the 124.3 s that were planned."""
    cut_short = frame(WEIR, 8)
    assert (named(cut_short, renamed()), opened(cut_short, renamed())) == ("2:08 min", "open 1:41 min")
    assert changed(cut_short) == "opened 0.30 stop shorter than planned"
    exact = frame(WEIR, 5)
    assert (named(exact, LADDER), opened(exact, LADDER), changed(exact)) == ("2 s", "", "")
    base = frame(WEIR, 1)
    assert (named(base, LADDER), opened(base, LADDER)) == ("1/8 s", "")


@pytest.mark.parametrize(
    ("shown", "asked", "said"),
    [
        ({1, 2, 3, 4, 5, 6}, None, ""),
        ({1, 2}, None, "Rung 3 left out. Rungs 4 and 5 not taken. Rung 6 not there to be shown."),
        ({1, 2}, {1, 3}, "Rung 3 left out."),
        ({1, 2, 3, 6}, None, "Rungs 4 and 5 not taken."),
    ],
)
def test_rungs_of_which_there_is_no_frame_are_told_by_why(
    shown: Collection[int], asked: Collection[int] | None, said: str
) -> None:
    """Rung 3 was skipped, 4 stopped, 5 never begun; rung 6 has a frame that is not home."""
    frames = tuple(one for one in LADDER.frames if one.rung not in (3, 4, 5))
    ended = (rung_ended(3, "skipped"), rung_ended(4, "stopped"))
    assert untaken(replace(LADDER, frames=frames, rungs=ended), shown, asked) == said
