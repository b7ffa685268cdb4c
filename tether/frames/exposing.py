"""Finding the exposure that leaves the wanted headroom in the water, from frames that may be far off.

Exposures are counted in stops, brighter is more; only differences between frames of one scene mean anything.
Every frame tells where the right exposure lies, and how surely:

- one in which little clips tells it by its headroom;
- one that is nearly black by its mean, which stands above black long before single pixels do;
- one that is partly burnt by how the unburnt part of its histogram rises towards clipping;
- one that is burnt or black altogether tells only on which side to look.

Water moves: what is brightest in it wanders from frame to frame, and a longer time smooths it. So the estimate is a
mean over all frames, in which each counts the less the farther it was taken from the exposure that it tells of.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import hypot, inf, log2, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from tether.files.raw import RawFrame
from tether.frames.clips import Clip, clip_alone
from tether.frames.hot import less_hot
from tether.frames.levels import (
    CLIPPED_MAY_BE,
    Histogram,
    Levels,
    histograms,
    level_exceeded_by,
    levels_of,
    together,
)
from tether.frames.mosaic import planes

Mask = NDArray[np.bool_]

#: The headroom that is wanted where nothing is said [stops] (common practice, no source).
WANTED_STOPS = 0.3
#: The brightest thousandth of moving water wanders so much from frame to frame (0.06 to 0.18 in simulated scenes), and
#: an exposure that is so many stops away tells so much less surely, since another time smooths the water otherwise
#: (0.05 to 0.1 in simulated scenes) [stops, stops per stop].
WANDER_STOPS, FAR_STOPS = 0.13, 0.1
#: How far to step where nothing can be told [stops]. From anywhere within 8 stops the next frame can be measured.
STEP_STOPS = 8.5
#: What goes beyond clipping may be more by so many times, and by so much: foam has a steep top, and sensors a knee
#: [stops].
_BENT, _BENT_STOPS = 12.0, 0.4
#: Where no more than this is unburnt, nothing can be told from it.
_UNBURNT = 0.03
#: A mean no higher above black than this may be an error of the black level [DN].
_BLACK_DN = 1.0
#: Where a body takes its black level off, noise about black is cut at 0; where so many pixels are, nothing is above it.
_CUT = 0.25
#: Below this level above black, noise may make up the brightest pixels [DN]; then the mean counts, and the brightest
#: thousandth lies so far above it, give or take (2 to 3.7 in simulated scenes) [stops].
_NOISY_DN, _TOP_STOPS, _TOP_OFF_STOPS = 32.0, 2.8, 1.0


@dataclass(frozen=True, kw_only=True)
class WaterSeen:
    """What a frame shows of the water.

    Attributes
    ----------
    stops
        Its exposure.
    histograms
        Raw histograms by place, without pixels that are hot.
    clip
        Where pixels clip, and what tells it.
    may_clip
        The share of the pixels that may clip.
    """

    stops: float
    histograms: tuple[Histogram, ...]
    clip: Clip
    may_clip: float = CLIPPED_MAY_BE

    @cached_property
    def levels(self) -> Levels:
        """Levels of the water by channel."""
        return levels_of(self.histograms, self.clip.levels, self.may_clip)

    @property
    def burnt(self) -> bool:
        """Whether more clips than may."""
        return self.levels.headroom_stops is None

    @property
    def white(self) -> bool:
        """Whether so much clips that it can't be told by how much it is too bright."""
        return self.levels.clipped_share > 1 - _UNBURNT

    @property
    def black(self) -> bool:
        """Whether nothing can be told from black."""
        dark = all(one.mean * _white_dn(self) < _BLACK_DN for one in self.levels.channels.values())
        return dark or all(one.black < 1 and one.counts[0] > _CUT * one.counts.sum() for one in self.histograms)


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """Where the right exposure lies.

    Attributes
    ----------
    stops
        The exposure that leaves the wanted headroom [stops].
    uncertainty_stops
        Its standard uncertainty [stops]; inf: nothing is known but on which side to look.
    next_stops
        The exposure at which the next frame tells most [stops].
    wanted_stops
        The headroom it leaves.
    """

    stops: float
    uncertainty_stops: float
    next_stops: float
    wanted_stops: float

    def headroom_at(self, stops: float) -> float:
        """Return the headroom to be expected at another exposure [stops]; negative: more clips than may."""
        return self.wanted_stops + self.stops - stops


@dataclass(frozen=True, kw_only=True)
class _Told:
    """The right exposure as one frame tells it, its standard uncertainty, and whether the frame was burnt."""

    stops: float
    off_stops: float
    burnt: bool = False


