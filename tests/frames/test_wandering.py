"""A step told from drift and wander: against straight lines, and against wanders of another make than is assumed."""

from __future__ import annotations

import numpy as np
import pytest

from tether.frames.wandering import Interval, Values, step_in

AT_S: Values = np.arange(30) * np.float64(8.0)
BESIDE = np.repeat([0.0, 1.0, 0.0], 10)
OPEN_S = np.full(30, 2.0)


@pytest.mark.parametrize(("size", "per_minute"), [(0.0, 0.0), (-10.37, 0.3), (3.0, -0.5)])
def test_a_step_in_light_that_drifts_evenly_is_exact(size: float, per_minute: float) -> None:
    found = step_in(size * BESIDE + per_minute * AT_S / 60, BESIDE, AT_S, OPEN_S)
    assert found.size.value == pytest.approx(size, abs=1e-6)
    assert found.per_minute == pytest.approx(per_minute, abs=1e-6)
    assert found.size.half_width < 1e-3


def test_the_interval_is_that_of_student_where_frames_scatter_alone() -> None:
    """Its half width by 27 degrees of freedom, or a little more: that there is no wander, nobody knows."""
    rng = np.random.default_rng(1)
    found = [step_in(rng.normal(0, 0.01, 30), BESIDE, AT_S, OPEN_S).size for _ in range(40)]
    students = 2.05 * 0.01 * np.sqrt(1 / 10 + 1 / 20)
    assert students < np.mean([one.half_width for one in found]) < 1.4 * students
    assert sum(not one.significant for one in found) >= 36


def test_the_interval_knows_of_light_that_went_where_no_frame_saw_it() -> None:
    """Sines are no wander as it is assumed; their phases are drawn. Least squares alone hold it in half of them."""
    rng = np.random.default_rng(2)
    at_s: Values = np.array([60.0 * stretch + 3.0 * turn for stretch in range(3) for turn in range(10)])
    found = []
    for _ in range(40):
        waves = [0.05 * share * np.sin(at_s * 6.28 / rng.uniform(40, 300) + rng.uniform(0, 6.28)) for share in (1, 0.5)]
        found.append(step_in(sum(waves) + rng.normal(0, 0.001, 30), BESIDE, at_s, OPEN_S).size)
    assert sum(not one.significant for one in found) >= 35
    assert np.median([one.half_width for one in found]) < 0.1


def test_what_can_not_be_told_from_drift_is_refused() -> None:
    with pytest.raises(ValueError, match="five frames"):
        step_in(np.zeros(4), np.array([0.0, 1, 1, 0]), AT_S[:4], OPEN_S[:4])
    with pytest.raises(ValueError, match="before"):
        step_in(np.zeros(30), AT_S, AT_S, OPEN_S)


def test_an_interval_widens_by_the_root_of_squares() -> None:
    wider = Interval(value=1.0, half_width=0.03).widened(0.04 / 1.96)
    assert wider.half_width == pytest.approx(0.05, rel=1e-3)
    assert wider.significant
    assert not Interval(value=-0.01, half_width=0.02).significant
