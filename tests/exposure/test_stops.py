from __future__ import annotations

import json
from dataclasses import replace

import pytest

from tests.data import rows
from tether.errors import PlanError
from tether.exposure.labels import parse_aperture, parse_time
from tether.exposure.marks import Step
from tether.exposure.stops import Exposure, aperture_stops, brightness_stops, ev100, iso_stops, time_stops

BASE = Exposure(time_s=1 / 128, aperture=8, iso=100)


def test_differences_are_positive_when_brighter() -> None:
    assert time_stops(2, 1) == 1
    assert aperture_stops(2**2.5, 8) == pytest.approx(1)
    assert iso_stops(400, 100) == 2


def test_brightness_counts_from_one_second_at_f1_and_iso_100() -> None:
    assert brightness_stops(Exposure(time_s=1, aperture=1, iso=100)) == 0
    assert brightness_stops(Exposure(time_s=4, aperture=2, iso=200)) == pytest.approx(2 - 2 + 1)


def test_army_subcourse_examples() -> None:
    """US Army subcourse SS0508, table 1-6: 1 s at f/32 equals 1/250 at f/2; 1/500 at f/5.6 becomes 1/60 at f/16."""
    slow = Exposure(time_s=parse_time("1").exact, aperture=parse_aperture("f/32").exact, iso=100)
    fast = Exposure(time_s=parse_time("1/250").exact, aperture=parse_aperture("f/2").exact, iso=100)
    assert brightness_stops(slow) == pytest.approx(brightness_stops(fast), abs=1e-12)
    base = Exposure(time_s=parse_time("1/500").exact, aperture=parse_aperture("f/5.6").exact, iso=100)
    stopped = Exposure(time_s=parse_time("1/60").exact, aperture=parse_aperture("f/16").exact, iso=100)
    assert brightness_stops(stopped) == pytest.approx(brightness_stops(base), abs=1e-12)


@pytest.mark.parametrize("row", rows("nd_times"))
def test_base_time_through_a_filter(row: dict[str, str]) -> None:
    base_s = parse_time(row["base_mark"], Step.THIRD).exact
    assert base_s == pytest.approx(float(row["base_exact_seconds"]))
    assert time_stops(float(row["exact_seconds"]), base_s) == pytest.approx(float(row["filter_stops"]), abs=1e-8)


@pytest.mark.parametrize("row", [row for row in rows("exposure_pairs") if row["function"] == "exposure_value_100"])
def test_pairs_of_the_table(row: dict[str, str]) -> None:
    values = json.loads(row["inputs"])
    assert ev100(values["t"], values["N"], values["S"]) == pytest.approx(
        float(row["expected"]), abs=float(row["abs_tolerance"])
    )


@pytest.mark.parametrize("row", rows("scale_time"))
def test_time_values(row: dict[str, str]) -> None:
    assert -time_stops(float(row["exact_seconds"]), 1) == pytest.approx(float(row["Tv_decimal"]), abs=1e-6)


@pytest.mark.parametrize("row", rows("scale_aperture"))
def test_aperture_values(row: dict[str, str]) -> None:
    assert -aperture_stops(float(row["exact_N"]), 1) == pytest.approx(float(row["Av_decimal"]), abs=1e-6)


def test_exif_annex_c() -> None:
    """Exif 2.2 Annex C: Ev = Av + Tv, 7 + 6 for 1/128 s at f/8; two stops of ISO are two of the light."""
    assert ev100(1 / 128, 8, 100) == 13
    assert ev100(1 / 128, 8, 400) == 11


@pytest.mark.parametrize("value", [0, -1, float("nan"), float("inf")])
@pytest.mark.parametrize("name", ["time_s", "aperture", "iso"])
def test_an_exposure_of_nonsense_is_refused(name: str, value: float) -> None:
    with pytest.raises(PlanError, match="An exposure needs"):
        replace(BASE, **{name: value})


def test_all_that_is_wrong_is_said_at_once() -> None:
    with pytest.raises(PlanError) as refusal:
        Exposure(time_s=0, aperture=0, iso=0)
    assert len(refusal.value.sentences) == 3
