"""The planner: three golden ladders that pin a practitioner's choices, and what must hold for every ladder."""

from __future__ import annotations

import math
from math import log2

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from tests.plan.plans import HEAD, abilities_of, ladder_of, plan_of, settings
from tether.errors import PlanError
from tether.exposure.stops import Exposure, brighter_by
from tether.plan.choices import HELD_TIMES, allowed_apertures, allowed_isos
from tether.plan.ladder import Ladder
from tether.plan.planner import make_ladder

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
THREE, SIX, TEN = (
    f'[[filter]]\nname = "Calder {stops}"\nstops = {stops}\nmeasured_stops = {stops}.0\n' for stops in (3, 6, 10)
)
MIRROR = 'scale = "half"\n' + HEAD.replace('"simulated"', '"simulated-mirror"')


def test_golden_dusk() -> None:
    """Dusk at f/11 with three filters: filter first, then ISO up to two stops; few hands on the lens."""
    base = '[base]\ntime = "1/4"\naperture = "f/11"\niso = 100\n[rungs]\nfrom = "1/15"\nto = "4m"\n'
    ladder = ladder_of(base + THREE + SIX + TEN)
    assert settings(ladder) == [
        ("1/15", "1/15", "f/11", "400", "", 1),
        ("1/8", "1/8", "f/11", "200", "", 3),
        ("1/4", "1/4", "f/11", "100", "", 3),
        ("0.5", "0.5", "f/11", "400", "Calder 3", 3),
        ("1", "1", "f/11", "200", "Calder 3", 3),
        ("2", "2", "f/11", "100", "Calder 3", 3),
        ("4", "4", "f/11", "400", "Calder 6", 1),
        ("15", "15", "f/11", "100", "Calder 6", 1),
        ("1:04", "bulb", "f/11", "200", "Calder 6 + Calder 3", 1),
        ("4:00", "bulb", "f/14", "100", "Calder 6 + Calder 3", 1),
    ]
    assert [(turn.before_rung, turn.what) for turn in ladder.turns] == [
        (4, "fit Calder 3"),
        (7, "take off Calder 3, fit Calder 6"),
        (9, "fit Calder 3"),
    ]
    assert [rung.proof is not None for rung in ladder.rungs] == [False] * 8 + [True, True]
    assert not ladder.unreached


def test_golden_bright_day() -> None:
    """A bright day, two strong filters: aperture only where nothing else pays; what is on stays behind what comes."""
    base = '[base]\ntime = "1/250"\naperture = "f/8"\niso = 100\n[rungs]\nfrom = "1/1000"\nto = "2m"\n'
    ladder = ladder_of(base + SIX + TEN)
    assert settings(ladder) == [
        ("1/1000", "1/1000", "f/8", "400", "", 1),
        ("1/250", "1/250", "f/8", "100", "", 1),
        ("1/15", "1/15", "f/8", "400", "Calder 6", 1),
        ("1/8", "1/8", "f/8", "200", "Calder 6", 3),
        ("1/4", "1/4", "f/8", "100", "Calder 6", 3),
        ("0.5", "0.5", "f/11", "100", "Calder 6", 3),
        ("1", "1", "f/8", "400", "Calder 10", 3),
        ("2", "2", "f/8", "200", "Calder 10", 3),
        ("4", "4", "f/8", "100", "Calder 10", 1),
        ("15", "8", "f/11", "100", "Calder 10", 2),
        ("1:04", "bulb", "f/8", "400", "Calder 10 + Calder 6", 1),
        ("2:00", "bulb", "f/8", "200", "Calder 10 + Calder 6", 1),
    ]
    assert [turn.what for turn in ladder.turns] == [
        "fit Calder 6",
        "take off Calder 6, fit Calder 10",
        "fit Calder 6",
    ]
    (unreached,) = ladder.unreached
    assert unreached.sentence == (
        "1/60 s: 1 stop of light too much; the nearest is 1/125 s (f/11, ISO 100, no filter). Reachable with filters "
        "of 1.0 to 5.0 stops in all or a narrower aperture."
    )


