"""Noise against published data of a real sensor, and frames drawn with published noise."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.data import rows
from tether.files.raw import RawFrame
from tether.frames.levels import histograms, levels_of
from tether.frames.noise import Noise, noise_between, photon_transfer

Column = NDArray[np.float64]
#: EMVA 1288 Reference Set 001, published results (`photon_transfer_ccd12.csv`): K [DN/e-], the dark noise [e-].
K, SIGMA_D_E = 0.280769280926, 10.8980275235
#: DNG 1.7.1.0 NoiseProfile, green, of a camera at ISO 100 (`raw_numbers.csv`), from black 512 to white 16383.
ISO_100 = Noise(gain=2.6489662012664987e-05 * 15871, read=math.sqrt(8.906043908577676e-09) * 15871)


@pytest.fixture(scope="module")
def series() -> dict[str, Column]:
    found = rows("photon_transfer_ccd12")
    return {name: np.array([float(row[name]) for row in found]) for name in found[0]}


@pytest.fixture(scope="module")
def used(series: dict[str, Column]) -> NDArray[np.bool_]:
    """The points up to 70 % of saturation, which is where the variance is largest: those that EMVA 1288 takes."""
    signal = series["mean_dn"] - series["dark_mean_dn"]
    return np.asarray(signal <= 0.7 * signal[series["var_dn2"].argmax()])


def slope_through_zero(x: Column, y: Column) -> float:
    """Return the slope of EMVA 1288's line through the dark frames' point: that of points and their mirror images."""
    return photon_transfer(np.concatenate([x, -x]), np.concatenate([y, -y])).gain


def test_gain_and_saturation_of_a_real_sensor(series: dict[str, Column], used: NDArray[np.bool_]) -> None:
    signal, variance = series["mean_dn"] - series["dark_mean_dn"], series["var_dn2"] - series["dark_var_dn2"]
    photons = series["photons_per_pixel"]
    assert int(used.sum()) == 26
    gain = slope_through_zero(signal[used], variance[used])
    assert gain == pytest.approx(K, rel=1e-9)
    response = slope_through_zero(photons[used], signal[used])
    assert response == pytest.approx(0.126726922819, rel=1e-9)
    saturated = float(photons[series["var_dn2"].argmax()])
    assert response / gain * saturated == pytest.approx(13972.6302563, rel=1e-8)


def test_dark_noise_and_dark_current_of_a_real_sensor(series: dict[str, Column]) -> None:
    dark = photon_transfer(series["exposure_ms"], series["dark_var_dn2"])
    assert dark.read == pytest.approx(3.07341849276, rel=1e-8)
    assert math.sqrt(dark.read**2 - 1 / 12) / K == pytest.approx(SIGMA_D_E, rel=1e-8)
    current = photon_transfer(series["exposure_ms"] / 1000, series["dark_mean_dn"]).gain / K
    assert current == pytest.approx(28.4074312749, rel=1e-5)


def test_bright_frames_alone_give_the_gain_but_hardly_the_read_noise(
    series: dict[str, Column], used: NDArray[np.bool_]
) -> None:
    """Without dark frames the line is free: the gain of the real sensor is 1 % off, its read noise 28 %."""
    found = photon_transfer((series["mean_dn"] - series["dark_mean_dn"])[used], series["var_dn2"][used])
    assert found.gain == pytest.approx(K, rel=0.015)
    assert found.read == pytest.approx(3.07341849276, rel=0.35)


@pytest.mark.parametrize(
    ("truth", "white"), [(Noise(gain=K, read=K * SIGMA_D_E), 4095), (ISO_100, 15871)], ids=["ccd", "iso100"]
)
def test_drawn_frames_give_back_the_published_noise(truth: Noise, white: int) -> None:
    """Two frames of 600 squares, in whole numbers as a converter gives them, with 1/12 DN² for that."""
    rng = np.random.default_rng(7)
    scene = np.kron(white * 0.6 * 2.0 ** -rng.uniform(0, 9, (20, 30)), np.ones((16, 16)))

    def drawn() -> NDArray[np.float32]:
        read = rng.normal(0, truth.read, scene.shape)
        return np.asarray(np.round(truth.gain * rng.poisson(scene / truth.gain) + read), dtype=np.float32)

    found = noise_between(drawn(), drawn())
    assert found.gain == pytest.approx(truth.gain, rel=0.03)
    assert found.read == pytest.approx(math.sqrt(truth.read**2 + 1 / 12), rel=0.1)


@pytest.mark.parametrize("row", [row for row in rows("sensor_examples") if row["quantity"] == "noise_sigma"])
def test_our_noise_is_the_noise_profile_of_dng(row: dict[str, str]) -> None:
    """DNG counts from 0 at black to 1 at white: sigma(x) = sqrt(S x + O)."""
    given, way = json.loads(row["inputs"]), 15871
    noise = Noise(gain=given["S"] * way, read=math.sqrt(given["O"]) * way)
    sigma = math.sqrt(float(noise.variance(given["x"] * way))) / way
    assert sigma == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize(
    "row", [row for row in rows("sensor_examples") if row["quantity"] in ("linear_reference", "stops_below_white")]
)
def test_levels_of_the_worked_examples(row: dict[str, str]) -> None:
    given = json.loads(row["inputs"])
    mosaic = np.full((4, 4), given["raw"], dtype=np.uint16)
    frame = RawFrame(mosaic=mosaic, pattern="RGGB", black=(float(given["black"]),) * 4, white=given["white"])
    green = levels_of(histograms(frame), frame.white).channels["G"]
    found = green.headroom_stops if row["quantity"] == "stops_below_white" else min(green.mean, 1.0)
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