def seen_in(
    frame: RawFrame,
    stops: float,
    water: Mask | None = None,
    *,
    clip: Clip | None = None,
    may_clip: float = CLIPPED_MAY_BE,
) -> WaterSeen:
    """Return what a frame shows of the water.

    Parameters
    ----------
    stops
        Its exposure.
    water
        Where there is water: a mask of one place of the pattern, shape (H / 2, W / 2); None: everywhere.
    clip
        Where pixels clip; None: as well as this frame alone can tell.
    may_clip
        The share of the pixels that may clip.

    Raises
    ------
    ValueError
        The mask is empty, or of another shape.
    """
    whole = histograms(frame)
    clip = clip or clip_alone(whole, frame)
    if water is None:
        return WaterSeen(stops=stops, histograms=less_hot(whole, frame), clip=clip, may_clip=may_clip)
    if not water.any():
        raise ValueError("there is no water in the mask")
    found = tuple(
        Histogram(channel=plane.channel, counts=np.bincount(_within(plane.values, water)), black=plane.black)
        for plane in planes(frame)
    )
    return WaterSeen(stops=stops, histograms=less_hot(found, frame, water), clip=clip, may_clip=may_clip)


def _within(values: NDArray[np.uint16], water: Mask) -> NDArray[np.uint16]:
    if values.shape != water.shape:
        raise ValueError(f"the mask is of shape {water.shape}, a place of the pattern of {values.shape}")
    return values[water]


def next_exposure(seen: Sequence[WaterSeen], wanted_stops: float = WANTED_STOPS) -> Estimate:
    """Return where the right exposure lies by all that was seen, and what to expose next.

    Parameters
    ----------
    seen
        At least one frame of the scene.
    wanted_stops
        The headroom that the brightest channel is to have [stops]: no more of its pixels than may would clip in an
        exposure so much brighter.
    """
    told = [told for one in seen if (told := _told(one, wanted_stops)) is not None]
    if not told:
        aside = _aside(seen)
        return Estimate(stops=aside, uncertainty_stops=inf, next_stops=aside, wanted_stops=wanted_stops)
    stops, off_stops = _mean(told)
    off_stops = hypot(off_stops, min(one.clip.off_stops for one in seen))
    burnt = [one.stops for one in seen if one.burnt]
    # A frame that is too dark tells more than one that is too bright, and none as bright as that is right.
    next_stops = stops - off_stops if all(one.burnt for one in told) else stops
    next_stops = min([next_stops, *(one - wanted_stops for one in burnt)])
    return Estimate(stops=stops, uncertainty_stops=off_stops, next_stops=next_stops, wanted_stops=wanted_stops)


def _told(one: WaterSeen, wanted_stops: float) -> _Told | None:
    if one.white or one.black:
        return None
    headroom_stops = one.levels.headroom_stops
    if headroom_stops is None:
        over = over_stops(one)
        too_bright_stops = over + wanted_stops
        off_stops = hypot(WANDER_STOPS, FAR_STOPS * too_bright_stops, over, min(_BENT * over, _BENT_STOPS))
        return _Told(stops=one.stops - too_bright_stops, off_stops=off_stops, burnt=True)
    off_stops = 0.0
    if headroom_stops > log2(_white_dn(one) / _NOISY_DN):
        headroom_stops = -log2(max(level.mean for level in one.levels.channels.values())) - _TOP_STOPS
        off_stops = _TOP_OFF_STOPS
    too_dark_stops = headroom_stops - wanted_stops
    return _Told(stops=one.stops + too_dark_stops, off_stops=hypot(WANDER_STOPS, FAR_STOPS * too_dark_stops, off_stops))


def _mean(told: Sequence[_Told]) -> tuple[float, float]:
    """Return the weighted mean and its uncertainty; where they differ by more than they should, it grows with that."""
    stops = np.array([one.stops for one in told])
    # What frames that are burnt tell goes beyond what they show, and is off in all of them alike.
    alike = sqrt(max(sum(one.burnt for one in told), 1))
    weights = np.array([one.off_stops * (alike if one.burnt else 1.0) for one in told]) ** -2.0
    mean = float((weights * stops).sum() / weights.sum())
    too_far = (weights * (stops - mean) ** 2).sum() / max(len(told) - 1, 1)
    return mean, sqrt(max(float(too_far), 1.0) / float(weights.sum()))


def _aside(seen: Sequence[WaterSeen]) -> float:
    """Return an exposure between what is white and what is black, or well away from it."""
    darkest_white = min((one.stops for one in seen if one.white), default=None)
    brightest_black = max((one.stops for one in seen if not one.white), default=None)
    if darkest_white is None:
        return (brightest_black or 0.0) + STEP_STOPS
    if brightest_black is None:
        return darkest_white - STEP_STOPS
    return (darkest_white + brightest_black) / 2


def over_stops(one: WaterSeen) -> float:
    """Return how far above clipping the level lies that the share of the pixels that may clip would reach [stops].

    The logarithm of the levels is taken to go on towards the top as it does just below clipping, on the scale of a
    normal distribution.
    """
    channel, levels = max(one.levels.channels.items(), key=lambda item: item[1].clipped_share)
    whole = together([each for each in one.histograms if each.channel == channel])
    clips_z = -float(ndtri(levels.clipped_share))
    below = level_exceeded_by(whole, float(ndtr(1 - clips_z))) - whole.black
    rise_stops = log2((one.clip.levels[channel] - whole.black) / max(below, 1.0))
    return min(rise_stops * (-float(ndtri(one.may_clip)) - clips_z), STEP_STOPS)


def _white_dn(one: WaterSeen) -> float:
    return one.clip.lowest - sum(each.black for each in one.histograms) / len(one.histograms)
