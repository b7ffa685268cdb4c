"""Where pixels really clip: by two equal frames, by a known step between two, or by the edge of a histogram.

Real sensors clip up to a sixth under the white level that a file tells, each pixel at a level of its own. Pixels that
clip repeat: between two equal frames they differ by the reading alone, while all others differ by the noise of their
light at least (photon transfer), and by far more where something moves. So what repeats is the first witness. The
second are pixels that a known step should have brought far beyond clipping. A heap at the top of a histogram may as
well be an even sky: it is believed only as long as nothing better is known, and leaves more uncertain.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tether.files.raw import RawFrame
from tether.frames.levels import Histogram, clip_level, together
from tether.frames.mosaic import CHANNELS, Channel, Plane, planes
from tether.frames.noise import MAD, Noise, noise_between

Field = NDArray[np.float32]
Witness = Literal["pair", "step", "spike", "edge", "tag"]

#: How surely each witness tells the level [stops]; a pixel's own level may be off by more (own simulation).
OFF_STOPS: dict[Witness, float] = {"pair": 0.02, "step": 0.05, "spike": 0.02, "edge": 0.1, "tag": 0.1}
#: Nothing clips below this share of the way from black to the white level of the file.
_LOWEST = 0.6
#: Levels are looked at in so many parts of the way from black to white.
_PARTS = 200
#: Pixels repeat that differ by no more than this share of what their light's noise makes of a difference; so many do
#: by chance where nothing else differs (normal distribution).
_REPEATS, _BY_CHANCE = 0.3, 0.2358
#: A level clips where, of the pixels that have it, more than this share repeat beyond chance, and so many at least.
_CLIPPED, _LEAST = 0.4, 24
#: Beside it, levels belong to it down to this share.
_BESIDE = 0.25
#: In all, no fewer than this share of the pixels must clip to tell the level.
_SHARE = 0.0005
#: Of pixels that clip, this share does so below the level that is told: the lowest would make all others headroom.
_BELOW = 0.1
#: A step brings pixels so far beyond white that they clip however far off it is; so many are wanted, of which this
#: share lies within so much of their middle.
_BEYOND, _LEAST_STEPPED, _ALIKE, _NEAR = 1.35, 200, 0.6, 0.06
#: A heap at the edge begins at this share of the way to white, and has so many times as many pixels as what lies below.
_EDGE_FROM, _HEAP, _HEAP_WIDE = 0.8, 4.0, 0.02


@dataclass(frozen=True, kw_only=True)
class Clip:
    """The raw level from which on pixels of each channel count as clipped [DN], and what tells it."""

    levels: Mapping[Channel, int]
    witness: Witness

    @property
    def off_stops(self) -> float:
        """Its standard uncertainty [stops]."""
        return OFF_STOPS[self.witness]

    @property
    def lowest(self) -> int:
        """The level of the channel that clips lowest [DN]."""
        return min(self.levels.values())


def clip_by_pair(one: RawFrame, other: RawFrame) -> Clip | None:
    """Return where pixels clip by two frames with the same settings; None where too few clip in both.

    A channel in which too few clip is taken to clip where the lowest of the others does.
    """
    return _told(one, other, _repeated, "pair")


def clip_by_step(darker: RawFrame, brighter: RawFrame, stops: float) -> Clip | None:
    """Return where pixels clip by two frames that differ by a known step [stops]; None where it does not tell.

    Only pixels that stand still follow a step; where too many move, their levels are not alike, and nothing is told.
    """
    return _told(darker, brighter, partial(_stepped, stops=stops), "step")


def clip_alone(found: Sequence[Histogram], frame: RawFrame) -> Clip:
    """Return where pixels clip as well as a single frame tells it; `found`: its histograms."""
    tags = {channel: frame.white_of(channel) for channel in CHANNELS}
    spike = clip_level(tuple(found), frame.white)
    if spike < frame.white:
        return Clip(levels={channel: min(spike, tag) for channel, tag in tags.items()}, witness="spike")
    edge = clip_by_edge(found, frame.white)
    if edge is not None:
        return Clip(levels={channel: min(edge, tag) for channel, tag in tags.items()}, witness="edge")
    return Clip(levels=tags, witness="tag")


def clip_by_edge(found: Sequence[Histogram], white: int) -> int | None:
    """Return where a heap at the top of histograms begins, which may be a clip; None where there is none."""
    edges = [
        edge
        for channel in CHANNELS
        if (edge := _edge(together([one for one in found if one.channel == channel]), white)) is not None
    ]
    return min(edges, default=None)


def _told(
    one: RawFrame, other: RawFrame, level_of: Callable[[Plane, Plane, float], float | None], witness: Witness
) -> Clip | None:
    """Return where pixels clip by what tells it for two planes of a channel and its white level."""
    found: dict[Channel, list[float]] = {channel: [] for channel in CHANNELS}
    for first, second in zip(planes(one), planes(other), strict=True):
        if (level := level_of(first, second, one.white_of(first.channel))) is not None:
            found[first.channel].append(level)
    seen = [level for levels in found.values() for level in levels]
    if not seen:
        return None
    return Clip(
        levels={channel: int(min(levels, default=min(seen))) for channel, levels in found.items()}, witness=witness
    )


def _repeated(first: Plane, second: Plane, white: float) -> float | None:
    """Return the raw level that pixels of a plane repeat at."""
    span = white - first.black
    one, other = (np.asarray(each.values, dtype=np.float32) - np.float32(each.black) for each in (first, second))
    noise = _noise(one, other, span)
    mean = (one + other) / 2
    bright = mean > _LOWEST * span
    if noise is None or not bright.any():
        return None
    levels, differences = mean[bright], np.abs(one[bright] - other[bright])
    repeats = differences <= _REPEATS * np.sqrt(2 * noise.variance(levels))
    part = np.minimum((levels / span * _PARTS).astype(np.intp), _PARTS + 1)
    all_of = np.bincount(part, minlength=_PARTS + 2)
    beyond = np.bincount(part[repeats], minlength=_PARTS + 2) - _BY_CHANCE / (1 - _BY_CHANCE) * np.bincount(
        part[~repeats], minlength=_PARTS + 2
    )
    heap = _heap(beyond, all_of)
    if heap is None or beyond[heap].sum() < _SHARE * one.size:
        return None
    within = repeats & (part >= heap.start) & (part < heap.stop)
    return float(np.quantile(levels[within], _BELOW)) + first.black


def _noise(one: Field, other: Field, span: float) -> Noise | None:
    """Return the noise of a pair by what is well below clipping; None where there is too little of it."""
    try:
        return noise_between(one, other, below=_LOWEST * span)
    except ValueError:
        return None


def _heap(beyond: NDArray[np.float64], all_of: NDArray[np.int64]) -> slice | None:
    """Return the levels, as parts, around where most pixels repeat beyond chance; None where too few do."""
    share = beyond / np.maximum(all_of, 1)
    clipped = (share > _CLIPPED) & (beyond > np.maximum(_LEAST, 4 * np.sqrt(all_of)))
    if not clipped.any():
        return None
    first = last = int(np.argmax(np.where(clipped, beyond, 0)))
    while first > 0 and share[first - 1] > _BESIDE:
        first -= 1
    while last < len(share) - 1 and share[last + 1] > _BESIDE:
        last += 1
    return slice(first, last + 1)


def _stepped(first: Plane, second: Plane, white: float, stops: float) -> float | None:
    """Return the raw level at which pixels stay that a step should have brought far beyond white."""
    beyond = first.black + _BEYOND * (white - first.black) * 2.0**-stops
    stay = second.values[first.values > beyond].astype(np.float64) - second.black
    if stay.size < _LEAST_STEPPED:
        return None
    middle = float(np.median(stay))
    away = np.abs(stay - middle)
    if middle < _LOWEST * (white - first.black) or float(np.mean(away < _NEAR * middle)) < _ALIKE:
        return None
    return middle - 1.28 * MAD * float(np.median(away)) + second.black


def _edge(one: Histogram, white: int) -> int | None:
    """Return where a heap begins at the very top of a histogram."""
    span = white - one.black
    bins = np.clip(((np.arange(len(one.counts)) - one.black) / span * _PARTS).astype(np.intp), 0, _PARTS + 1)
    counts = np.bincount(bins, weights=one.counts, minlength=_PARTS + 2)
    peak = int(_EDGE_FROM * _PARTS) + int(np.argmax(counts[int(_EDGE_FROM * _PARTS) :]))
    wide = max(int(_HEAP_WIDE * _PARTS), 1)
    heap = counts[peak - wide : peak + wide + 1].sum()
    below = counts[peak - 5 * wide : peak - 2 * wide].mean() * (2 * wide + 1)
    above = counts[peak + 3 * wide :].sum()
    enough = heap > max(_SHARE * counts.sum(), _LEAST)
    if not enough or heap < _HEAP * below or above > heap / 100:
        return None
    first = peak
    while first > 0 and counts[first - 1] > max(2 * below / (2 * wide + 1), counts[peak] / 20):
        first -= 1
    return int(one.black + first / _PARTS * span)
