"""The planner: what must hold for every ladder; which choices it makes is pinned in `test_ladders.py`."""

from __future__ import annotations

from math import log2

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from tests.plan.plans import (
    BASE,
    HEAD,
    SIX,
    TEN,
    THREE,
    abilities_of,
    ladder_of,
    plan_of,
    relative_brightness,
    settings,
)
from tether.errors import PlanError
from tether.exposure.marks import Step
from tether.plan.choices import HELD_TIMES, allowed_apertures, allowed_isos
from tether.plan.planner import make_ladder
from tether.plan.wanted import wanted_rungs


def test_filters_go_on_one_after_the_other_as_the_times_go_up() -> None:
    base = '[base]\ntime = "1/4"\naperture = "f/11"\niso = 100\n[rungs]\nfrom = "1/15"\nto = "4m"\n'
    ladder = ladder_of(base + THREE + SIX + TEN)
    assert settings(ladder) == [
        ("1/15", "1/15", "f/8", "200", "", 1),
        ("1/8", "1/8", "f/8", "100", "", 3),
        ("1/4", "1/4", "f/11", "100", "", 3),
        ("0.5", "0.5", "f/16", "100", "", 3),
        ("1", "1", "f/8", "100", "Calder 3", 3),
        ("2", "2", "f/11", "100", "Calder 3", 3),
        ("4", "4", "f/16", "100", "Calder 3", 1),
        ("15", "15", "f/11", "100", "Calder 6", 1),
        ("1:04", "bulb", "f/8", "100", "Calder 6 + Calder 3", 1),
        ("4:00", "bulb", "f/16", "100", "Calder 6 + Calder 3", 1),
    ]
    assert [(turn.before_rung, turn.what) for turn in ladder.turns] == [
        (5, "fit Calder 3"),
        (8, "take off Calder 3, fit Calder 6"),
        (9, "fit Calder 3"),
        (None, "put the cap on for dark frames"),
    ]
    assert [rung.proof is not None for rung in ladder.rungs] == [False] * 4 + [True, False, False, True, True, False]
    assert not ladder.unreached


plans = st.tuples(
    st.sampled_from(["1/1000", "1/125", "1/15", "0.5", "4"]),
    st.sampled_from(["f/5.6", "f/8", "f/11", "f/16"]),
    st.lists(
        st.tuples(st.sampled_from([1, 2, 3, 4.6, 6, 8.64, 10, 15]), st.booleans()),
        max_size=4,
        unique_by=lambda one: one[0],
    ),
    st.sampled_from(["what is unmeasured", "nothing", "a third for long water"]),
    st.sampled_from(["fewest touches", "short first", "long first", "by filter"]),
)


@hypothesis_settings(deadline=None, max_examples=60)
@given(plans)
def test_every_rung_gives_the_light_it_says(
    given_plan: tuple[str, str, list[tuple[float, bool]], str, str],
) -> None:
    time, aperture, filters, darker, order = given_plan
    text = f'[base]\ntime = "{time}"\naperture = "{aperture}"\niso = 100\n'
    text += f'[rungs]\nfrom = "1/1000"\nto = "4m"\norder = "{order}"\n'
    for stops, measured in filters:
        known = f"measured_stops = {stops + 0.17}\nuncertainty_stops = 0.02\n" if measured else ""
        text += f'[[filter]]\nname = "{stops}"\nstops = {stops}\n{known}'
    plan = plan_of(text, head=HEAD.replace('"nothing"', f'"{darker}"'))
    abilities = abilities_of(plan)
    ladder = make_ladder(plan, abilities)
    tolerance = plan.limits.time_off_stops + 1e-6
    for rung, brighter in zip(ladder.rungs, relative_brightness(ladder), strict=True):
        choice = rung.choice
        assert brighter == pytest.approx(choice.error_stops - choice.darker_by_stops, abs=1e-9)
        assert -tolerance <= choice.error_stops <= tolerance
        assert brighter <= tolerance  # whatever is unmeasured, no rung is planned brighter than the base by more
        off = abs(log2(choice.stands_for_s / rung.wanted.exact))
        assert off <= tolerance * (HELD_TIMES if choice.way == "held" else 1)
        assert choice.aperture in allowed_apertures(plan, abilities)
        assert choice.iso in allowed_isos(plan, abilities)
        if choice.way == "held":
            assert choice.error_stops == 0
        else:
            assert choice.time_label in [mark.label for mark in abilities.times]
    asked = {rung.asked.exact for rung in ladder.rungs} | {one.wanted_s for one in ladder.unreached}
    assert asked == {one.time.exact for one in wanted_rungs(plan, abilities.pitch_um, Step.THIRD)}


