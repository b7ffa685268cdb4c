"""Noise: one long frame against many short ones that stand for it.

Electrons are counted above black. Model: shot noise of signal and dark current, and read noise once a frame, all
independent (EMVA 1288 4.0). Signal and dark electrons are not negative; the read noise is positive.
"""

from __future__ import annotations

import math


def snr(signal_e: float, dark_e: float, read_e: float) -> float:
    """Return the signal-to-noise ratio of one frame: S / sqrt(S + D + R²).

    Parameters
    ----------
    signal_e, dark_e
        Electrons from light and from dark current in a pixel [e-].
    read_e
        Read noise, standard deviation [e-].
    """
    return signal_e / math.sqrt(signal_e + dark_e + read_e**2)


def noise_gain(frames: int) -> float:
    """Return how many times the noise falls when `frames` equal frames are averaged: sqrt(n)."""
    return math.sqrt(frames)
