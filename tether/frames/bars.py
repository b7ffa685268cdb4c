"""A raw histogram in bars: the share of the pixels by how far below clipping they are, by channel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tether.frames.levels import Histogram
from tether.frames.mosaic import CHANNELS
from tether.journal.readings import HistogramSaid

#: It begins so many stops below clipping; a stop has so many bars.
STOPS, BARS_A_STOP = 9, 3
#: Decimals of a share that are kept: a journal has one of these for every frame.
_DECIMALS = 6


def bars_of(found: Sequence[Histogram], clips_at: int, of: Literal["water", "whole picture"]) -> HistogramSaid:
    """Return histograms of the four places of the pattern in bars.

    Parameters
    ----------
    found
        The histograms.
    clips_at
        The raw level from which on pixels are clipped.
    of
        What was counted.
    """
    shares: dict[str, tuple[float, ...]] = {}
    clipped: dict[str, float] = {}
    for channel in CHANNELS:
        places = [one for one in found if one.channel == channel]
        pixels = max(sum(int(one.counts.sum()) for one in places), 1)
        counted = sum((_bars(one, clips_at) for one in places), np.zeros(STOPS * BARS_A_STOP))
        shares[channel] = tuple(round(float(share), _DECIMALS) for share in counted / pixels)
        clipped[channel] = sum(int(one.counts[clips_at:].sum()) for one in places) / pixels
    return HistogramSaid(of=of, stops=STOPS, shares=shares, clipped=clipped)


def _bars(one: Histogram, clips_at: int) -> NDArray[np.float64]:
    """Return the pixels in each bar that do not clip."""
    counts = one.counts[:clips_at]
    above = np.maximum(np.arange(len(counts)) - one.black, 1e-9)
    bar = np.floor((np.log2(above / (clips_at - one.black)) + STOPS) * BARS_A_STOP).astype(int)
    found = np.bincount(np.clip(bar, 0, STOPS * BARS_A_STOP - 1), weights=counts, minlength=STOPS * BARS_A_STOP)
    return found.astype(np.float64)
