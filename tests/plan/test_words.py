"""The planner's reasons, and what would make a rung reachable that can't be had."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.plans import (
    BASE,
    MIRROR,
    SIX,
    TEN,
    a_choice,
    abilities_of,
    ladder_of,
    plan_of,
)
from tether.exposure.filters import Filter
from tether.exposure.labels import parse_aperture, parse_iso, parse_time
from tether.plan.choices import make_space
from tether.plan.paying import Cost
from tether.plan.words import bracket_words, in_stops, paid_words, reason, unreached_sentence, way_words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[limits]\niso = [100, 400]\naperture_stops = 1.0\n", ["3 stops of light too little", "limits.iso up to"]),
        ("", ["of light too much", "filters of"]),
        ('[limits]\nlongest = "1m"\n' + TEN, ["longer than limits.longest of 1:00 min", "made instead"]),
    ],
)
def test_a_time_out_of_reach_becomes_the_nearest_that_is_not(text: str, words: list[str]) -> None:
    time = "1/8000" if "iso" in text else "2m"
    ladder = ladder_of(BASE + f'[rungs]\ntimes = ["{time}"]\n' + text)
    (rung,) = ladder.rungs
    assert rung.asked != rung.wanted
    (unreached,) = ladder.unreached
    for word in words:
        assert word in unreached.sentence


def test_two_times_out_of_reach_are_one_rung_and_nobody_is_told_that_it_was_asked_for() -> None:
    """Through ten stops f/22 makes 64 s of 1/125 s at f/8; 2:08 and 4:16 are both beyond it."""
    ladder = ladder_of('[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2:08", "4:16"]\n' + TEN)
    assert len(ladder.rungs) == 1
    first, second = (one.sentence for one in ladder.unreached)
    assert "1:04 min, the nearest possible, is made instead" in first
    assert "1:04 min, the nearest possible, is a rung already" in second


def test_the_remedy_named_for_too_little_light_helps() -> None:
    limits = "[limits]\naperture_stops = 1.0\niso = [100, {}]\n"
    text = BASE + '[rungs]\ntimes = ["1/2000"]\n'
    (unreached,) = ladder_of(text + limits.format(400)).unreached
    assert "limits.iso up to 800" in unreached.sentence
    assert not ladder_of(text + limits.format(800)).unreached


def test_a_body_that_cannot_be_held_says_so_where_many_is_not_wanted() -> None:
    text = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\nmany = "never"\n' + SIX + TEN
    (unreached,) = ladder_of(text, head=MIRROR).unreached
    assert "has no bulb" in unreached.sentence
    assert "rungs.many" not in unreached.sentence


# Directly


TEN_STOPS = Filter.of("Calder 10", stops=10)
SIX_STOPS = Filter.of("Calder 6", stops=6)
PLAN = plan_of(BASE + '[rungs]\ntimes = ["1/125"]\n')
EDGES = "1.15 stops (noise 1.00, blur at the edges of the depth 0.15)"
SPARED = "0.50 stop (darker by rounding 0.10, highlights 1.00, filter changes saved -0.60)"
FREE = Cost(noise_stops=0.0, sharp_stops=0.0, dark_stops=0.0, headroom_stops=0.0, tint_stops=0.0)


@pytest.mark.parametrize(
    ("stops", "said"),
    [(0.3, "0.3 stop"), (1, "1 stop"), (1.04, "1 stop"), (1.06, "1.1 stops"), (6.2, "6.2 stops"), (10, "10 stops")],
)
def test_stops_are_counted_in_tenths(stops: float, said: str) -> None:
    assert in_stops(stops) == said


@pytest.mark.parametrize(
    ("changes", "base_iso", "stays_on", "said"),
    [
        ({}, 100.0, False, "no ND filter; aperture and ISO as in the base"),
        ({"aperture": "f/11"}, 100.0, False, "no ND filter; f/11 holds back 1 stop"),
        ({"aperture": "f/4", "iso": "200"}, 100.0, False, "no ND filter; f/4 lets in 2 stops; ISO 200 pays 1 stop"),
        ({"iso": "50"}, 50.0, False, "no ND filter; ISO 50 gives back 1 stop"),
        (
            {"iso": "50"},
            100.0,
            False,
            "no ND filter; extended ISO 50 costs 1 stop of highlight headroom, so white water clips sooner",
        ),
        (
            {"stack": (TEN_STOPS,), "filter_stops": 10.0},
            100.0,
            True,
            "Calder 10 carries 10 stops and stays on; aperture and ISO as in the base",
        ),
        (
            {"stack": (SIX_STOPS, TEN_STOPS), "filter_stops": 16.0, "way": "held"},
            100.0,
            True,
            (
                "Calder 6 + Calder 10 carry 16 stops and stay on; aperture and ISO as in the base; bulb, so the time "
                "takes up all rounding"
            ),
        ),
        (
            {"darker_by_stops": 1 / 3},
            100.0,
            False,
            "no ND filter; aperture and ISO as in the base; 0.3 stop darker, as darker_by asks",
        ),
        (
            {"way": "many", "time_s": 16.0, "time_label": "15", "frames": 4},
            100.0,
            False,
            (
                "no ND filter; aperture and ISO as in the base; 4 frames of 15 s stand for 64 s: averaged as bright as "
                "one of them with noise 2.0 times lower"
            ),
        ),
    ],
)
def test_a_rung_says_in_a_line_how_it_is_made(
    changes: dict[str, object], base_iso: float, stays_on: bool, said: str
) -> None:
    parsed = {"aperture": parse_aperture, "iso": parse_iso}
    made = {key: parsed[key](str(one)) if key in parsed else one for key, one in changes.items()}
    assert reason(PLAN, a_choice(**made), base_iso, stays_on) == said


@pytest.mark.parametrize(
    ("paid", "touches", "said"),
    [
        ({}, 0.0, "nothing"),
        ({"noise_stops": 0.01}, 0.0, "nothing"),
        ({"noise_stops": 1.0, "sharp_stops": 0.15}, 0.0, EDGES),
        ({"noise_stops": 1.0}, 0.6, "1.60 stops (noise 1.00, touches 0.60)"),
        ({"noise_stops": -1.0, "sharp_stops": 0.2, "tint_stops": 0.1}, 0.0, "0.10 stop (colour cast 0.10)"),
        ({"noise_stops": 1.0, "sharp_stops": -0.2}, 0.0, "0.80 stop (noise 1.00, less diffraction -0.20)"),
        ({"dark_stops": 0.1, "headroom_stops": 1.0}, -0.6, SPARED),
    ],
)
def test_what_a_way_costs_is_said_with_what_it_is_paid(paid: dict[str, float], touches: float, said: str) -> None:
    """The base is at f/11, so f/8 is wider open."""
    assert paid_words(a_choice(paid=replace(FREE, **paid)), touches, 11.3) == said


def test_narrower_than_the_base_it_is_diffraction_that_costs() -> None:
    assert paid_words(a_choice(paid=replace(FREE, sharp_stops=0.2)), 0.0, 5.6) == "0.20 stop (diffraction 0.20)"
    assert "deeper -0.20" in paid_words(a_choice(paid=replace(FREE, sharp_stops=-0.2, noise_stops=1.0)), 0.0, 5.6)


def test_a_way_is_described_by_its_settings() -> None:
    assert way_words(a_choice()) == "1/125 s, f/8, ISO 100, no filter"
    held = a_choice(way="held", time_s=128.0, time_label="bulb", stack=(TEN_STOPS,))
    assert way_words(held) == "bulb 2:08, f/8, ISO 100, Calder 10"
    assert way_words(a_choice(way="many", time_s=16.0, time_label="15", frames=8)) == (
        "8 × 15 s, f/8, ISO 100, no filter"
    )


def test_a_frame_of_a_bracket_says_what_it_is_made_by() -> None:
    rung, asked = a_choice(way="held", time_s=256.0, time_label="bulb"), parse_time("4:16")
    brighter = replace(rung, iso=parse_iso("400"))
    assert bracket_words(brighter, rung, asked, 2.0) == "2 stops brighter than 4:16 min, to blend with it: by ISO 400"
    darker = replace(rung, time_s=64.0)
    assert bracket_words(darker, rung, asked, -2.0) == "2 stops darker than 4:16 min, to blend with it: by 1:04 min"


def test_where_nothing_can_be_exposed_the_limits_are_named() -> None:
    space = make_space(PLAN, abilities_of(PLAN), ((),))
    said = unreached_sentence(space, parse_time("1"), None, is_there=False)
    assert said.startswith("1 s: nothing within the limits can be exposed at all")
    assert "limits.aperture or limits.iso" in said
