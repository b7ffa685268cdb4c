"""Test exposures: once for each stack, six stops up, and what is told without glass before it."""

from __future__ import annotations

import pytest

from tests.plan.plans import HEAD, abilities_of, plan_of
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.plan.ladder import Rung
from tether.plan.planner import make_ladder

FILTERS = "".join(f'[[filter]]\nname = "Calder {n}"\nstops = {n}\nmeasured_stops = {n}.0\n' for n in (6, 10))
BASE = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n'
LIMITS = '[limits]\naperture = ["f/4", "f/16"]\niso = [100, 3200]\n'


def rungs(times: str, more: str = "", base: str = BASE) -> tuple[Rung, ...]:
    plan = plan_of(f"{base}[rungs]\ntimes = {times}\n{more}{LIMITS}{FILTERS}", HEAD)
    return make_ladder(plan, abilities_of(plan)).rungs


def test_each_stack_is_tested_when_it_is_first_fitted_and_no_bare_rung_is() -> None:
    found = rungs('["1/125", "1", "2", "10", "15"]')
    stacks = [tuple(one.name for one in rung.fitted) for rung in found]
    assert [rung.proof is not None for rung in found] == [
        bool(stack) and stack not in stacks[:at] for at, stack in enumerate(stacks)
    ]


@pytest.mark.parametrize("time", ["1", "10", "2m", "4m"])
def test_a_test_exposure_is_as_bright_as_its_rung_six_stops_faster_at_its_aperture(time: str) -> None:
    (rung,) = rungs(f'["{time}"]')
    proof, choice = rung.proof, rung.choice
    assert proof is not None
    assert proof.iso.label == "6400"
    level = time_stops(proof.time_s, choice.time_s) + iso_stops(proof.iso.exact, choice.iso.exact)
    level += aperture_stops(proof.aperture.exact, choice.aperture.exact)
    assert level == pytest.approx(proof.error_stops, abs=1e-6)
    assert proof.aperture == choice.aperture or choice.time_s / 64 > 15
    assert proof.time_s <= 17


def test_only_a_test_that_would_be_longer_than_fifteen_seconds_is_opened_up() -> None:
    """Twenty minutes are 19 s six stops faster: a third of a stop wider makes it 15 s."""
    (rung,) = rungs('["20m"]', base=BASE.replace("1/60", "0.5"))
    assert rung.proof is not None
    if rung.choice.time_s / 2 ** iso_stops(rung.proof.iso.exact, rung.choice.iso.exact) > 15:
        assert rung.proof.aperture.exact < rung.choice.aperture.exact
    assert rung.proof.time_s <= 17


def test_the_iso_of_a_test_and_those_of_bulb_exposures_are_told_without_glass() -> None:
    """ISO 6400, and for the two minutes their own ISO and one and two stops above it; never the base's own."""
    bare_rung, *_, long = rungs('["1/60", "1", "2m"]')
    first = next(rung for rung in rungs('["1/60", "1", "2m"]') if rung.fitted)
    told = [one.iso.exact for one in first.bare]
    isos = {long.choice.iso.exact * 2**stops for stops in (0, 1, 2)} - {100.0} | {6400.0}
    assert told == pytest.approx(sorted(isos))
    assert not bare_rung.bare
    assert all(one.aperture.label == "f/8" for one in first.bare)
    assert all(-1 < one.error_stops <= 0.03 for one in first.bare), "as bright as the base, or a little darker"


def test_without_base_frames_only_bulb_exposures_get_one_and_nothing_is_told_before() -> None:
    found = rungs('["1/60", "1", "2m"]', base=BASE + "frames = 0\n")
    assert [bool(rung.tests) for rung in found] == [rung.choice.way == "held" for rung in found]
    assert all(not rung.bare for rung in found)


def test_no_test_exposure_where_the_plan_wants_none() -> None:
    assert all(not rung.tests for rung in rungs('["1/60", "1", "2m"]', "[run]\nproof = false\n"))
