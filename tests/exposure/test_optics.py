from __future__ import annotations

import json
import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from tether.exposure import optics

Inputs = dict[str, float]


def field_mm(values: Inputs) -> tuple[float, float]:
    return optics.depth_of_field_mm(values["f_mm"], values["N"], values["coc_mm"], values["s_mm"])


def streak_px(values: Inputs) -> float:
    if "object_pixel_m" in values:  # a lens and a distance that give the object pixel of the machine-vision example
        values = values | {"f_mm": 50, "distance_m": 0.5, "pitch_um": values["object_pixel_m"] * 1e5}
    return optics.streak_px(
        values["v_m_s"],
        values["t_s"],
        focal_mm=values["f_mm"],
        distance_m=values["distance_m"],
        pitch_um=values["pitch_um"],
    )


BY_NAME: dict[str, Callable[[Inputs], float]] = {
    "hyperfocal": lambda v: optics.hyperfocal_mm(v["f_mm"], v["N"], v["coc_mm"]),
    "hyperfocal_simple_ft": lambda v: (optics.hyperfocal_mm(v["f_in"], v["N"], v["coc_in"]) - v["f_in"]) / 12,
    "dof_near": lambda v: field_mm(v)[0],
    "dof_far": lambda v: field_mm(v)[1],
    "coc_full_frame": lambda v: optics.circle_of_confusion_mm(v["diagonal_mm"], v["divisor"]),
    "streak_px": streak_px,
}


def tolerance(row: dict[str, str]) -> float:
    """Return the row's tolerance as an absolute number; rows without one are good to the figures printed."""
    number, _, unit = row["tolerance"].partition(" ")
    if not number:
        return 1e-5 * float(row["expected"])
    return float(number) / 100 * float(row["expected"]) if unit == "%" else float(number)


@pytest.mark.parametrize("row", [row for row in rows("optics") if row["quantity"] in BY_NAME])
def test_values_of_the_table(row: dict[str, str]) -> None:
    found = BY_NAME[row["quantity"]](json.loads(row["inputs"]))
    if row["expected"] == "inf":
        assert math.isinf(found)
    else:
        assert found == pytest.approx(float(row["expected"]), abs=tolerance(row))


def test_focused_at_the_hyperfocal_distance_half_of_it_to_infinity_is_sharp() -> None:
    """US Army subcourse SS0507, learning event 10: field 10.4 ft to infinity for 20.8 ft."""
    hyperfocal = optics.hyperfocal_mm(50, 8, 0.03)
    near, far = optics.depth_of_field_mm(50, 8, 0.03, hyperfocal)
    assert near == pytest.approx(hyperfocal / 2)
    assert math.isinf(far)


def test_focused_at_infinity_the_field_begins_at_the_short_hyperfocal_distance() -> None:
    """The limit of the same formulae; a focus of 10^12 mm agrees."""
    near, far = optics.depth_of_field_mm(24, 11, 0.03, math.inf)
    assert near == pytest.approx(optics.hyperfocal_mm(24, 11, 0.03) - 24)
    assert near == pytest.approx(optics.depth_of_field_mm(24, 11, 0.03, 1e12)[0])
    assert math.isinf(far)


@given(
    focal_mm=st.floats(min_value=10, max_value=200),
    near_mm=st.floats(min_value=300, max_value=20_000),
    depth=st.one_of(st.floats(min_value=1.01, max_value=100), st.just(math.inf)),
)
def test_the_aperture_for_a_range_makes_just_that_range_sharp(focal_mm: float, near_mm: float, depth: float) -> None:
    aperture, focus_mm = optics.aperture_for_range(focal_mm, 0.03, near_mm, near_mm * depth)
    near, _ = optics.depth_of_field_mm(focal_mm, aperture, 0.03, focus_mm)
    _, far = optics.depth_of_field_mm(focal_mm, aperture, 0.03, focus_mm * (1 - 1e-9))
    assert near == pytest.approx(near_mm, rel=1e-6)
    # Near the hyperfocal distance the far limit runs away with the last figure of the focus: compared as 1/far.
    assert 1 / far == pytest.approx(1 / (near_mm * depth), abs=1e-8 / near_mm)


@given(
    streak=st.floats(min_value=0.1, max_value=1e4),
    speed_m_s=st.floats(min_value=0.01, max_value=50),
    distance_m=st.floats(min_value=1, max_value=5000),
)
def test_a_streak_and_the_time_for_it(streak: float, speed_m_s: float, distance_m: float) -> None:
    time_s = optics.time_for_streak_s(streak, speed_m_s, focal_mm=24, distance_m=distance_m, pitch_um=4.35)
    drawn = optics.streak_px(speed_m_s, time_s, focal_mm=24, distance_m=distance_m, pitch_um=4.35)
    assert drawn == pytest.approx(streak)


def test_contrast_through_a_perfect_lens() -> None:
    """1 at rest, 0.391 at half the cut-off, 0 at and past it (Goodman, from memory; computed)."""
    cutoff_per_um = 1 / (optics.GREEN_UM * 8)
    found = [optics.diffraction_mtf(part * cutoff_per_um, 8) for part in (0, 0.5, 1, 2)]
    assert found == pytest.approx([1, 0.39100, 0, 0], abs=1e-5)


@given(st.floats(min_value=0.001, max_value=0.5), st.floats(min_value=1, max_value=32))
def test_stopping_down_never_adds_contrast(frequency_per_um: float, aperture: float) -> None:
    assert optics.diffraction_mtf(frequency_per_um, aperture * 1.1) <= optics.diffraction_mtf(
        frequency_per_um, aperture
    )
