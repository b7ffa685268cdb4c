"""Noise found in frames: on drawn frames of known noise, and with most of the picture moving."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tether.frames.noise import Noise, noise_between, photon_transfer


def drawn(levels: NDArray[np.float64], gain: float, read: float, rng: np.random.Generator) -> NDArray[np.float32]:
    caught = gain * rng.poisson(levels / gain)
    return np.asarray(caught + rng.normal(0, read, levels.shape), dtype=np.float32)


def squares(rng: np.random.Generator) -> NDArray[np.float64]:
    return np.asarray(np.kron(rng.uniform(50, 8000, (20, 30)), np.ones((16, 16))), dtype=np.float64)


@settings(max_examples=12, deadline=None)
@given(gain=st.floats(0.1, 4.0), read=st.floats(1.0, 12.0), seed=st.integers(0, 2**32 - 1))
def test_gain_is_found_in_two_frames(gain: float, read: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    levels = squares(rng)
    found = noise_between(drawn(levels, gain, read, rng), drawn(levels, gain, read, rng))
    assert found.gain == pytest.approx(gain, rel=0.03)


def test_what_moves_does_not_pass_for_noise() -> None:
    rng = np.random.default_rng(4)
    levels = squares(rng)
    moved = np.where(np.kron(rng.random((20, 30)) < 0.6, np.ones((16, 16))) > 0, rng.permutation(levels), levels)
    found = noise_between(drawn(levels, 0.5, 3.0, rng), drawn(moved, 0.5, 3.0, rng))
    assert found.gain == pytest.approx(0.5, rel=0.05)


def test_frames_of_one_level_have_no_line() -> None:
    with pytest.raises(ValueError, match="single level"):
        photon_transfer(np.array([100.0, 100.0]), np.array([3.0, 4.0]))


def test_variance_of_a_signal() -> None:
    assert Noise(gain=0.5, read=2.0).variance(100.0) == pytest.approx(54.0)
    assert Noise(gain=0.5, read=2.0).variance(-100.0) == pytest.approx(4.0)
