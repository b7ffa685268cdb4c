"""How long the shutter is really open, by light: held frames against timed ones of a steady lamp.

Timed frames taken in between give the level for each second, the lamp's drift fitted out; what a held frame has beyond
that is the shutter's own: open time - time between the commands = delay of closing - delay of opening. Light tells
their difference only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from tether.frames.cells import Cells, log_levels, middle, still_cells
from tether.frames.wandering import Interval, Values, step_in

#: A timed mark is not what it says from here on [stops], and where its own scatter does not explain it.
_LIES_STOPS = 0.02
#: Short frames that scatter more than this speak of a lamp that flickers [stops, rms].
_FLICKERS_STOPS = 0.01
#: The delay is found again with the time that it gives, until it stands.
_ROUNDS = 3


@dataclass(frozen=True, kw_only=True)
class Lamplit:
    """A frame of a steady lamp.

    Attributes
    ----------
    cells
        Its cells.
    mark
        The label of its time; None: it was held.
    time_s
        What its label stands for, or the time between the commands [s].
    at_s
        The middle of its exposure [s].
    """

    cells: Cells
    mark: str | None
    time_s: float
    at_s: float


@dataclass(frozen=True, kw_only=True)
class Lying:
    """A mark that is not what it says: its label, what that stands for [s], and the time that it really gives [s]."""

    label: str
    says_s: float
    gives_s: Interval


@dataclass(frozen=True, kw_only=True)
class ShutterTiming:
    """What was found of the shutter.

    Attributes
    ----------
    delay_s
        By how much longer than the time between the commands it is open, mean and interval [s].
    spread_s
        Standard deviation of a single hold about that [s].
    each_s
        The time between the commands and the delay of every held frame [s, s].
    lying
        Marks that are not what they say, against what the others agree on; at least three marks are needed to tell.
    lamp_per_minute
        How the lamp rose, or (negative) fell [stops/min].
    """

    delay_s: Interval
    spread_s: float
    each_s: tuple[tuple[float, float], ...]
    lying: tuple[Lying, ...]
    lamp_per_minute: float


def opening(frames: Sequence[Lamplit]) -> ShutterTiming:
    """Measure the shutter by held and timed frames, with one aperture and one ISO.

    Parameters
    ----------
    frames
        At least three held ones and three timed ones, the latter some before and some after.

    Raises
    ------
    ValueError
        There are too few frames, or too few usable cells in them.
    """
    frames = sorted(frames, key=lambda frame: frame.at_s)
    held = np.array([frame.mark is None for frame in frames])
    if min(held.sum(), (~held).sum()) < 3:
        raise ValueError("three held and three timed frames are needed at least")
    values = _for_a_second(frames)
    lying = _lying(frames, values)
    labels = {one.label for one in lying}
    good = np.array([frame.mark not in labels for frame in frames])
    time_s, at_s = np.array([(frame.time_s, frame.at_s) for frame in frames])[good].T
    values, held = values[good], held[good]
    delay, per_minute = _delay(values, held, time_s, at_s)
    # The lamp is a line in time through the timed frames; what these scatter about it, a hold would seem to scatter.
    off = values - np.polyval(np.polyfit(at_s[~held], values[~held], 1), at_s)
    longer_s = time_s[held] * (np.exp2(off[held]) - 1)
    timed_s = float(np.std(off[~held], ddof=2) * np.log(2) * time_s[held].mean())
    return ShutterTiming(
        delay_s=delay,
        spread_s=float(np.sqrt(max(np.std(longer_s, ddof=1) ** 2 - timed_s**2, 0.0))),
        each_s=tuple(zip(time_s[held].tolist(), longer_s.tolist(), strict=True)),
        lying=lying,
        lamp_per_minute=per_minute,
    )


def flickers(frames: Sequence[Lamplit]) -> bool:
    """Say whether short timed frames (1/60 s or less, one label, five or more) scatter as a flickering lamp does."""
    values = _for_a_second(frames)
    at_s = np.array([frame.at_s for frame in frames])
    return bool(np.std(values - np.polyval(np.polyfit(at_s, values, 1), at_s), ddof=2) > _FLICKERS_STOPS)


def _for_a_second(frames: Sequence[Lamplit]) -> Values:
    """Return every frame's log level for each second that it says, shape (frames,) [stops]; the zero is free."""
    taken = [frame.cells for frame in frames]
    timed = np.array([frame.mark is not None for frame in frames])
    logs = log_levels(taken, "G", still_cells(taken, timed))
    return middle(logs - logs.mean(axis=0)) - np.log2([frame.time_s for frame in frames])


def _delay(values: Values, held: NDArray[np.bool_], time_s: Values, at_s: Values) -> tuple[Interval, float]:
    """Return the delay, as a step in d log2(open time) / d delay found again from where it leads; and the drift."""
    delay_s = 0.0
    for _ in range(_ROUNDS):
        open_s = time_s + np.where(held, delay_s, 0.0)
        step = step_in(values + np.log2(time_s / open_s), np.where(held, 1 / (open_s * np.log(2)), 0.0), at_s, open_s)
        delay_s += step.size.value
    return Interval(value=delay_s, half_width=step.size.half_width), step.per_minute


def _lying(frames: Sequence[Lamplit], values: Values) -> tuple[Lying, ...]:
    """Return the marks that are off from what the others agree on, the worst first until none is left."""
    found: list[Lying] = []
    rest = [(frame, value) for frame, value in zip(frames, values, strict=True) if frame.mark is not None]
    while len({frame.mark for frame, _ in rest}) >= 3:
        worst = max((_against_others(rest, label) for label in {frame.mark or "" for frame, _ in rest}), key=_sureness)
        label, says_s, off = worst
        if _sureness(worst) < 1:
            break
        low, high = (says_s * float(np.exp2(off.value + side * off.half_width)) for side in (-1, 1))
        gives = Interval(value=says_s * float(np.exp2(off.value)), half_width=(high - low) / 2)
        found.append(Lying(label=label, says_s=says_s, gives_s=gives))
        rest = [(frame, value) for frame, value in rest if frame.mark != label]
    return tuple(found)


def _against_others(rest: Sequence[tuple[Lamplit, float]], label: str) -> tuple[str, float, Interval]:
    """Return a mark, what it says [s], and by how much it gives more than the others have it [stops]."""
    own = np.array([frame.mark == label for frame, _ in rest])
    at_s = np.array([frame.at_s for frame, _ in rest])
    values = np.array([value for _, value in rest])
    line = stats.theilslopes(values[~own], at_s[~own])
    off = values - line.slope * at_s - line.intercept
    scatter = max(float(stats.median_abs_deviation(off[~own], scale="normal")), float(off[own].std()))
    half_width = float(stats.norm.ppf(0.975)) * scatter / np.sqrt(own.sum())
    says_s = next(frame.time_s for frame, _ in rest if frame.mark == label)
    return label, says_s, Interval(value=float(np.median(off[own])), half_width=half_width)


def _sureness(one: tuple[str, float, Interval]) -> float:
    """Return how far over what is let pass a mark is: from 1 on it lies."""
    return abs(one[2].value) / max(_LIES_STOPS, 2 * one[2].half_width)
