"""Levels of a raw frame: histograms by channel, how much is clipped, and how much headroom is left.

Headroom is counted from what the data say clips, not from the tag alone: real sensors clip below the tag's white level,
and noise reaches above it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, log2

import numpy as np
from numpy.typing import NDArray

from tether.files.raw import RawFrame
from tether.frames.mosaic import CHANNELS, Channel, Kind, Plane, planes
from tether.frames.regions import Regions

#: At most this share of the pixels may clip and the rest still count as headroom (common practice, no source).
CLIPPED_MAY_BE = 0.001
#: Sensors clip no lower than this share of the way from black to the white level of the file (from one real file whose
#: camera's own white is 15360 of 16383).
CLIPS_FROM = 0.93
#: A spike at the top of a histogram is a clip where so many times as many pixels share one level as around it, and no
#: fewer than so many.
_SPIKE, _SPIKE_PIXELS = 8.0, 32
#: All that 16 bits can hold.
_LEVELS = 1 << 16
#: Counted at a time: numpy counts in numbers of eight bytes, and so many rows of them stay in the processor's cache.
_BAND_ROWS = 64


@dataclass(frozen=True, kw_only=True)
class ChannelLevels:
    """Levels of one channel in one region.

    Attributes
    ----------
    mean
        Mean above black, as a share of the way from black to clipping; may be a little below 0.
    clipped_share
        Share of the pixels that clip.
    headroom_stops
        How much brighter the exposure could have been until `CLIPPED_MAY_BE` of the pixels clip [stops]; None where
        more clip already, since it is not known by how much it is too bright; inf where nothing is above black.
    """

    mean: float
    clipped_share: float
    headroom_stops: float | None


@dataclass(frozen=True, kw_only=True)
class Levels:
    """Levels of a region: by channel, and the worst of them."""

    channels: Mapping[Channel, ChannelLevels]

    @property
    def headroom_stops(self) -> float | None:
        """The least headroom of the three channels [stops]; None where one of them is burnt out."""
        found = [one.headroom_stops for one in self.channels.values()]
        return None if None in found else min(stops for stops in found if stops is not None)

    @property
    def clipped_share(self) -> float:
        """The largest share of clipped pixels of the three channels."""
        return max(one.clipped_share for one in self.channels.values())


@dataclass(frozen=True, kw_only=True)
class Histogram:
    """How many pixels of one place have each raw level, from 0 on; with its channel and black level."""

    channel: Channel
    counts: NDArray[np.int64]
    black: float


def histograms(frame: RawFrame) -> tuple[Histogram, ...]:
    """Return the raw histograms of the four places of the pattern."""
    return tuple(_histogram(plane) for plane in planes(frame))


def histograms_by_kind(
    frame: RawFrame, regions: Regions, kind: Kind
) -> tuple[tuple[Histogram, ...], tuple[Histogram, ...]]:
    """Return the raw histograms of the four places within a kind of region, and those of the whole frame."""
    within, beside = zip(*(_by_kind(plane, regions, kind) for plane in planes(frame)), strict=True)
    return within, tuple(together([one, other]) for one, other in zip(within, beside, strict=True))


def _by_kind(plane: Plane, regions: Regions, kind: Kind) -> tuple[Histogram, Histogram]:
    within, beside = (np.zeros(_LEVELS, dtype=np.int64) for _ in range(2))
    for inside, rows, columns in regions.blocks(kind, plane.values.shape):
        _count(plane.values[rows, columns], within if inside else beside)
    return _counted(plane, within), _counted(plane, beside)


def _histogram(plane: Plane) -> Histogram:
    counts = np.zeros(_LEVELS, dtype=np.int64)
    for top in range(0, len(plane.values), _BAND_ROWS):
        _count(plane.values[top : top + _BAND_ROWS], counts)
    return _counted(plane, counts)


def _count(values: NDArray[np.uint16], counts: NDArray[np.int64]) -> None:
    found = np.bincount(values.ravel())
    counts[: len(found)] += found


def _counted(plane: Plane, counts: NDArray[np.int64]) -> Histogram:
    highest = int(counts.nonzero()[0].max(initial=0))
    return Histogram(channel=plane.channel, counts=counts[: highest + 1], black=plane.black)


def clip_level(found: tuple[Histogram, ...], white: int) -> int:
    """Return the raw level from which on pixels count as clipped.

    Parameters
    ----------
    found
        Histograms of the whole frame.
    white
        The white level of the file.

    Returns
    -------
    int
        The start of the spike that clipping makes at the top of a histogram, where there is one near `white`; else
        `white`.
    """
    spikes = [spike for one in found if (spike := _spike(one, white)) is not None]
    return min([white, *spikes])


def _spike(one: Histogram, white: int) -> int | None:
    start = int(one.black + CLIPS_FROM * (white - one.black))
    top = one.counts[start:]
    if not top.any():
        return None
    peak = int(top.argmax())
    around = (top.sum() - top[peak]) / max(len(top) - 1, 1)
    return start + peak if top[peak] > max(_SPIKE * around, _SPIKE_PIXELS) else None


def levels(frame: RawFrame) -> Levels:
    """Return the levels of a whole frame, by where its own histograms say that pixels clip."""
    found = histograms(frame)
    return levels_of(found, clip_level(found, frame.white))


def levels_of(
    found: tuple[Histogram, ...], clips_at: int | Mapping[Channel, int], may_clip: float = CLIPPED_MAY_BE
) -> Levels:
    """Return levels from histograms that were counted already.

    Parameters
    ----------
    clips_at
        The raw level from which on pixels are clipped, or for each channel its own.
    may_clip
        The share of the pixels that may clip and the rest still count as headroom.
    """
    at = dict.fromkeys(CHANNELS, clips_at) if isinstance(clips_at, int) else clips_at
    return Levels(
        channels={
            channel: _channel_levels([one for one in found if one.channel == channel], at[channel], may_clip)
            for channel in CHANNELS
        }
    )


def _channel_levels(found: list[Histogram], clips_at: int, may_clip: float) -> ChannelLevels:
    pixels = sum(int(one.counts.sum()) for one in found)
    clipped = sum(int(one.counts[clips_at:].sum()) for one in found)
    above = sum(_sum_above_black(one, clips_at) for one in found)
    return ChannelLevels(
        mean=above / pixels,
        clipped_share=clipped / pixels,
        headroom_stops=_headroom(together(found), clips_at, may_clip),
    )


def together(found: list[Histogram]) -> Histogram:
    """Return pixels of one channel counted as one."""
    counts = np.zeros(max(len(one.counts) for one in found), dtype=np.int64)
    for one in found:
        counts[: len(one.counts)] += one.counts
    return Histogram(channel=found[0].channel, counts=counts, black=sum(one.black for one in found) / len(found))


def _sum_above_black(one: Histogram, clips_at: int) -> float:
    values = np.arange(len(one.counts)) - one.black
    return float((one.counts * values).sum() / (clips_at - one.black))


def _headroom(one: Histogram, clips_at: int, may_clip: float) -> float | None:
    """Return the stops from the level that `may_clip` of the pixels reach to clipping; None: more clip."""
    at = level_exceeded_by(one, may_clip)
    if at >= clips_at:
        return None
    above = at - one.black
    return log2((clips_at - one.black) / above) if above > 0 else inf


def finite(headroom_stops: float | None) -> float | None:
    """Return a headroom as it is told on [stops]: None too where nothing is above black."""
    return None if headroom_stops == inf else headroom_stops


def level_exceeded_by(one: Histogram, share: float) -> int:
    """Return the highest raw level that at least this share of the pixels reach."""
    from_top = one.counts[::-1].cumsum()
    needed = max(share * from_top[-1], 1)
    return len(one.counts) - 1 - int(np.searchsorted(from_top, needed))
