"""What a body can do: what follows of its numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.plans import BASE, abilities_of, plan_of


def test_a_sensor_has_as_many_pixels_as_pitch_and_size_tell() -> None:
    """36 × 24 mm at 6 µm are 6000 × 4000."""
    body = abilities_of(plan_of(BASE + '[rungs]\ntimes = ["1"]\n'))
    assert replace(body, pitch_um=6.0, sensor_mm=(36.0, 24.0)).sensor_px == pytest.approx((6000, 4000))
