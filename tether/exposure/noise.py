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


def snr_one_long(signal_e: float, dark_e: float, read_e: float, frames: int) -> float:
    """Return the signal-to-noise ratio of one frame `frames` times as long: n s / sqrt(n s + n d + R²).

    `signal_e` and `dark_e` are per short frame [e-]; see :func:`snr`.
    """
    return snr(frames * signal_e, frames * dark_e, read_e)


def snr_many(signal_e: float, dark_e: float, read_e: float, frames: int) -> float:
    """Return the signal-to-noise ratio of `frames` short frames added up: n s / sqrt(n (s + d + R²)).

    The read noise counts once a frame: this is what *many* costs. Parameters as for :func:`snr_one_long`.
    """
    return snr(signal_e, dark_e, read_e) * noise_gain(frames)


def noise_gain(frames: int) -> float:
    """Return how many times the noise falls when `frames` equal frames are averaged: sqrt(n)."""
    return math.sqrt(frames)
