"""The planner: what must hold for every ladder; which choices it makes is pinned in `test_ladders.py`."""

from __future__ import annotations

import math
from math import log2

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from tests.plan.plans import HEAD, abilities_of, ladder_of, plan_of, settings
from tether.errors import PlanError
from tether.exposure.marks import Step
from tether.exposure.stops import Exposure, brighter_by
from tether.plan.again import solve_again
from tether.plan.choices import HELD_TIMES, allowed_apertures, allowed_isos
from tether.plan.ladder import Ladder
from tether.plan.planner import make_ladder
from tether.plan.wanted import wanted_rungs

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
THREE, SIX, TEN = (
    f'[[filter]]\nname = "Calder {stops}"\nstops = {stops}\nmeasured_stops = {stops}.0\n' for stops in (3, 6, 10)
)
MIRROR = 'scale = "half"\n' + HEAD.replace('"simulated"', '"simulated-mirror"')


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


def test_many_short_ones_stand_for_a_long_one_only_where_asked() -> None:
    base = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\n'
    (offered,) = ladder_of(base + SIX, head=MIRROR).rungs
    assert (offered.choice.way, offered.choice.time_label, offered.asked.label) == ("timed", "15", "2:00")
    (unreached,) = ladder_of(base + SIX, head=MIRROR).unreached
    assert '8 × 15 s, f/22, ISO 100, Calder 6 with rungs.many = "use"' in unreached.sentence
    (asked,) = ladder_of(base + 'many = "use"\n' + SIX, head=MIRROR).rungs
    assert (asked.choice.way, asked.choice.time_label, asked.frames) == ("many", "15", 8)
    assert "noise 2.8 times lower" in asked.reason  # sqrt(8), EMVA 1288 4.0


def relative_brightness(ladder: Ladder) -> list[float]:
    """Return how much brighter each rung is than the base, from exact values and the filters' strengths [stops]."""
    base = ladder.base
    start = Exposure(time_s=base.time.exact, aperture=base.aperture.exact, iso=base.iso.exact)
    return [
        brighter_by(
            Exposure(
                time_s=rung.choice.time_s,
                aperture=rung.choice.aperture.exact,
                iso=rung.choice.iso.exact,
                filter_stops=math.fsum(one.stops for one in rung.choice.stack),
            ),
            start,
        )
        for rung in ladder.rungs
    ]


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
    asked = {rung.asked for rung in ladder.rungs} | {one.wanted for one in ladder.unreached}
    assert asked == {one.time for one in wanted_rungs(plan, abilities.pitch_um, Step.THIRD)}


def test_an_eighth_through_ten_stops_is_two_minutes_and_eight_seconds() -> None:
    """2^-3 s times 2^10 is 128 s, whether the filter was measured or not (ISO 5)."""
    text = '[base]\ntime = "1/8"\naperture = "f/8"\niso = 100\nmeasured = false\n[rungs]\ntimes = ["2m"]\n'
    head = HEAD.replace('darker_by = "nothing"\n', "")
    for measured in ("", "measured_stops = 10.0\n"):
        (rung,) = ladder_of(text + '[[filter]]\nname = "Calder 10"\nstops = 10\n' + measured, head).rungs
        assert rung.choice.time_s == pytest.approx(128)
        assert rung.choice.darker_by_stops == 0


def test_a_third_for_long_water_is_a_named_choice() -> None:
    rungs = '[rungs]\ntimes = ["1/125", "1"]\n'
    head = HEAD.replace('"nothing"', '"a third for long water"')
    ladder = ladder_of(BASE + rungs + SIX + TEN, head)
    darker = {rung.wanted.label: rung.choice.darker_by_stops for rung in ladder.rungs}
    assert darker["1/125"] == 0
    assert darker["1"] == pytest.approx(1 / 3)


