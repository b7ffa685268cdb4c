from __future__ import annotations

import json
import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from tether.exposure import noise

Inputs = dict[str, float]


def of_many(snr: Callable[[float, float, float, int], float], values: Inputs) -> float:
    return snr(values["signal_e_per_frame"], values["dark_e_per_frame"], values["read_e"], int(values["frames"]))


def from_photons(values: Inputs) -> float:
    """EMVA 1288: the quantisation noise 1/12 DN² is read noise too, K converting it to electrons."""
    read_e = math.sqrt(values["sigma_d_e"] ** 2 + 1 / 12 / values["K"] ** 2)
    return noise.snr(values["QE"] * values["photons"], 0, read_e)


BY_NAME: dict[str, Callable[[Inputs], float]] = {
    "snr": lambda v: noise.snr(v["signal_e"], v["dark_e"], v["read_e"]),
    "snr_photons_set001": from_photons,
    "snr_one_long": lambda v: of_many(noise.snr_one_long, v),
    "snr_stack": lambda v: of_many(noise.snr_many, v),
}


@pytest.mark.parametrize("row", [row for row in rows("sensor_examples") if row["quantity"] in BY_NAME])
def test_examples_of_the_table(row: dict[str, str]) -> None:
    found = BY_NAME[row["quantity"]](json.loads(row["inputs"]))
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", rows("stack_gain_measured"))
def test_noise_falls_as_measured_on_real_frames(row: dict[str, str]) -> None:
    """EMVA 1288 Reference Set 001: the square-root law holds to 1 %."""
    assert noise.noise_gain(int(row["n"])) == pytest.approx(float(row["gain_vs_one"]), rel=0.01)


@given(
    signal_e=st.floats(min_value=0.1, max_value=1e5),
    dark_e=st.floats(min_value=0, max_value=1e3),
    read_e=st.floats(min_value=0.5, max_value=20),
    frames=st.integers(min_value=2, max_value=500),
)
def test_many_frames_lie_between_one_of_them_and_one_long(
    signal_e: float, dark_e: float, read_e: float, frames: int
) -> None:
    one, many, long = (
        noise.snr(signal_e, dark_e, read_e),
        noise.snr_many(signal_e, dark_e, read_e, frames),
        noise.snr_one_long(signal_e, dark_e, read_e, frames),
    )
    assert one < many < long
