"""How a rung is made when it is used: followed as far as plan and person allow, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.engine.followed import Followed
from tests.engine.small import Telling, say_at, small_run
from tests.plan.plans import TEN
from tether.engine.aim import aim, causes, changed_stops, consent, follow_stops, propose, tell
from tether.engine.run_state import Run
from tether.exposure.labels import parse_aperture, parse_iso
from tether.journal.records import Turn
from tether.plan.aiming import Aim

TEXT = '[base]\ntime = "1/8"\naperture = "f/8"\niso = 100\n{}[rungs]\ntimes = ["1/8", "2m"]\nframes = 1\n' + TEN
SHORT, LONG = 0, 1


def a_run(text: str = "", following: Followed | None = None, **fields: Any) -> tuple[Run, Telling]:
    run, telling, _ = small_run(TEXT.format(text), following=following or Followed(), **fields)
    return run, telling


def followed(run: Run, which: int = LONG) -> float:
    rung = run.ladder.rungs[which]
    return follow_stops(run, rung, rung.choice, run.now_s)


@pytest.mark.parametrize(
    ("which", "off_stops", "follows"),
    [(LONG, -0.5, 0.5), (LONG, 0.5, -0.5), (LONG, -0.0049, 0.0), (LONG, -0.0051, 0.0051), (SHORT, -0.039, 0.0),
     (SHORT, -0.041, 0.041), (LONG, None, 0.0)],
)  # fmt: skip
def test_what_will_come_out_darker_is_made_as_much_brighter_from_a_little_on(
    which: int, off_stops: float | None, follows: float
) -> None:
    """A bulb time is set for five thousandths of a stop, a timed rung for four hundredths."""
    run, _ = a_run(following=Followed(off_stops=off_stops))
    assert followed(run, which) == pytest.approx(follows)


def test_where_the_plan_has_it_said_only_or_nothing_is_sure_nothing_follows() -> None:
    dark = Followed(off_stops=-1.0)
    assert followed(a_run('[readings]\ncorrect = "say"\n', dark)[0]) == 0.0
    assert followed(a_run('[readings]\ncorrect = "off"\n', dark)[0]) == 0.0
    assert followed(a_run(following=Followed(off_stops=-1.0, tells=False))[0]) == 0.0


def test_a_long_rung_is_made_longer() -> None:
    """Half a stop: 128 s become 181.0."""
    run, _ = a_run(following=Followed(off_stops=-0.5))
    found = aim(run, run.ladder.rungs[LONG], 0.0)
    assert found.choice.time_s == pytest.approx(128 * 2**0.5)
    assert (found.choice.aperture.label, found.choice.iso.label) == ("f/8", "100")
    assert (found.followed_stops, found.left_stops) == pytest.approx((0.5, 0.0), abs=1e-6)


def test_where_nothing_is_off_it_is_made_as_planned() -> None:
    run, _ = a_run()
    rung = run.ladder.rungs[LONG]
    assert aim(run, rung, 0.0) == Aim(choice=rung.choice, followed_stops=0.0, left_stops=0.0)


@pytest.mark.parametrize(
    ("readings", "person_stops", "off_stops", "follows"),
    [
        ("[readings]\ncorrect_at_most_stops = 0.25\n", 9.0, -0.75, 0.25),
        ("[readings]\ncorrect_at_most_stops = 0.25\n", 9.0, 0.75, -0.25),
        ("", 0.1, -0.75, 0.1),
    ],
)
def test_no_more_follows_than_plan_and_person_allow_and_the_rest_is_left(
    readings: str, person_stops: float, off_stops: float, follows: float
) -> None:
    run, _ = a_run(readings, Followed(off_stops=off_stops, at_most_stops=person_stops))
    found = aim(run, run.ladder.rungs[LONG], 0.0)
    assert found.followed_stops == pytest.approx(follows)
    assert found.left_stops == pytest.approx(-off_stops - follows)
    assert found.choice.time_s == pytest.approx(128 * 2**follows)


def test_what_the_person_wants_brighter_comes_on_top_and_is_no_correction() -> None:
    run, _ = a_run("[readings]\ncorrect_at_most_stops = 0.25\n", Followed(off_stops=-0.25))
    found = aim(run, run.ladder.rungs[LONG], 1 / 3)
    assert found.choice.time_s == pytest.approx(128 * 2 ** (0.25 + 1 / 3))
    assert found.followed_stops == pytest.approx(0.25)


def test_how_much_brighter_settings_are_is_the_sum_of_time_aperture_and_iso() -> None:
    run, _ = a_run()
    planned = run.ladder.rungs[LONG].choice
    other = replace(planned, time_s=planned.time_s / 4, aperture=parse_aperture("f/5.6"), iso=parse_iso("400"))
    assert changed_stops(other, planned) == pytest.approx((-2, 1, 2))


# What is said


def told(run: Run, telling: Telling) -> list[str]:
    rung = run.ladder.rungs[LONG]
    tell(run, rung, aim(run, rung, 0.0))
    return telling.said


def test_what_is_made_otherwise_is_said_with_its_cause() -> None:
    run, telling = a_run(following=Followed(off_stops=-0.5, light_stops=-0.5))
    assert told(run, telling) == [
        "Opened 0.50 stop longer than planned, since the light is 0.50 stop darker than at the base."
    ]


def test_a_tenth_of_a_stop_is_not_spoken_of() -> None:
    run, telling = a_run(following=Followed(off_stops=-0.09, light_stops=-0.09))
    assert told(run, telling) == []


@pytest.mark.parametrize(
    ("light", "glass", "said"),
    [
        (0.5, 0.0, "the light is 0.50 stop brighter than at the base"),
        (0.0, -0.3, "Calder 10 takes 10.30 stops, not 10.00"),
        (
            -0.5,
            0.3,
            "the light is 0.50 stop darker than at the base and Calder 10 takes 9.70 stops, not 10.00",
        ),
        (0.02, 0.02, "light and settings go a little otherwise"),
    ],
)
def test_causes_are_the_light_and_what_the_filters_really_take(light: float, glass: float, said: str) -> None:
    run, _ = a_run(following=Followed(light_stops=light, glass=glass))
    assert causes(run, run.ladder.rungs[LONG]) == said


def test_light_that_no_frame_has_told_of_is_expected_and_not_known() -> None:
    run, _ = a_run(following=Followed(light_stops=-0.3, unseen=-0.3))
    assert causes(run, run.ladder.rungs[LONG]) == "the light is expected to be 0.30 stop darker than at the base"


@pytest.mark.parametrize(
    ("text", "following", "why"),
    [
        (
            "[readings]\ncorrect_at_most_stops = 0.25\n",
            Followed(off_stops=-1.0),
            (
                "It comes out 0.75 stop darker than promised: the plan lets it be corrected by 0.25 stop and no more "
                "(readings.correct_at_most_stops)."
            ),
        ),
        (
            "",
            Followed(off_stops=-1.0, at_most_stops=0.5),
            "It comes out 0.50 stop darker than promised: you let it be corrected by 0.50 stop and no more.",
        ),
        (
            # One stop by time is all there is; ISO 200 would do it, if the limits had it.
            '[limits]\naperture = ["f/8", "f/8"]\niso = [100, 100]\n',
            Followed(off_stops=-2.0),
            "It comes out 1.00 stop darker than promised: the limits leave no more. ISO 200 would do.",
        ),
    ],
)
def test_what_is_left_is_said_with_what_leaves_it(text: str, following: Followed, why: str) -> None:
    run, telling = a_run(text, following)
    assert told(run, telling)[-1] == why


def test_where_the_plan_has_it_said_the_word_that_does_it_is_proposed() -> None:
    for off_stops, word in ((-0.5, "“brighter” (b)"), (0.5, "“darker” (d)")):
        run, telling = a_run('[readings]\ncorrect = "say"\n', Followed(off_stops=off_stops, light_stops=off_stops))
        propose(run, run.ladder.rungs[LONG])
        assert telling.said[0].endswith(f"Proposed: {word}.")
    for text, off_stops in (('[readings]\ncorrect = "say"\n', 0.15), ("", 0.5)):
        run, telling = a_run(text, Followed(off_stops=off_stops))
        propose(run, run.ladder.rungs[LONG])
        assert telling.said == []


# Asking


def asked(run: Run, followed_stops: float) -> bool:
    rung = run.ladder.rungs[LONG]
    return consent(run, rung, Aim(choice=rung.choice, followed_stops=followed_stops, left_stops=0.0))


def test_the_person_is_asked_beyond_what_was_agreed_and_then_not_before_another_stop() -> None:
    run, telling = a_run(following=Followed(agreed_stops=2 / 3))
    say_at(run, 10.0, "answer")
    assert [asked(run, one) for one in (0.6, 0.7, 1.69)] == [True, True, True]
    (turn, _) = telling.of(Turn)
    assert turn.what == "give rung 2 0.70 stop more light than planned, or leave that (skip)"
    assert run.following.agreed_stops == pytest.approx(1.7)


def test_who_skips_keeps_it_at_what_was_agreed_and_the_rung_is_not_left() -> None:
    run, _ = a_run(following=Followed(agreed_stops=0.5))
    say_at(run, 10.0, "skip")
    assert not asked(run, -0.7)
    assert (run.following.at_most_stops, run.steering.skip) == (0.5, False)


def test_without_an_answer_it_is_made_as_the_plan_says() -> None:
    run, telling = a_run(following=Followed(agreed_stops=0.5))
    assert asked(run, 0.7)
    assert (run.now_s, telling.of(Turn)[-1].state) == (60.0, "nobody answered")
    assert telling.of(Turn)[0].reason.endswith("Without an answer within 60 s it is given")
    alone, telling = a_run(following=Followed(agreed_stops=0.5), answer_for_me=True)
    assert asked(alone, 0.7)
    assert telling.of(Turn) == []