def test_lens_and_body_bound_what_is_possible_and_what_is_written_is_hard() -> None:
    text = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 200\n[rungs]\ntimes = ["1/60"]\n'
    free = plan_of(text)
    apertures, isos = allowed_apertures(free, abilities_of(free)), allowed_isos(free, abilities_of(free))
    assert (apertures[0].label, apertures[-1].label) == ("f/2.8", "f/22")
    assert (isos[0].label, isos[-1].label) == ("100", "25600")
    bound = plan_of(text + "[limits]\naperture_stops = 1.0\niso = [200, 800]\nextended_iso = true\n")
    apertures, isos = allowed_apertures(bound, abilities_of(bound)), allowed_isos(bound, abilities_of(bound))
    assert (apertures[0].label, apertures[-1].label) == ("f/5.6", "f/11")
    assert (isos[0].label, isos[-1].label) == ("200", "800")


def test_depth_of_field_wanted_narrows_the_apertures() -> None:
    text = BASE + '[rungs]\ntimes = ["1/125"]\n[limits]\naperture = ["f/2.8", "f/16"]\ndepth_m = [1.0, 30.0]\n'
    plan = plan_of(text)
    labels = [mark.label for mark in allowed_apertures(plan, abilities_of(plan))]
    # 1/near - 1/far = 2 (s - f) / (s H'): near 1 m, far 30 m, focus 1.935 m, H' = 2.04 m, N = f^2 / (c H') = 9.8
    assert labels[0] == "f/10"


def test_extended_iso_is_off_until_written_and_counts_its_lost_headroom_in_full() -> None:
    text = '[base]\ntime = "1"\naperture = "f/16"\niso = 100\n[rungs]\ntimes = ["4"]\n'
    (nearest,) = ladder_of(text).rungs
    assert (nearest.choice.time_label, nearest.choice.iso.label) == ("2", "100")
    ladder = ladder_of(text + "[limits]\nextended_iso = true\n")
    (rung,) = ladder.rungs
    assert (rung.choice.time_label, rung.choice.aperture.label, rung.choice.iso.label) == ("4", "f/22", "50")
    assert rung.headroom_lost_stops == pytest.approx(1.0)
    assert rung.choice.paid.headroom_stops == pytest.approx(1.0)
    assert rung.choice.paid.noise_stops == 0, "its gain is that of ISO 100"
    assert "extended ISO 50 costs 1 stop of highlight headroom" in rung.reason
    assert any("extended ISO: white water clips sooner" in one for one in ladder.cautions)
    of_base = ladder_of(text.replace("iso = 100", "iso = 50").replace('"4"', '"1"') + "[limits]\nextended_iso = true\n")
    assert of_base.rungs[0].choice.iso.label == "50"
    assert any("sooner than at the body's own lowest ISO" in one for one in of_base.cautions), (
        "the base is at 50 itself"
    )


def test_a_graduated_filter_is_fitted_where_asked_and_pays_nothing() -> None:
    soft = '[[filter]]\nname = "Soft 2"\nstops = 2\nkind = "graduated"\n'
    text = BASE + '[rungs]\ntimes = ["1/125"]\n[[rung]]\ntime = "0.5"\nalso = ["Soft 2"]\n'
    ladder = ladder_of(text + SIX + soft)
    by_time = {rung.wanted.label: rung for rung in ladder.rungs}
    assert [one.name for one in by_time["0.5"].fitted] == ["Calder 6", "Soft 2"]
    assert by_time["0.5"].choice.filter_stops == 6
    assert by_time["1/125"].fitted == ()


def test_falling_light_takes_frozen_rungs_first_and_rising_light_long_ones() -> None:
    """1/500 s at dusk needs all the light there is; four minutes are as easily had later, with less glass or wider."""
    text = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1/500", "1/250", "2", "1m", "4m"]\n'
    first = {}
    for trend in ("falling", "rising"):
        ladder = ladder_of(text + f'frames = 1\n[light]\ntrend = "{trend}"\n' + SIX + TEN)
        first[trend] = ladder.rungs[0].wanted.label
        kind = "frozen" if trend == "falling" else "long"
        assert any(f"The light is {trend}" in one and f"{kind} rungs come first" in one for one in ladder.cautions)
    assert first == {"falling": "1/500", "rising": "4:00"}


