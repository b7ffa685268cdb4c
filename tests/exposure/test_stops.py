from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.data import rows
from tether.errors import PlanError
from tether.exposure.labels import parse_aperture, parse_time
from tether.exposure.marks import Step
from tether.exposure.stops import Exposure, aperture_stops, brighter_by, brightness_stops, iso_stops, solve, time_stops

BASE = Exposure(time_s=1 / 128, aperture=8, iso=100)

exposures = st.builds(
    Exposure,
    time_s=st.floats(min_value=1e-5, max_value=1e4),
    aperture=st.floats(min_value=0.95, max_value=64),
    iso=st.floats(min_value=25, max_value=409_600),
    filter_stops=st.floats(min_value=0, max_value=12),
)


def light(exposure: Exposure) -> float:
    """Return t S / N² through the filters: what the product's sums of stops stand for."""
    return exposure.time_s * exposure.iso / exposure.aperture**2 / 2**exposure.filter_stops


def solved_or_none(base: Exposure, values: dict[str, float]) -> Exposure | None:
    try:
        return solve(base, **values)
    except PlanError:
        return None


def test_differences_are_positive_when_brighter() -> None:
    assert time_stops(2, 1) == 1
    assert aperture_stops(2**2.5, 8) == pytest.approx(1)
    assert iso_stops(400, 100) == 2
    assert brighter_by(BASE, replace(BASE, filter_stops=6)) == 6


def test_brightness_counts_from_one_second_at_f1_and_iso_100() -> None:
    assert brightness_stops(Exposure(time_s=1, aperture=1, iso=100)) == 0
    assert brightness_stops(Exposure(time_s=4, aperture=2, iso=200, filter_stops=3)) == pytest.approx(2 - 2 + 1 - 3)


def test_army_subcourse_examples() -> None:
    """US Army subcourse SS0508, table 1-6: 1 s at f/32 equals 1/250 at f/2; 1/500 at f/5.6 becomes 1/60 at f/16."""
    slow = Exposure(time_s=parse_time("1").exact, aperture=parse_aperture("f/32").exact, iso=100)
    fast = Exposure(time_s=parse_time("1/250").exact, aperture=parse_aperture("f/2").exact, iso=100)
    assert brighter_by(slow, fast) == pytest.approx(0, abs=1e-12)
    base = Exposure(time_s=parse_time("1/500").exact, aperture=parse_aperture("f/5.6").exact, iso=100)
    stopped = solve(base, aperture=parse_aperture("f/16").exact, iso=100, filter_stops=0)
    assert stopped.time_s == pytest.approx(parse_time("1/60").exact)


@pytest.mark.parametrize("row", rows("nd_times"))
def test_base_time_through_a_filter(row: dict[str, str]) -> None:
    base = replace(BASE, time_s=parse_time(row["base_mark"], Step.THIRD).exact)
    assert base.time_s == pytest.approx(float(row["base_exact_seconds"]))
    longer = solve(base, aperture=8, iso=100, filter_stops=float(row["filter_stops"]))
    assert longer.time_s == pytest.approx(float(row["exact_seconds"]), rel=1e-9)


@given(base=exposures, wanted=exposures)
@pytest.mark.parametrize("unknown", ["time_s", "aperture", "iso"])
def test_a_solved_exposure_is_as_bright_as_its_base(unknown: str, base: Exposure, wanted: Exposure) -> None:
    given_values = {name: getattr(wanted, name) for name in vars(wanted) if name != unknown}
    solved = solved_or_none(base, given_values)
    assume(solved is not None)
    assert solved is not None
    assert light(solved) == pytest.approx(light(base))
    assert brighter_by(solved, base) == pytest.approx(0, abs=1e-9)
    assert all(getattr(solved, name) == value for name, value in given_values.items())


@given(base=exposures, wanted=exposures)
def test_a_filter_is_found_exactly_where_one_can_do_it(base: Exposure, wanted: Exposure) -> None:
    needed = brighter_by(replace(wanted, filter_stops=0.0), base)
    try:
        solved = solve(base, time_s=wanted.time_s, aperture=wanted.aperture, iso=wanted.iso)
    except PlanError:
        assert needed < 0 or needed > 64
    else:
        assert solved.filter_stops == pytest.approx(needed, abs=1e-8)


def test_the_base_itself_needs_no_filter() -> None:
    odd = Exposure(time_s=0.0123, aperture=7.3, iso=317)
    assert solve(odd, time_s=odd.time_s, aperture=odd.aperture, iso=odd.iso).filter_stops == pytest.approx(0, abs=1e-9)


def test_a_filter_that_brightens_is_refused() -> None:
    with pytest.raises(PlanError, match=r"already 1\.00 stops darker than the base"):
        solve(BASE, time_s=1 / 256, aperture=8, iso=100)


def test_exactly_one_value_is_solved_for() -> None:
    with pytest.raises(PlanError, match="left out here: none"):
        solve(BASE, time_s=1, aperture=8, iso=100, filter_stops=7)
    with pytest.raises(PlanError, match="left out here: iso, filter_stops"):
        solve(BASE, time_s=1, aperture=8)


@pytest.mark.parametrize("value", [0, -1, float("nan"), float("inf")])
@pytest.mark.parametrize("name", ["time_s", "aperture", "iso"])
def test_an_exposure_of_nonsense_is_refused(name: str, value: float) -> None:
    with pytest.raises(PlanError, match="An exposure needs"):
        replace(BASE, **{name: value})


def test_a_negative_filter_is_refused() -> None:
    with pytest.raises(PlanError, match="filters between 0 and 64 stops, not -1"):
        replace(BASE, filter_stops=-1)


def test_all_that_is_wrong_is_said_at_once() -> None:
    with pytest.raises(PlanError) as refusal:
        Exposure(time_s=0, aperture=0, iso=0, filter_stops=-1)
    assert len(refusal.value.sentences) == 4