def test_golden_mirror_body_without_bulb() -> None:
    """An old body in half stops that cannot be held, a polariser always on, one filter: *many* for the long ones."""
    base = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\nfrom = "1/60"\nto = "2m"\n'
    polariser = '[[filter]]\nname = "Polariser"\nstops = 1.5\nkind = "always on"\n'
    ladder = ladder_of(base + polariser + SIX, head=MIRROR)
    assert settings(ladder) == [
        ("1/60", "1/60", "f/8", "200", "", 1),
        ("1/15", "1/15", "f/11", "100", "", 1),
        ("1/4", "1/4", "f/5.6", "400", "Calder 6", 3),
        ("0.5", "0.5", "f/8", "400", "Calder 6", 3),
        ("1", "1", "f/8", "200", "Calder 6", 3),
        ("2", "2", "f/8", "100", "Calder 6", 3),
        ("4", "4", "f/11", "100", "Calder 6", 1),
        ("15", "4", "f/11", "100", "Calder 6", 4),
        ("1:04", "4", "f/11", "100", "Calder 6", 16),
        ("2:00", "4", "f/11", "100", "Calder 6", 30),
    ]
    assert [rung.choice.way for rung in ladder.rungs[-3:]] == ["many"] * 3
    assert [turn.what for turn in ladder.turns] == ["fit Calder 6", "cover the finder"]
    assert "noise 4.0 times lower" in ladder.rungs[8].reason  # sqrt(16), EMVA 1288 4.0


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
        assert -tolerance <= choice.error_stops <= max(tolerance, choice.darker_by_stops + 1e-6)
        assert brighter <= tolerance  # whatever is unmeasured, no rung is planned brighter than the base by more
        off = abs(log2(choice.stands_for_s / rung.wanted.exact))
        assert off <= tolerance * (HELD_TIMES if choice.way == "held" else 1)
        assert choice.aperture in allowed_apertures(plan, abilities)
        assert choice.iso in allowed_isos(plan, abilities)
        if choice.way == "held":
            assert choice.error_stops == 0
        else:
            assert choice.time_label in [mark.label for mark in abilities.times]
    assert len(ladder.rungs) + len(ladder.unreached) == len(
        {rung.wanted for rung in ladder.rungs} | {one.wanted for one in ladder.unreached}
    )


def test_a_dark_unmeasured_filter_is_allowed_for_and_a_measured_one_is_not() -> None:
    """±10 % of nominal density: 1.00 stop at density 3.0 (ANSI PH2.19-1976, data sheet of gelatin filters)."""
    rungs = '[rungs]\ntimes = ["8"]\n'
    filters = '[[filter]]\nname = "Calder 10"\nstops = 10\n'
    head = HEAD.replace('darker_by = "nothing"\n', "")
    assert ladder_of(BASE + rungs + filters, head).rungs[0].choice.darker_by_stops == pytest.approx(1.0)
    measured = filters + "measured_stops = 10.0\n"
    assert ladder_of(BASE + rungs + measured, head).rungs[0].choice.darker_by_stops == 0
    unsure = BASE + "measured = false\nuncertainty_stops = 0.5\n"
    assert ladder_of(unsure + rungs + measured, head).rungs[0].choice.darker_by_stops == pytest.approx(0.5)


def test_a_third_for_long_water_is_a_named_choice() -> None:
    rungs = '[rungs]\ntimes = ["1/125", "1"]\n'
    head = HEAD.replace('"nothing"', '"a third for long water"')
    ladder = ladder_of(BASE + rungs + SIX + "[limits]\niso_stops = 0\n" + TEN, head)
    darker = {rung.wanted.label: rung.choice.darker_by_stops for rung in ladder.rungs}
    assert darker["1/125"] == 0
    limit = ladder_of(BASE + '[rungs]\ntimes = ["1"]\n' + TEN, head).rungs[0]
    assert limit.choice.darker_by_stops == pytest.approx(1 / 3)