@pytest.mark.parametrize("must", ["0.5", "8"])
def test_in_light_that_goes_what_must_be_had_comes_before_what_is_lost(must: str) -> None:
    """Half a stop a minute, and ISO 200 gives back one: what comes after 65 s has its light, after three minutes none.

    4:16 needs ISO 200 in the light of the base already.
    """
    limits = '[limits]\naperture = ["f/8", "f/8"]\niso = [100, 200]\n'
    falling = '[light]\ntrend = "falling"\nstops_per_min = 0.5\n'
    base = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
    rungs = '[rungs]\ntimes = ["0.5", "8", "4:16"]\nframes = 1\n'
    ladder = ladder_of(base + limits + rungs + falling + SIX + TEN + f'[[rung]]\ntime = "{must}"\nmust = true\n')
    first = ladder.rungs[0]
    assert (first.asked.label, first.must) == (must, True)
    assert any("By the forecast there is too little light left for rungs 2 and 3" in one for one in ladder.cautions)
    led_by = "rungs that must be had come first" if must == "8" else "frozen rungs come first"
    assert any(led_by in one for one in ladder.cautions)


def test_light_that_stays_is_lost_for_no_rung() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["0.5", "8", "4:16"]\n' + SIX + TEN)
    assert not any("too little light left" in one for one in ladder.cautions)


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


def test_other_ways_are_paid_with_something_else() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["1/500", "0.5", "4m"]\n' + THREE + SIX + TEN, others=5)
    for rung in ladder.rungs:
        kinds = [one.kind for one in rung.others]
        assert kinds
        assert len(set(kinds)) == len(kinds)
        for one in rung.others:
            assert one.words.startswith(f"{one.kind}: ")
            assert "ISO" in one.words
            assert "f/" in one.words
            if "deeper" in one.kind:
                assert one.choice.aperture.exact > rung.choice.aperture.exact * 1.3
            if "cleaner" in one.kind:
                assert one.choice.iso.exact < rung.choice.iso.exact / 1.8
    many = ladder.rungs[-1].others[-1]
    assert many.kind == "many short ones", "last, and by name"
    assert many.words.endswith('taken only with rungs.many = "use"'), "habit is not why"
    assert "NEQ" not in str([rung.costs for rung in ladder.rungs])


def test_a_rung_says_what_it_costs_and_the_next_best_way() -> None:
    """Two stops faster than f/11: f/8 and ISO 200 cost 1.14, f/5.6 would cost 0.86, but a stop comes first."""
    text = '[base]\ntime = "1/60"\naperture = "f/11"\niso = 100\n[rungs]\ntimes = ["1/250"]\n'
    (rung,) = ladder_of(text, others=1).rungs
    assert rung.costs.startswith("Costs 1.15 stops (noise 1.00, blur at the edges of the depth 0.15).")
    assert "Next best, cleaner and wider open: 1/250 s, f/5.6, ISO 100, no filter: costs 0.87 stop" in rung.costs
    assert rung.costs.endswith("set aside by habit.")


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


def test_a_way_that_spares_touches_says_so() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["0.5", "2:08", "4:16"]\n' + THREE + SIX + TEN, others=9)
    words = " ".join(one.words for rung in ladder.rungs for one in rung.others)
    assert "touches -" not in words
    assert "touches spared -0.60" in words


def test_the_remedy_named_for_too_little_light_helps() -> None:
    limits = "[limits]\naperture_stops = 1.0\niso = [100, {}]\n"
    text = BASE + '[rungs]\ntimes = ["1/2000"]\n'
    (unreached,) = ladder_of(text + limits.format(400)).unreached
    assert "limits.iso up to 800" in unreached.sentence
    assert not ladder_of(text + limits.format(800)).unreached


def test_what_in_the_bag_would_help_is_said() -> None:
    """1/8 to 0.5 s are four to six stops slower: ten stops are too many for them at base ISO, six are right for all."""
    text = BASE + '[rungs]\ntimes = ["1/8", "1/4", "0.5"]\n' + TEN
    ladder = ladder_of(text)
    assert all(rung.choice.iso.exact > 100 for rung in ladder.rungs)
    assert "A six-stop filter would make rungs 1 to 3 at ISO 100." in ladder.cautions
    helped = ladder_of(text + SIX)
    assert all(rung.choice.iso.exact == 100 for rung in helped.rungs)


