"""What a rung may be made with: apertures, ISO values and times within the limits, by habit and by cost."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.plans import (
    BASE,
    HEAD,
    MIRROR,
    SIX,
    TEN,
    abilities_of,
    ladder_of,
    plan_of,
)
from tether.exposure.filters import Filter
from tether.exposure.labels import parse_aperture, parse_time
from tether.plan.choices import (
    Space,
    allowed_apertures,
    allowed_isos,
    best_by_stack,
    best_many,
    best_single,
    can_hold,
    darker_by,
    make_space,
    nearest_time_s,
    tied_at,
)


def test_many_short_ones_stand_for_a_long_one_only_where_asked() -> None:
    base = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\n'
    (offered,) = ladder_of(base + SIX, head=MIRROR).rungs
    assert (offered.choice.way, offered.choice.time_label, offered.asked.label) == ("timed", "15", "2:00")
    (unreached,) = ladder_of(base + SIX, head=MIRROR).unreached
    assert '8 × 15 s, f/22, ISO 100, Calder 6 with rungs.many = "use"' in unreached.sentence
    (asked,) = ladder_of(base + 'many = "use"\n' + SIX, head=MIRROR).rungs
    assert (asked.choice.way, asked.choice.time_label, asked.frames) == ("many", "15", 8)
    assert "noise 2.8 times lower" in asked.reason  # sqrt(8), EMVA 1288 4.0


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
    assert any("extended ISO: white water clips sooner" in one for one in ladder.notes)
    of_base = ladder_of(text.replace("iso = 100", "iso = 50").replace('"4"', '"1"') + "[limits]\nextended_iso = true\n")
    assert of_base.rungs[0].choice.iso.label == "50"
    assert any("sooner than at the body's own lowest ISO" in one for one in of_base.notes), "the base is at 50 itself"


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


# Directly


def space_of(text: str, *stacks: tuple[Filter, ...]) -> Space:
    plan = plan_of(BASE + text)
    return make_space(plan, abilities_of(plan), stacks or ((),))


ANY = '[rungs]\ntimes = ["1/125"]\n'
ONE_PAIR = '[limits]\naperture = ["f/8", "f/8"]\niso = [100, 100]\n'


@pytest.mark.parametrize(
    ("able", "time_s", "can"),
    [(True, 0.9, False), (True, 1.0, True), (True, 10.0, True), (True, 10.1, False), (None, 5.0, False)],
)
def test_a_body_is_held_within_its_bounds_and_where_that_is_known(able: bool | None, time_s: float, can: bool) -> None:
    body = replace(abilities_of(plan_of(BASE + ANY)), can_hold=able, shortest_hold_s=1.0, longest_hold_s=10.0)
    assert can_hold(body, time_s) == can


def test_a_number_of_stops_darkens_every_rung_and_what_is_unmeasured_none_yet() -> None:
    for rule, time_s, darker in [("0.5", 2**-7, 0.5), ("0.5", 60.0, 0.5), ('"what is unmeasured"', 60.0, 0.0)]:
        plan = plan_of(BASE + ANY, head=HEAD.replace('"nothing"', rule))
        assert darker_by(plan, time_s) == darker


def test_what_headroom_takes_from_the_bright_side_the_dark_side_gets() -> None:
    """A sixth either way is a third in all."""
    free, bound = (space_of(ANY), space_of(ANY.replace("[rungs]", "headroom_stops = 0.05\n[rungs]")))
    assert (free.brighter_at_most, free.darker_at_most) == pytest.approx((1 / 6, 1 / 6))
    assert (bound.brighter_at_most, bound.darker_at_most) == pytest.approx((0.05, 1 / 3 - 0.05))


@pytest.mark.parametrize(
    ("aperture", "iso", "slower", "other"),
    [
        ("f/8", "100", 0, 0),
        ("f/11", "100", 0, 0),
        ("f/16", "100", 2, 2),  # more than a stop from the base's
        ("f/4", "100", 2, 2),
        ("f/22", "100", 6, 2),  # past f/16
        ("f/2.8", "100", 10, 2),  # more than two stops wider
        ("f/8", "200", 8, 0),
    ],
)
def test_habit_ranks_apertures_and_iso_otherwise_for_a_slower_rung(
    aperture: str, iso: str, slower: int, other: int
) -> None:
    (pair,) = (one for one in space_of(ANY).pairs if (one.aperture.label, one.iso.label) == (aperture, iso))
    assert (pair.rank_slower, pair.rank) == (slower, other)


def test_where_a_depth_is_written_no_aperture_is_too_far_from_the_bases() -> None:
    assert {pair.rank for pair in space_of(ANY + "[limits]\ndepth_m = [5.0, 30.0]\n").pairs} == {0}


def test_no_stack_makes_what_is_longer_than_the_plan_lets_it_be() -> None:
    space = space_of(ANY + '[limits]\nlongest = "1/60"\n')
    assert best_by_stack(space, parse_time("1/30"), [True]) == (None,)
    assert best_by_stack(space, parse_time("1/60"), [True]) != (None,)


def test_many_are_no_more_than_the_plan_lets_them_be() -> None:
    """The longest frames first: through ten stops f/8 makes 32 s, and four of them are two minutes."""
    base = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\nmany_at_most = {}\n'
    ten = Filter.of("ten", stops=10)
    for most, frames in ((4, 4), (3, None)):
        plan = plan_of(base.format(most), head=MIRROR)
        found = best_many(make_space(plan, abilities_of(plan), ((ten,),)), parse_time("2m"), 0)
        assert (found and found.frames) == frames


def test_the_nearest_time_that_can_be_had_is_the_bases_where_nothing_else_can_pay() -> None:
    ten = Filter.of("ten", stops=10)
    space = space_of(ANY + ONE_PAIR, (), (ten,))
    assert nearest_time_s(space, 1.0, [True, False]) == pytest.approx(2**-7)
    assert nearest_time_s(space, 1.0, [True, True]) == pytest.approx(2**3), "three stops off, not seven"
    assert nearest_time_s(space, 1.0, [False, False]) is None
    assert nearest_time_s(space_of(ANY + ONE_PAIR + 'longest = "1"\n', (ten,)), 1.0, [True]) is None


def test_a_way_that_is_as_good_at_another_aperture_is_found_and_no_dearer_one() -> None:
    """From ISO 400 a stop slower is had by f/11 or by ISO 200; f/16 with ISO 400 would lose contrast."""
    plan = plan_of(BASE.replace("iso = 100", "iso = 400") + ANY)
    space, wanted = make_space(plan, abilities_of(plan), ((),)), parse_time("1/60")
    best = best_single(space, wanted, 0)
    assert best is not None
    tied = tied_at(space, wanted, 0, best.aperture)
    assert tied is not None
    assert tied.price == best.price
    assert tied_at(space, wanted, 0, parse_aperture("f/2.8")) is None