def test_diffraction_stops_the_lens_down_no_further_than_the_pitch_is_worth() -> None:
    text = '[base]\ntime = "1/125"\naperture = "f/14"\niso = 100\n[rungs]\ntimes = ["1/60"]\n'
    narrow = [mark.label for mark in allowed_apertures(plan_of(text), abilities_of(plan_of(text)))]
    assert narrow[-1] == "f/16"  # 2 p / lambda = 15.82 at 4.35 um and 550 nm; a stop from the base would be f/20
    told = plan_of(text + '[limits]\ndiffraction = "off"\n')
    assert allowed_apertures(told, abilities_of(told))[-1].label == "f/20"
    strict = plan_of(text + '[limits]\ndiffraction = "two pixels"\naperture = ["f/5.6", "f/22"]\n')
    assert allowed_apertures(strict, abilities_of(strict))[-1].label == "f/14"  # the base's own always stays


def test_depth_of_field_wanted_narrows_the_apertures() -> None:
    text = BASE + '[rungs]\ntimes = ["1/125"]\n[limits]\naperture = ["f/2.8", "f/16"]\ndepth_m = [1.0, 30.0]\n'
    plan = plan_of(text)
    labels = [mark.label for mark in allowed_apertures(plan, abilities_of(plan))]
    # 1/near - 1/far = 2 (s - f) / (s H'): near 1 m, far 30 m, focus 1.935 m, H' = 2.04 m, N = f^2 / (c H') = 9.8
    assert labels[0] == "f/10"


def test_extended_iso_is_off_until_allowed_and_counted_with_its_lost_headroom() -> None:
    text = '[base]\ntime = "1"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["4"]\nmany = "never"\n'
    assert not ladder_of(text).rungs
    (rung,) = ladder_of(text + "[limits]\nextended_iso = true\n").rungs
    assert (rung.choice.aperture.label, rung.choice.iso.label) == ("f/11", "50")
    assert rung.headroom_lost_stops == pytest.approx(1.0)
    assert "extended ISO 50 costs 1 stop of highlight headroom" in rung.reason


def test_a_graduated_filter_is_fitted_where_asked_and_pays_nothing() -> None:
    soft = '[[filter]]\nname = "Soft 2"\nstops = 2\nkind = "graduated"\n'
    text = BASE + '[rungs]\ntimes = ["1/125"]\n[[rung]]\ntime = "0.5"\nalso = ["Soft 2"]\n'
    ladder = ladder_of(text + SIX + soft)
    by_time = {rung.wanted.label: rung for rung in ladder.rungs}
    assert [one.name for one in by_time["0.5"].fitted] == ["Calder 6", "Soft 2"]
    assert by_time["0.5"].choice.filter_stops == 6
    assert by_time["1/125"].fitted == ()


@pytest.mark.parametrize(("light", "first"), [("falling", "4:00"), ("rising", "1/15"), ("steady", "1/15")])
def test_falling_light_takes_the_long_ones_first(light: str, first: str) -> None:
    base = '[base]\ntime = "1/4"\naperture = "f/11"\niso = 100\n[rungs]\nfrom = "1/15"\nto = "4m"\n'
    ladder = ladder_of(base + f'[light]\ntrend = "{light}"\n' + THREE + SIX + TEN)
    assert ladder.rungs[0].wanted.label == first


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
    assert ladder.forecast.fetching_s == pytest.approx(0.5 * (4 + 3))


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


def test_alternatives_cost_more_and_say_what_they_are() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["0.5", "4"]\n' + THREE + SIX + TEN, others=3)
    for rung in ladder.rungs:
        assert rung.others
        assert all(one.price_more >= -1e-9 for one in rung.others)
        assert all("ISO" in one.words and "f/" in one.words for one in rung.others)