def test_a_body_that_cannot_be_held_says_so_where_many_is_not_wanted() -> None:
    text = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\nmany = "never"\n' + SIX + TEN
    (unreached,) = ladder_of(text, head=MIRROR).unreached
    assert "has no bulb" in unreached.sentence
    assert "rungs.many" not in unreached.sentence


def test_nothing_within_the_limits_is_an_error_in_a_sentence() -> None:
    with pytest.raises(PlanError, match="no aperture and ISO"):
        ladder_of(BASE + '[rungs]\ntimes = ["1"]\n[limits]\niso = [102400, 204800]\n')


def test_a_turn_before_a_rung_that_is_not_there() -> None:
    with pytest.raises(PlanError, match="no rung has this time; there are 1"):
        ladder_of(BASE + '[rungs]\ntimes = ["1"]\n[[turn]]\nbefore = "2"\nwhat = "wipe the glass"\n' + SIX)


def test_cautions_follow_place_and_filters() -> None:
    river = ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n').cautions
    assert not any("solar viewer" in one for one in river)
    coast = ladder_of('[place]\nwater = "coast"\n' + BASE + '[rungs]\ntimes = ["8"]\n' + TEN).cautions
    assert any("solar viewer" in one and "ISO 12312-2" in one for one in coast)
    assert any("tide" in one for one in coast)


def test_a_filter_that_would_show_dark_corners_is_left_out_and_said() -> None:
    text = BASE + '[rungs]\ntimes = ["0.5"]\n' + SIX + "smallest_focal_mm = 28\n"
    ladder = ladder_of(text)
    assert ladder.unreached
    assert not ladder.rungs[0].fitted
    assert any("Calder 6 is left out: it shows dark corners" in one for one in ladder.cautions)
    assert ladder_of(text.replace("= 28", "= 20")).rungs[0].fitted


def test_a_polariser_is_not_turned_within_a_ladder() -> None:
    polariser = '[[filter]]\nname = "Polariser"\nstops = 1.6\nkind = "always on"\n'
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n' + polariser)
    assert ladder.rungs[0].choice.iso.label == "100"  # it is on for the base too, so it costs nothing
    assert ladder.rungs[0].fitted == ()
    assert any("Polariser stays on" in one for one in ladder.cautions)


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
    assert [one.wanted.label for one in alone.unreached] == ["0.5"]


def test_a_graduated_filter_that_is_on_for_no_rung_is_said() -> None:
    grad = '[[filter]]\nname = "Soft 2"\nstops = 2\nkind = "graduated"\n'
    assert any(
        "Soft 2 is on for no rung" in one for one in ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n' + grad).cautions
    )


def test_the_ladder_says_when_the_person_wants_to_leave() -> None:
    text = BASE + '[rungs]\ntimes = ["1/125"]\n'
    assert ladder_of(text).leave_by is None
    assert ladder_of(text + '[run]\nleave_by = "18:40"\n').leave_by == "18:40"


def test_three_glasses_are_a_caution() -> None:
    text = '[base]\ntime = "1/500"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["8m"]\n'
    polariser = '[[filter]]\nname = "Polariser"\nstops = 1.6\nkind = "always on"\n'
    ladder = ladder_of(text + polariser + THREE + SIX + TEN)
    (caution,) = [one for one in ladder.cautions if "glasses" in one]
    assert caution.startswith("Rung 1 is made through three or more glasses")


def test_brighter_beyond_the_measured_headroom_is_forbidden() -> None:
    """A filter of 5.9 stops makes 1/2 s a tenth of a stop brighter; with 0.05 measured the next third is taken."""
    filters = '[[filter]]\nname = "Calder 6"\nstops = 6\nmeasured_stops = 5.9\n'
    limits = '[limits]\naperture = ["f/8", "f/8"]\n'
    text = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n{}[rungs]\ntimes = ["0.5"]\n'
    (free,) = ladder_of(text.format("") + limits + filters).rungs
    assert free.choice.error_stops == pytest.approx(0.1)
    bound = ladder_of(text.format("headroom_stops = 0.05\n") + limits + filters)
    assert bound.rungs[0].choice.error_stops == pytest.approx(0.1 - 1 / 3)
    assert bound.rungs[0].choice.time_label == "0.4"


