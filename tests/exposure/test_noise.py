from __future__ import annotations

import json
import math
from collections.abc import Callable

import pytest

from tests.data import rows
from tether.exposure import noise

Inputs = dict[str, float]


def from_photons(values: Inputs) -> float:
    """EMVA 1288: the quantisation noise 1/12 DN² is read noise too, K converting it to electrons."""
    read_e = math.sqrt(values["sigma_d_e"] ** 2 + 1 / 12 / values["K"] ** 2)
    return noise.snr(values["QE"] * values["photons"], 0, read_e)


BY_NAME: dict[str, Callable[[Inputs], float]] = {
    "snr": lambda v: noise.snr(v["signal_e"], v["dark_e"], v["read_e"]),
    "snr_photons_set001": from_photons,
}


@pytest.mark.parametrize("row", [row for row in rows("sensor_examples") if row["quantity"] in BY_NAME])
def test_examples_of_the_table(row: dict[str, str]) -> None:
    found = BY_NAME[row["quantity"]](json.loads(row["inputs"]))
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", rows("stack_gain_measured"))
def test_noise_falls_as_measured_on_real_frames(row: dict[str, str]) -> None:
    """EMVA 1288 Reference Set 001: the square-root law holds to 1 %."""
    assert noise.noise_gain(int(row["n"])) == pytest.approx(float(row["gain_vs_one"]), rel=0.01)