def test_a_graduated_filter_is_fitted_where_asked_and_pays_nothing() -> None:
    soft = '[[filter]]\nname = "Soft 2"\nstops = 2\nkind = "graduated"\n'
    text = BASE + '[rungs]\ntimes = ["1/125"]\n[[rung]]\ntime = "0.5"\nalso = ["Soft 2"]\n'
    ladder = ladder_of(text + SIX + soft)
    by_time = {rung.wanted.label: rung for rung in ladder.rungs}
    assert [one.name for one in by_time["0.5"].fitted] == ["Calder 6", "Soft 2"]
    assert by_time["0.5"].choice.filter_stops == 6
    assert by_time["1/125"].fitted == ()


def test_the_forecast_adds_up_what_takes_time() -> None:
    text = (
        BASE + '[rungs]\ntimes = ["1/125", "8", "2m"]\n[run]\nsettle_s = 7\ndark_frames = "by the body"\n' + SIX + TEN
    )
    ladder = ladder_of(text)
    long, short = (rung.choice.time_s for rung in ladder.rungs if rung.wanted.label in ("2:00", "8"))
    if long < short:
        long, short = short, long
    assert ladder.forecast.exposing_s == pytest.approx(2 * (long + short) + 2**-7)
    assert ladder.forecast.base_s == pytest.approx(3 * ladder.base.time.exact)
    touched = sum(turn.takes_s for turn in ladder.turns)
    assert touched > 0
    assert ladder.forecast.changes_s == touched + 30.0, "filters off before the last base frame"
    assert ladder.forecast.settling_s == 7 * len(ladder.turns)
    assert ladder.forecast.fetching_s == pytest.approx(0.5 * len(ladder.exposures))


def test_dark_frames_at_the_end_one_for_each_long_time() -> None:
    text = BASE + '[rungs]\ntimes = ["1/125", "8", "2m"]\n[run]\ndark_frames = "at the end"\n' + SIX + TEN
    ladder = ladder_of(text)
    assert len(ladder.darks) == 2
    assert [turn.what for turn in ladder.turns_before(None)] == ["put the cap on"]


def test_a_proof_is_the_same_light_six_stops_faster() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["2m"]\n' + SIX + TEN)
    (rung,) = ladder.rungs
    proof = rung.proof
    assert proof is not None
    assert proof.faster_by_stops == pytest.approx(6, abs=0.2)
    exact = rung.choice.time_s / 2**proof.faster_by_stops
    assert log2(proof.time_s / exact) == pytest.approx(proof.error_stops)
    assert abs(proof.error_stops) < 0.2
    assert ladder_of(BASE + '[rungs]\ntimes = ["2m"]\n[run]\nproof = false\n' + SIX + TEN).rungs[0].proof is None


def test_nothing_within_the_limits_is_an_error_in_a_sentence() -> None:
    with pytest.raises(PlanError, match="no aperture and ISO"):
        ladder_of(BASE + '[rungs]\ntimes = ["1"]\n[limits]\niso = [102400, 204800]\n')


def test_a_turn_before_a_rung_that_is_not_there() -> None:
    with pytest.raises(PlanError, match="no rung has this time; there are 1"):
        ladder_of(BASE + '[rungs]\ntimes = ["1"]\n[[turn]]\nbefore = "2"\nwhat = "wipe the glass"\n' + SIX)


def test_a_filter_that_would_show_dark_corners_is_left_out_and_said() -> None:
    text = BASE + '[rungs]\ntimes = ["0.5"]\n' + SIX + "smallest_focal_mm = 28\n"
    ladder = ladder_of(text)
    assert ladder.unreached
    assert not ladder.rungs[0].fitted
    assert any("Calder 6 is left out: it shows dark corners" in one for one in ladder.notes)
    assert ladder_of(text.replace("= 28", "= 20")).rungs[0].fitted