def test_a_measured_tint_counts_as_its_weakest_channel() -> None:
    text = BASE + '[rungs]\ntimes = ["0.5"]\n' + SIX
    (unknown,) = ladder_of(text).rungs
    (known,) = ladder_of(text + "tint_stops = 0.45\n").rungs
    assert (unknown.choice.paid.tint_stops, known.choice.paid.tint_stops) == (0.1, 0.45)


def test_a_bracket_around_a_long_rung_is_made_by_iso_and_by_shorter_time() -> None:
    """Four minutes two stops over is not sixteen minutes."""
    text = '[base]\ntime = "1/4"\naperture = "f/8"\niso = 100\n[[rung]]\ntime = "4:16"\nbracket = [-2, 2]\nframes = 1\n'
    ladder = ladder_of(text + '[[turn]]\nbefore = "4:16"\nwhat = "shield the glass"\n' + TEN)
    made = [(one.choice.bracket_stops, one.choice.time_s, one.choice.iso.label) for one in ladder.rungs]
    assert made == [(None, 256, "100"), (-2, 64, "100"), (2, 256, "400")]
    assert [one.number for one in ladder.rungs] == [1, 2, 3]
    assert relative_brightness(ladder) == pytest.approx([0, -2, 2])
    assert [turn.what for turn in ladder.turns if turn.kind == "own"] == ["shield the glass"]
    assert ladder.rungs[2].reason == "2 stops brighter than 4:16 min, to blend with it: by ISO 400"


def test_a_frame_around_a_rung_whose_time_is_off_says_what_it_is_made_by() -> None:
    """A filter of 10.1 stops makes 4:16 be held for another time, and so is the frame around it."""
    ten = TEN.replace("10.0", "10.1")
    ladder = ladder_of(BASE + '[[rung]]\ntime = "4:16"\nbracket = [2]\n' + SIX + ten)
    rung, bright = ladder.rungs
    assert rung.choice.time_s != rung.asked.exact
    assert bright.choice.time_s == rung.choice.time_s
    assert bright.reason.endswith(f"to blend with it: by ISO {bright.choice.iso.label}")


def test_a_bracket_around_a_short_rung_is_made_by_time() -> None:
    ladder = ladder_of(BASE + '[[rung]]\ntime = "1/60"\nbracket = [1.0, -1.0]\n')
    assert [one.choice.time_label for one in ladder.rungs] == ["1/60", "1/125", "1/30"]
    assert len({one.choice.aperture for one in ladder.rungs}) == 1


def test_a_bracket_that_cannot_be_had_is_said() -> None:
    ladder = ladder_of(BASE + '[[rung]]\ntime = "1/8000"\nbracket = [-2, 2]\n')
    assert len(ladder.rungs) == 2
    assert any(one.startswith("1 of 2 frames around rungs (bracket)") for one in ladder.cautions)


def test_a_rung_of_a_bracket_that_is_solved_again_keeps_its_aperture_and_its_stops() -> None:
    text = '[base]\ntime = "1/4"\naperture = "f/8"\niso = 100\n[[rung]]\ntime = "4:16"\nbracket = [2]\n' + TEN
    plan = plan_of(text)
    bright = make_ladder(plan, abilities_of(plan)).rungs[1]
    again = solve_again(plan, abilities_of(plan), bright.choice, bright.wanted, brighter_by_stops=1 / 3)
    assert again is not None
    assert (again.aperture, again.bracket_stops) == (bright.choice.aperture, 2)
    gained = log2(again.time_s / bright.choice.time_s) + log2(again.iso.exact / bright.choice.iso.exact)
    assert gained == pytest.approx(1 / 3, abs=1e-6)


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