def test_a_weight_changes_the_choice() -> None:
    text = BASE + '[rungs]\ntimes = ["1/500"]\n'
    assert ladder_of(text).rungs[0].choice.iso.label == "400"
    dear = ladder_of(text + "[costs]\niso_per_stop = 9.0\n").rungs[0].choice
    assert (dear.aperture.label, dear.iso.label) == ("f/5.6", "200")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[rungs]\ntimes = ["1/8000"]\n', ["of light too little", "limits.iso up to", "Reachable with"]),
        ('[rungs]\ntimes = ["1"]\n', ["of light too much", "filters of"]),
        ('[rungs]\ntimes = ["2m"]\n[limits]\nlongest = "1m"\n', ["longer than limits.longest of 1:00 min"]),
    ],
)
def test_what_cannot_be_had_is_said_with_a_remedy(text: str, words: list[str]) -> None:
    ladder = ladder_of(BASE + text)
    assert not ladder.rungs
    (unreached,) = ladder.unreached
    for word in words:
        assert word in unreached.sentence


def test_the_remedy_named_for_too_little_light_helps() -> None:
    text = BASE + '[rungs]\ntimes = ["1/2000"]\n'
    (unreached,) = ladder_of(text).unreached
    assert "limits.iso up to 800" in unreached.sentence
    assert ladder_of(text + "[limits]\niso = [100, 800]\n").rungs


def test_a_body_that_cannot_be_held_says_so_where_many_is_not_wanted() -> None:
    text = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\nmany = "never"\n' + SIX + TEN
    (unreached,) = ladder_of(text, head=MIRROR).unreached
    assert "cannot be held open" in unreached.sentence
    assert 'rungs.many = "use"' in unreached.sentence


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
    assert not ladder.rungs
    assert any("Calder 6 is left out: it shows dark corners" in one for one in ladder.cautions)
    assert ladder_of(text.replace("= 28", "= 20")).rungs


def test_a_polariser_is_not_turned_within_a_ladder() -> None:
    polariser = '[[filter]]\nname = "Polariser"\nstops = 1.6\nkind = "always on"\n'
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n' + polariser)
    assert ladder.rungs[0].choice.iso.label == "100"  # it is on for the base too, so it costs nothing
    assert ladder.rungs[0].fitted == ()
    assert any("Polariser stays on" in one for one in ladder.cautions)


def test_an_unmeasured_filter_darkens_a_timed_rung_only_as_far_as_it_can_be_had() -> None:
    """1/4 s through three stops at a fixed aperture and ISO is right; 0.3 stop of safety must not forbid it."""
    head = HEAD.replace('darker_by = "nothing"\n', "")
    text = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1/4"]\n'
    fixed = '[limits]\naperture = ["f/8", "f/8"]\niso = [100, 100]\n[[filter]]\nname = "Calder 3"\nstops = 3\n'
    (rung,) = ladder_of(text + fixed, head).rungs
    assert rung.choice.darker_by_stops == pytest.approx(0.3)
    assert rung.choice.error_stops == pytest.approx(0.3)


def test_filters_that_must_be_on_together_and_may_not_are_a_mistake_of_the_plan() -> None:
    grad = '[[filter]]\nname = "Soft 2"\nstops = 2\nkind = "graduated"\nstacks_with = []\n'
    polariser = '[[filter]]\nname = "Polariser"\nstops = 1.6\nkind = "always on"\n'
    also = BASE + '[rungs]\ntimes = ["1/125", "0.5"]\nalso = ["Soft 2"]\n'
    with pytest.raises(PlanError, match="may not be stacked"):
        ladder_of(also + grad + polariser)
    with pytest.raises(PlanError, match="dark corners"):
        ladder_of(also + grad + "smallest_focal_mm = 28\n")
    alone = ladder_of(also + grad + SIX)
    assert [rung.wanted.label for rung in alone.rungs] == ["1/125"]  # Calder 6 may not go with it


def test_a_graduated_filter_that_is_on_for_no_rung_is_said() -> None:
    grad = '[[filter]]\nname = "Soft 2"\nstops = 2\nkind = "graduated"\n'
    assert any(
        "Soft 2 is on for no rung" in one for one in ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n' + grad).cautions
    )


def test_the_ladder_says_when_the_person_wants_to_leave() -> None:
    text = BASE + '[rungs]\ntimes = ["1/125"]\n'
    assert ladder_of(text).leave_by is None
    assert ladder_of(text + '[run]\nleave_by = "18:40"\n').leave_by == "18:40"