def test_a_polariser_is_not_turned_within_a_ladder() -> None:
    polariser = '[[filter]]\nname = "Polariser"\nstops = 1.6\nkind = "always on"\n'
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n' + polariser)
    assert ladder.rungs[0].choice.iso.label == "100"  # it is on for the base too, so it costs nothing
    assert ladder.rungs[0].fitted == ()
    assert any("Polariser stays on" in one for one in ladder.notes)


def test_filters_that_must_be_on_together_and_may_not_are_a_mistake_of_the_plan() -> None:
    grad = '[[filter]]\nname = "Soft 2"\nstops = 2\nkind = "graduated"\nstacks_with = []\n'
    polariser = '[[filter]]\nname = "Polariser"\nstops = 1.6\nkind = "always on"\n'
    also = BASE + '[rungs]\ntimes = ["1/125", "0.5"]\nalso = ["Soft 2"]\n'
    with pytest.raises(PlanError, match="may not be stacked"):
        ladder_of(also + grad + polariser)
    with pytest.raises(PlanError, match="dark corners"):
        ladder_of(also + grad + "smallest_focal_mm = 28\n")
    alone = ladder_of(also + grad + SIX)
    assert [rung.wanted.label for rung in alone.rungs] == ["1/125", "1/15"]  # Calder 6 may not go with it
    assert [one.wanted_label for one in alone.unreached] == ["0.5"]


def test_a_graduated_filter_that_is_on_for_no_rung_is_said() -> None:
    grad = '[[filter]]\nname = "Soft 2"\nstops = 2\nkind = "graduated"\n'
    assert any(
        "Soft 2 is on for no rung" in one for one in ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n' + grad).notes
    )


def test_the_ladder_says_when_the_person_wants_to_leave() -> None:
    text = BASE + '[rungs]\ntimes = ["1/125"]\n'
    assert ladder_of(text).leave_by is None
    assert ladder_of(text + '[run]\nleave_by = "18:40"\n').leave_by == "18:40"


def test_three_glasses_are_a_caution() -> None:
    text = '[base]\ntime = "1/500"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["8m"]\n'
    polariser = '[[filter]]\nname = "Polariser"\nstops = 1.6\nkind = "always on"\n'
    ladder = ladder_of(text + polariser + THREE + SIX + TEN)
    (caution,) = [one for one in ladder.notes if "glasses" in one]
    assert caution.startswith("Rung 1 is made through three or more glasses")


def test_dark_frames_can_be_offered_after_the_last_rung() -> None:
    """Nothing in the plan asks for them: 8 s and 128 s, and half a second to fetch each, are in no sum."""
    text = BASE + '[rungs]\ntimes = ["8", "2m"]\n' + SIX + TEN
    ladder = ladder_of(text)
    assert [dark.offered for dark in ladder.darks] == [True, True]
    (turn,) = ladder.turns_before(None)
    assert turn.what == "put the cap on for dark frames"
    assert "they take 2 min, pack meanwhile" in turn.reason
    assert "left out" in turn.reason
    without = ladder_of(text + '[run]\ndark_frames = "none"\n')
    assert ladder.forecast.offered_s == pytest.approx(sum(dark.time_s for dark in ladder.darks) + 1.0)
    assert ladder.forecast.total_s == without.forecast.total_s
    assert ladder.exposures == without.exposures
    assert without.turns_before(None) == ()


def test_where_no_exposure_is_long_no_dark_frames_are_offered() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["1/125", "2"]\n' + SIX + TEN)
    assert (ladder.darks, ladder.turns_before(None)) == ((), ())


def test_of_ways_that_are_as_good_the_aperture_of_the_rung_before_is_kept() -> None:
    """From ISO 400, ISO gives back what a slower rung gains: f/11 with ISO 200 loses as little as f/8 with ISO 100."""
    text = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 400\n[rungs]\ntimes = ["1/15", "1/4"]\n' + THREE
    before, after = ladder_of(text).rungs
    assert (before.choice.aperture.label, after.choice.aperture.label, after.choice.iso.label) == (
        "f/11",
        "f/11",
        "200",
    )
    (alone,) = ladder_of(text.replace('"1/15", ', "")).rungs
    assert (alone.choice.aperture.label, alone.choice.iso.label) == ("f/8", "100")
    assert after.choice.price == alone.choice.price
