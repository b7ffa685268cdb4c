"""What a filter really takes, by light: from frames without it, with it, and without it again.

The frames tell it by the still cells that they share (:mod:`tether.frames.cells`); the light's drift and wander are
fitted out (:mod:`tether.frames.wandering`). What the frames cannot tell goes in as stated: how far the times, and the
apertures where they differ, may be off. Light that does not come through the lens is looked for and told, not taken
off: it is not even over the picture.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import groupby
from operator import sub

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from tether.frames.cells import Cells, log_levels, middle, still_cells
from tether.frames.mosaic import CHANNELS, Channel
from tether.frames.wandering import Interval, StepFound, Values, step_in

#: How far a shutter's time may be off what it says [stops]: half a percent, own choice, no source.
TIME_OFF_STOPS = 0.007
#: How far an aperture's blades may be off where two differ [stops]: common practice, no source.
BLADES_OFF_STOPS = 0.05
#: So many neighbouring cells are off by the same thing and count as one.
_NEIGHBOURS = 4
#: A leak is told from here on [stops by which a filter seems weaker].
_LEAK_STOPS = 0.01
#: and where it is so many times as large as half its interval.
_SURELY = 1.5
#: Cells that are off by so many standard deviations are left out when a leak is looked for, found in so many rounds.
_STANDS_OUT, _ROUNDS = 3.0, 4
#: The picture has moved where the cells differ between stretches so many times more than within them.
_MOVED = 3.0


@dataclass(frozen=True, kw_only=True)
class StrengthFrame:
    """A frame for measuring a filter.

    Attributes
    ----------
    cells
        Its cells.
    filtered
        Whether what is measured was on the lens.
    exposure_stops
        By how much it lets in more light than another [stops]: log2 of time / f-number², from exact values; the
        zero is free. ISO must be the same in all.
    at_s, open_s
        The middle of its exposure, and how long it was [s].
    """

    cells: Cells
    filtered: bool
    exposure_stops: float
    at_s: float
    open_s: float


@dataclass(frozen=True, kw_only=True)
class Strength:
    """What was found of a filter, or a stack of them.

    Attributes
    ----------
    stops
        What it takes, by channel [stops].
    cast_stops
        What it takes from red and from blue beyond green [stops]; more sharply known than their difference.
    light_per_minute, wander_stops
        How the light went meanwhile: rise (or, negative, fall) [stops/min], and how far it was off that [stops, rms].
    leak_stops
        By how much light that did not come through the lens makes it seem weaker [stops]; None: none to be seen.
    moved
        Whether the picture moved between the frames without it.
    cells
        How many still cells it was measured by.
    """

    stops: Mapping[Channel, Interval]
    cast_stops: Mapping[Channel, Interval]
    light_per_minute: float
    wander_stops: float
    leak_stops: Interval | None
    moved: bool
    cells: int


def strength(shots: Sequence[StrengthFrame], *, off_stops: float = TIME_OFF_STOPS) -> Strength:
    """Measure a filter.

    Parameters
    ----------
    shots
        At least two without it and two with it, five together, and some without it before and after it. The longer
        and the more often either is watched, the less the light's wander matters.
    off_stops
        How far the ratio of the exposures may be off as a whole, one standard deviation [stops].

    Raises
    ------
    ValueError
        There are too few frames, or too few usable cells in them.
    """
    shots = sorted(shots, key=lambda shot: shot.at_s)
    filtered = np.array([shot.filtered for shot in shots])
    if min(filtered.sum(), (~filtered).sum()) < 2:
        raise ValueError("two frames without a filter and two with it are needed at least")
    chosen = still_cells([shot.cells for shot in shots], ~filtered)
    logs = {channel: _for_one_exposure(shots, channel, chosen) for channel in CHANNELS}
    # How much brighter each cell is than it is without a filter.
    parts = {channel: one - one[~filtered].mean(axis=0) for channel, one in logs.items()}
    green = _step(parts["G"], shots, filtered)
    taken = _size(green, parts["G"], filtered).widened(off_stops)
    cast: dict[Channel, Interval] = {}
    for channel in ("R", "B"):
        beside = parts[channel] - parts["G"]
        cast[channel] = _size(_step(beside, shots, filtered), beside, filtered)
    return Strength(
        stops={"R": taken + cast["R"], "G": taken, "B": taken + cast["B"]},
        cast_stops=cast,
        light_per_minute=green.per_minute,
        wander_stops=green.wander_stops,
        leak_stops=_leak(logs["G"], chosen, filtered),
        moved=_moved(parts["G"], filtered),
        cells=int(chosen.sum()),
    )


def excess(whole: Strength, parts: Sequence[Strength]) -> Interval:
    """Return what a stack takes beyond the sum of its parts, in green [stops]: 0 where densities add (ISO 5)."""
    return reduce(sub, (part.stops["G"] for part in parts), whole.stops["G"])


def weaker_when_longer(shorter: Strength, longer: Strength) -> Interval:
    """Return by how much weaker a filter seems where the same exposure was made longer, at a narrower aperture [stops].

    More than 0 beyond its interval speaks of light that does not come through the lens: it grows with time alone.
    """
    return (shorter.stops["G"] - longer.stops["G"]).widened(BLADES_OFF_STOPS)


def _for_one_exposure(shots: Sequence[StrengthFrame], channel: Channel, chosen: NDArray[np.bool_]) -> Values:
    """Return the levels of the chosen cells for one exposure, shape (frames, cells) [stops]; the zero is free."""
    exposures = np.array([shot.exposure_stops for shot in shots])
    return np.asarray(log_levels([shot.cells for shot in shots], channel, chosen) - exposures[:, None])


def _step(parts: Values, shots: Sequence[StrengthFrame], filtered: NDArray[np.bool_]) -> StepFound:
    at_s, open_s = np.array([shot.at_s for shot in shots]), np.array([shot.open_s for shot in shots])
    return step_in(middle(parts), -filtered.astype(float), at_s, open_s)


def _size(step: StepFound, parts: Values, filtered: NDArray[np.bool_]) -> Interval:
    """Return the size of a step, with the doubt that cells leave which do not agree on it."""
    by_cell = parts[filtered].mean(axis=0)
    uneven = float(stats.median_abs_deviation(by_cell, scale="normal"))
    return step.size.widened(uneven / float(np.sqrt(max(len(by_cell) / _NEIGHBOURS, 1.0))))


def _leak(logs: Values, chosen: NDArray[np.bool_], filtered: NDArray[np.bool_]) -> Interval | None:
    """Return by how much dark cells are lifted over bright ones behind the filter, at the middle one [stops].

    Level with = a · level without + leak, the leak rising or falling from the upper edge to the lower one: for each
    cell with / without is linear in 1 / without, by least squares. Cells that moved are left out where they stand out.
    """
    before = logs[~filtered].mean(axis=0)
    after = (logs[filtered] - middle(logs[filtered])[:, None]).mean(axis=0)
    ratio, darkness = np.exp2(after - before), np.exp2(np.median(before) - before)
    height = np.nonzero(chosen)[0] / len(chosen) - 0.5
    design = np.stack([darkness, darkness * height, np.ones_like(ratio)], axis=1)
    kept = np.ones(len(ratio), dtype=bool)
    for _ in range(_ROUNDS):
        coefficients = np.linalg.lstsq(design[kept], ratio[kept])[0]
        rest = ratio - design @ coefficients
        kept = np.abs(rest) <= _STANDS_OUT * stats.median_abs_deviation(rest, scale="normal")
    freedom = kept.sum() / _NEIGHBOURS - design.shape[1]
    lifted, base = float(coefficients[0]), float(coefficients[2])
    if freedom < 1 or base <= 0 or lifted <= 0:
        return None
    variance = _NEIGHBOURS * rest[kept].var() * np.linalg.inv(design[kept].T @ design[kept])[0, 0]
    weaker, half_width = np.log2(1 + lifted / base), stats.t.ppf(0.975, freedom) * np.sqrt(variance) / base / np.log(2)
    if weaker < max(_LEAK_STOPS, _SURELY * half_width):
        return None
    return Interval(value=float(weaker), half_width=float(half_width))


def _moved(parts: Values, filtered: NDArray[np.bool_]) -> bool:
    """Say whether cells differ between stretches without the filter by more than they do within them."""
    of_cells = parts - middle(parts)[:, None]
    stretches = [
        of_cells[[place for place, _ in group]]
        for bare, group in groupby(enumerate(~filtered), key=lambda pair: bool(pair[1]))
        if bare
    ]
    within = np.sqrt(np.mean([stretch.var(axis=0, ddof=1) / len(stretch) for stretch in stretches if len(stretch) > 1]))
    between = np.std([stretch.mean(axis=0) for stretch in stretches], axis=0)
    return bool(np.sqrt(np.mean(between**2)) > _MOVED * within)
