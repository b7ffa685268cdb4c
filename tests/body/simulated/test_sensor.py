"""From electrons to raw numbers."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tether.body.simulated.sensor import Raw, Sensor, mosaic, preview
from tether.body.simulated.world import Clips, SensorTruth

TRUTH = SensorTruth(window_px=(200, 200))
FLAT = np.ones((200, 200))


def sensor(iso: float = 100.0, temperature_c: float = 20.0, truth: SensorTruth = TRUTH) -> Sensor:
    return Sensor(truth=truth, base_iso=100.0, iso=iso, temperature_c=temperature_c, seed=1)


def flat(electrons: float, seed: int, iso: float = 100.0) -> Raw:
    return sensor(iso).read(electrons * FLAT, np.random.default_rng(seed))


@pytest.mark.parametrize("iso", [100.0, 800.0])
def test_photon_transfer_gives_gain_and_read_noise(iso: float) -> None:
    # EMVA 1288 release 4.0: var = K² σ_d² + 1/12 + K (mean - mean_dark), fitted as a line.
    levels = np.linspace(0, 4000, 9)
    pairs = [(flat(e, 2 * i, iso).astype(float), flat(e, 2 * i + 1, iso).astype(float)) for i, e in enumerate(levels)]
    means = np.array([(a.mean() + b.mean()) / 2 - TRUTH.black for a, b in pairs])
    variances = np.array([(a - b).var() / 2 for a, b in pairs])
    slope = np.polyfit(means, variances, 1)[0]
    gain = (TRUTH.white - TRUTH.black) / TRUTH.full_well_e * iso / 100
    assert sensor(iso).gain == pytest.approx(gain)
    assert slope == pytest.approx(gain, rel=0.02)
    assert variances[0] == pytest.approx((gain * TRUTH.read_noise_e) ** 2 + 1 / 12, rel=0.03)


@pytest.mark.parametrize("frames", [4, 16])
def test_noise_of_a_stack_falls_with_the_root(frames: int) -> None:
    stack = np.mean([flat(2000.0, seed) for seed in range(frames)], axis=0)
    assert flat(2000.0, 99).std() / stack.std() == pytest.approx(np.sqrt(frames), rel=0.03)


def test_signal_is_linear_and_clips_at_white() -> None:
    assert flat(25_000.0, 1).mean() == pytest.approx(512 + (16383 - 512) / 2, rel=1e-3)
    assert flat(200_000.0, 1).min() == flat(200_000.0, 1).max() == 16383


def test_extended_iso_keeps_the_gain_and_loses_headroom() -> None:
    assert sensor(50.0).gain == sensor(100.0).gain
    assert flat(60_000.0, 1, iso=50.0).max() == 16383


@pytest.mark.parametrize("doubling_c", [5.0, 6.0, 8.0])
def test_dark_current_doubles(doubling_c: float) -> None:
    # Doubles per 5 to 8 °C: A. Theuwissen, Harvest Imaging blog, 2009.
    truth = TRUTH.model_copy(update={"dark_doubling_c": doubling_c})
    cold = sensor(temperature_c=10.0, truth=truth).dark_electrons(100.0)
    warm = sensor(temperature_c=10.0 + 2 * doubling_c, truth=truth).dark_electrons(100.0)
    assert warm / cold == pytest.approx(np.full(cold.shape, 4.0))
    assert sensor().dark_electrons(60.0).min() == pytest.approx(60 * TRUTH.dark_e_s)


def test_worked_example_of_dark_electrons() -> None:
    # KAF-1401 worked example (University of Vigo notes): 50 e-/s at 25 °C is 3000 e- in a minute; halved per 5 °C it
    # is 93.75 e- at 0 °C. Its rate at our reference of 20 °C is 25 e-/s.
    truth = SensorTruth(window_px=(120, 120), dark_e_s=25.0, dark_doubling_c=5.0, hot_share=0.0)
    assert sensor(temperature_c=25.0, truth=truth).dark_electrons(60.0).mean() == pytest.approx(3000)
    assert sensor(temperature_c=0.0, truth=truth).dark_electrons(60.0).mean() == pytest.approx(93.75)


def test_hot_pixels_stay_where_they_are() -> None:
    truth = SensorTruth(window_px=(200, 200), hot_share=0.002)
    dark = sensor(truth=truth).dark_electrons(100.0)
    hot = dark > 2 * np.median(dark)
    assert 40 < np.count_nonzero(hot) < 130
    assert np.array_equal(hot, sensor(truth=truth).dark_electrons(1.0) > 2 * truth.dark_e_s)


def dark_pair(electrons: NDArray[np.float64]) -> tuple[Raw, Raw]:
    camera = sensor()
    return camera.read(electrons, np.random.default_rng(1)), camera.read(electrons, np.random.default_rng(2))


def test_less_dark_takes_the_pattern_and_doubles_the_variance() -> None:
    # Dark shot and read noise count twice when a dark frame is subtracted.
    electrons = np.full((200, 200), 1000.0)
    electrons[:100] += 3000.0
    one, other = dark_pair(electrons)
    cleaned = sensor().less_dark(one, other)
    assert cleaned.mean() == pytest.approx(TRUTH.black, abs=1)
    assert cleaned[100:].var() / one[100:].var() == pytest.approx(2, rel=0.05)


def test_mosaic_and_preview_agree_on_colour() -> None:
    picture = np.empty((3, 40, 60), dtype=np.float32)
    picture[:] = np.array([0.4, 0.2, 0.1], dtype=np.float32)[:, None, None]
    camera = sensor(truth=TRUTH.model_copy(update={"read_noise_e": 0.0}))
    raw = camera.read(mosaic(picture) * TRUTH.full_well_e, np.random.default_rng(1))
    shown = preview(raw, camera.levels()).reshape(-1, 3).mean(axis=0)
    # sRGB of 0.4, 0.2, 0.1 by IEC 61966-2-1; computed by hand.
    assert shown == pytest.approx((169.6, 123.6, 89.0), abs=1.5)


def test_black_stays_black() -> None:
    raw = flat(0.0, 1)
    assert raw.mean() == pytest.approx(TRUTH.black, abs=0.1)
    assert raw.dtype == np.uint16


def clipping(**clips: object) -> Sensor:
    return sensor(truth=SensorTruth(window_px=(200, 200), clips=Clips.model_validate(clips)))


def test_clips_under_the_white_level_by_channel_and_spread_and_stay_where_they_are() -> None:
    camera = clipping(under=(0.08, 0.12, 0.15), spread=0.01)
    one, other = (camera.read(80_000.0 * FLAT, np.random.default_rng(seed)).astype(float) for seed in (1, 2))
    for place, under in (((0, 0), 0.08), ((0, 1), 0.12), ((1, 0), 0.12), ((1, 1), 0.15)):
        plane = one[place[0] :: 2, place[1] :: 2] - TRUTH.black
        span = TRUTH.white - TRUTH.black
        assert plane.mean() / span == pytest.approx(1 - under, abs=0.001)
        assert plane.std() / plane.mean() == pytest.approx(0.01, rel=0.05)
    # What differs between two frames is the reading alone: 3 electrons of 0.317 DN each.
    assert (one - other).std() / np.sqrt(2) == pytest.approx(3 * camera.gain, rel=0.1)


def test_a_knee_halves_the_answer_under_the_clip() -> None:
    camera = clipping(under=(0.1, 0.1, 0.1), knee=0.2)
    span = TRUTH.white - TRUTH.black
    # The clip lies at 0.9 of white, the knee at 0.72; 0.80 of white comes as 0.72 + 0.04.
    told = camera.read(0.80 * TRUTH.full_well_e * FLAT, np.random.default_rng(1)).mean() - TRUTH.black
    assert told / span == pytest.approx(0.76, abs=0.001)


def test_what_is_drawn_lies_within_its_bounds_and_differs_from_seed_to_seed() -> None:
    drawn = [Clips(drawn=True).really(seed) for seed in range(50)]
    assert all(0.08 <= under <= 0.15 for clips in drawn for under in clips.under)
    assert all(0.003 <= clips.spread <= 0.02 for clips in drawn)
    assert any(clips.knee for clips in drawn)
    assert not all(clips.knee for clips in drawn)
    assert drawn[0] != drawn[1]
    assert Clips(drawn=True).really(0) == drawn[0]


def test_stuck_pixels_read_bright_whatever_falls_on_them() -> None:
    camera = sensor(truth=TRUTH.model_copy(update={"stuck_share": 0.002}))
    dark = camera.read(0.0 * FLAT, np.random.default_rng(1))
    assert 40 < np.count_nonzero(dark > TRUTH.white / 2) < 130
    assert np.array_equal(dark > 5000, camera.read(0.0 * FLAT, np.random.default_rng(2)) > 5000)
