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
    by_channel = {channel: [one for one in found if one.channel == channel] for channel in CHANNELS}
    return HistogramSaid(
        of=of,
        stops=STOPS,
        shares={channel: _shares(places, clips_at) for channel, places in by_channel.items()},
        clipped={channel: _clipped(places, clips_at) for channel, places in by_channel.items()},
    )


def _pixels(places: Sequence[Histogram]) -> int:
    return max(sum(int(one.counts.sum()) for one in places), 1)


def _shares(places: Sequence[Histogram], clips_at: int) -> tuple[float, ...]:
    counted = sum((_bars(one, clips_at) for one in places), np.zeros(STOPS * BARS_A_STOP))
    return tuple(round(float(share), _DECIMALS) for share in counted / _pixels(places))


def _clipped(places: Sequence[Histogram], clips_at: int) -> float:
    return sum(int(one.counts[clips_at:].sum()) for one in places) / _pixels(places)


def _bars(one: Histogram, clips_at: int) -> NDArray[np.float64]:
    """Return the pixels in each bar that do not clip."""
    counts = one.counts[:clips_at]
    above = np.maximum(np.arange(len(counts)) - one.black, 1e-9)
    bar = np.floor((np.log2(above / (clips_at - one.black)) + STOPS) * BARS_A_STOP).astype(int)
    found = np.bincount(np.clip(bar, 0, STOPS * BARS_A_STOP - 1), weights=counts, minlength=STOPS * BARS_A_STOP)
    return found.astype(np.float64)
