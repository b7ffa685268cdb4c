"""What a frame says is written down, learned from where it may be, and acted on as far as the plan lets the run."""

from __future__ import annotations

from dataclasses import replace
from math import nan
from typing import Any

import pytest

from tests.engine.followed import Followed
from tests.engine.readings import readings, rock, standing
from tests.engine.small import Telling, small_run
from tests.plan.plans import BASE
from tests.shot.frames import made
from tether.engine.assessment import take_in
from tether.engine.in_hand import InHand
from tether.engine.run_state import Run
from tether.frames.asked import FrameAnswer
from tether.journal.readings import FrameReadings
from tether.journal.records import Applied, FrameRead
from tether.shot.made import Made

TEXT = BASE + '[rungs]\ntimes = ["1/125"]\n[readings]\nagain = "{}"\nagain_at_most = 2\n'
KNOCKED = readings(still=standing(right_px=5.0))
BURNT = readings(water_clips=0.2)


def a_run(again: str = "say", following: Followed | None = None, **fields: Any) -> tuple[Run, Telling, Followed]:
    following = following or Followed()
    run, telling, _ = small_run(TEXT.format(again), following=following, **fields)
    return run, telling, following


def frame(**changes: Any) -> Made:
    return replace(made(1), opened_s=100.0, **changes)


def take(run: Run, found: FrameReadings | None, of: Made | None = None, problem: str | None = None) -> None:
    take_in(run, of, 1, FrameAnswer(frame=found, problem=problem))


def test_of_a_frame_that_nobody_remembers_only_what_it_says_is_kept() -> None:
    run, telling, following = a_run()
    take(run, KNOCKED)
    assert telling.records == [FrameRead(frame=1, readings=KNOCKED, problem=None)]
    assert following.seen == []


def test_what_cannot_be_worked_out_costs_that_reading_with_a_sentence() -> None:
    run, telling, following = a_run()
    take(run, readings(of_rock=rock(nan)), frame(), problem="It has no streaks.")
    (read,) = telling.of(FrameRead)
    assert read.readings is None
    assert read.problem == (
        "It has no streaks. What it says can't be held against what was expected: a number is not finite."
    )
    assert following.seen == []


# What is learned


def test_light_and_glass_are_learned_from_the_rock_and_news_is_told() -> None:
    """1/2 s at f/8 and ISO 100 is six stops over the base, and its rock is 5.8 brighter."""
    run, telling, following = a_run(following=Followed(told=("The light has changed.",)))
    take(run, readings(of_rock=rock(5.8)), frame(filters=("Calder 6",)))
    ((acting, opened_s, open_s, seen),) = following.seen
    assert (acting.filters, acting.aperture, acting.iso, opened_s, open_s) == (("Calder 6",), 8.0, 100.0, 100.0, 0.5)
    assert seen.off_stops == pytest.approx(-0.2)
    assert telling.said == ["The light has changed."]


@pytest.mark.parametrize(
    "of",
    [
        frame(as_asked=False),
        replace(frame(), opened_s=None),
        replace(frame(), wanted=replace(frame().wanted, asked=Applied(aperture=8.0))),
    ],
    ids=["not as asked", "opened nobody knows when", "at an ISO nobody knows"],
)
def test_of_a_frame_that_was_otherwise_or_is_not_known_nothing_is_learned(of: Made) -> None:
    run, _, following = a_run()
    take(run, readings(of_rock=rock(5.8)), of)
    assert following.seen == []


@pytest.mark.parametrize(
    ("brighter", "tells", "doubt_stops", "learned"),
    [
        (6.30, False, 0.01, False),  # off by 0.3, and its Exif is silent
        (6.30, True, 0.01, True),
        (6.16, False, 0.01, True),  # less than a sixth of a stop
        (6.30, False, 0.11, True),  # within three times what is not known of the light
    ],
)
def test_a_frame_whose_exif_does_not_tell_may_have_been_open_otherwise(
    brighter: float, tells: bool, doubt_stops: float, learned: bool
) -> None:
    run, telling, following = a_run(following=Followed(doubt_stops=doubt_stops))
    take(run, readings(of_rock=rock(brighter)), frame(exif_tells=tells))
    assert bool(following.seen) == learned
    assert telling.said == (
        []
        if learned
        else [
            (
                "The rock came out 0.30 stop brighter than expected: the light has changed, or it was not open as long "
                "as our commands say: its Exif does not tell."
            )
        ]
    )


# What is done about it


@pytest.mark.parametrize(
    ("found", "proposed"),
    [
        (KNOCKED, "Proposed: again; say “again” (a)."),
        (BURNT, "Proposed: again, a third of a stop darker; say “darker” (d), then “again” (a)."),
    ],
)
def test_where_the_plan_does_not_let_the_run_it_is_proposed(found: FrameReadings, proposed: str) -> None:
    run, telling, _ = a_run(hand=InHand(rung=1))
    take(run, found, frame())
    assert len(telling.said) == 1
    assert telling.said[0].endswith(proposed)
    assert (run.steering.again, run.steering.brighter_stops, run.hand.retaken) == (0, 0.0, 0)


@pytest.mark.parametrize(
    ("found", "said", "brighter"),
    [(KNOCKED, "It is taken again.", 0.0), (BURNT, "It is taken again, a third of a stop darker.", -1 / 3)],
)
def test_by_the_plans_leave_it_is_taken_again(found: FrameReadings, said: str, brighter: float) -> None:
    run, telling, _ = a_run("take", hand=InHand(rung=1))
    take(run, found, frame())
    assert telling.said[0].endswith(said)
    assert (run.steering.again, run.hand.retaken) == (1, 1)
    assert run.steering.brighter_stops == pytest.approx(brighter)


@pytest.mark.parametrize(
    "fields",
    [
        {"hand": InHand(rung=2)},
        {"hand": InHand(rung=1, retaken=2)},
        {"hand": InHand(rung=1), "following": Followed(sure=False)},
    ],
    ids=["its rung is over", "often enough", "by regions nobody looked at"],
)
def test_the_leave_goes_no_further_than_the_rung_in_hand_and_its_number(fields: dict[str, Any]) -> None:
    run, telling, _ = a_run("take", **fields)
    take(run, KNOCKED, frame())
    assert "Proposed: again" in telling.said[0]
    assert run.steering.again == 0


def test_a_test_exposure_that_was_knocked_is_only_told_of() -> None:
    run, telling, _ = a_run("take", hand=InHand(rung=1))
    take(run, KNOCKED, frame(kind="proof"))
    assert "Proposed" not in telling.said[0]
    assert run.steering.again == 0


def test_what_was_told_once_is_remembered() -> None:
    run, telling, _ = a_run()
    for _ in range(2):
        take(run, KNOCKED, frame())
    assert len(telling.said) == 1
    assert len(run.frame_history.stood) == 2
