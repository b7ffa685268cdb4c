"""Which file is of which exposure: a pure function of what was exposed and of what the files say.

Bodies write frames in the order in which they were taken, but files come late, twice or never, and frames taken on
the body's own button lie between ours. So what is matched is the order, with the settings and the time that each file
tells, and a file that fits nothing is of no exposure of ours.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from statistics import median

from tether.journal.records import Applied
from tether.shot.comparison import exif_differs
from tether.shot.made import Made

#: A file may say that it was taken so much sooner or later than its exposure [s]: clocks count whole seconds, and a
#: command takes its time.
SLACK_S = 3.0
#: With so many frames to compare, the slack is what their spread makes it, but no less than this [s].
ENOUGH = 3
LEAST_SLACK_S = 0.5
#: A shutter that was lost may have been closed so much later than it should have been [s].
CLOSED_LATE_S = 60.0
#: A file from so long before the exposures is no frame by hand but one by a clock that was set meanwhile [s].
LONG_BEFORE_S = 1800.0


@dataclass(frozen=True, kw_only=True)
class ArrivedFile:
    """What a file tells of itself.

    Attributes
    ----------
    said
        The settings in its Exif.
    taken_s
        When it was taken, by the body's clock, in seconds since 1970 as if that were UTC; None: it does not say.
    number
        The body's own running number; None: its name has none.
    rounded_s
        How far its Exif time may be rounded [s].
    """

    said: Applied
    taken_s: float | None
    number: int | None
    rounded_s: float = 0.0


@dataclass(frozen=True, kw_only=True)
class BodyClock:
    """The body's clock: by how much it is ahead of the run's [s], and how far a file's time may be off that [s]."""

    ahead_s: float
    slack_s: float = SLACK_S


def matched(
    exposures: Sequence[Made],
    files: Sequence[ArrivedFile],
    *,
    sure: Container[int],
    clock: BodyClock | None,
    now_s: float,
) -> tuple[int | None, ...]:
    """Return the frame that each file is of, in the order of the files; None: of no exposure of ours.

    Parameters
    ----------
    exposures
        Those that have no file yet, in the order they were taken.
    files
        Those that belong to none yet, in any order.
    sure
        The frames that were made for sure; the others may have been.
    clock
        The body's clock, from frames before; None: not known.
    now_s
        The run's time [s].
    """
    order = _in_order(files)
    opened_s = [one.opened_s for one in exposures if one.opened_s is not None]
    was_set = [_clock_was_set(files[place], clock, min(opened_s, default=now_s), now_s) for place in order]
    worth = [
        [
            _worth(one, files[place], clock, sure=one.frame in sure, clock_was_set=its_clock)
            for place, its_clock in zip(order, was_set, strict=True)
        ]
        for one in exposures
    ]
    found: list[int | None] = [None] * len(files)
    for row, column in _best_path(worth):
        found[order[column]] = exposures[row].frame
    return tuple(found)


def clock_of(pairs: Sequence[tuple[float, float]]) -> BodyClock | None:
    """Return the body's clock as pairs (opened by the run's, taken by its) [s] tell of it; None without any.

    Some bodies write fractions of a second; then two frames within a second can be told apart.
    """
    off = sorted(taken_s - opened_s for opened_s, taken_s in pairs)
    if not off:
        return None
    spread_s = off[-1] - off[0] if len(off) >= ENOUGH else SLACK_S
    return BodyClock(ahead_s=median(off), slack_s=min(max(2 * spread_s, LEAST_SLACK_S), SLACK_S))


def seconds_of(taken_at: datetime | None) -> float | None:
    """Return a moment in seconds since 1970; one without a time zone as if it were UTC."""
    if taken_at is None:
        return None
    return (taken_at if taken_at.tzinfo else taken_at.replace(tzinfo=UTC)).timestamp()


def _in_order(files: Sequence[ArrivedFile]) -> list[int]:
    """Return the places of files in the order in which they were taken, as far as that can be told."""
    timed = all(one.taken_s is not None for one in files)
    numbers = [one.number for one in files if one.number is not None]
    began_anew = max(numbers, default=0) - min(numbers, default=0) >= 5000
    numbered = len(numbers) == len(files) and not began_anew

    def when(place: int) -> tuple[float, int, int]:
        file = files[place]
        return (file.taken_s or 0.0) if timed else 0.0, (file.number or 0) if numbered else 0, place

    return sorted(range(len(files)), key=when)


def _worth(one: Made, file: ArrivedFile, clock: BodyClock | None, *, sure: bool, clock_was_set: bool) -> float | None:
    """Return how well a file fits an exposure; None where it can't be of it.

    The time tells most, then the settings; a file that tells neither may still be that of an exposure which made one.
    """
    differs = {found.which for found in exif_differs(file.said, one.wanted, file.rounded_s) if found.value is not None}
    agrees = not differs
    off_s = _off_s(one, file.taken_s, clock)
    if off_s is not None and clock is not None and not _in_time(off_s, one, clock):
        if not (agrees and clock_was_set):
            return None
        off_s = None
    if off_s is None and not sure and not differs <= {"time"}:
        return None  # an exposure whose end is not known was open for another time, but with its own settings
    surely = 0.5 if sure else 0.0
    if off_s is None:
        return (4.0 if agrees else 1.0) + surely
    return (6.0 if agrees else 3.0) + surely - 0.1 * min(abs(off_s) / SLACK_S, 1.0)


def shows_a_clock_was_set(one: Made, taken_s: float, clock: BodyClock) -> bool:
    """Say whether a file's time, as it is an exposure's, shows that the body's clock was set or that ours slept."""
    off_s = _off_s(one, taken_s, clock)
    return off_s is not None and not _in_time(off_s, one, clock)


def _in_time(off_s: float, one: Made, clock: BodyClock) -> bool:
    return -clock.slack_s <= off_s <= _longest_s(one) + clock.slack_s


def _longest_s(one: Made) -> float:
    """Return how long after its command an exposure ended at the latest [s]: some bodies tell the time of its end."""
    wanted = one.wanted
    if wanted.way == "held" and wanted.commands_s is None:
        return one.answered_s + wanted.open_s + CLOSED_LATE_S
    return one.answered_s + max(wanted.open_s, wanted.commands_s or 0.0)


def _off_s(one: Made, taken_s: float | None, clock: BodyClock | None) -> float | None:
    """Return how much later than its opening a file says that it was taken [s]; None where that can't be told."""
    if taken_s is None or one.opened_s is None or clock is None:
        return None
    return taken_s - clock.ahead_s - one.opened_s


def _clock_was_set(file: ArrivedFile, clock: BodyClock | None, began_s: float, now_s: float) -> bool:
    """Say whether a file's time is none that a frame by hand could have: after now, or long before the exposures."""
    if file.taken_s is None or clock is None:
        return False
    at_s = file.taken_s - clock.ahead_s
    return at_s > now_s + SLACK_S or at_s < began_s - LONG_BEFORE_S


def _best_path(worth: list[list[float | None]]) -> list[tuple[int, int]]:
    """Return the pairs (row, column), both rising, whose worths add up to most; of equals, the earliest."""
    rows, columns = len(worth), len(worth[0]) if worth else 0
    best = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    for row in reversed(range(rows)):
        for column in reversed(range(columns)):
            here = worth[row][column]
            taken = -1.0 if here is None else here + best[row + 1][column + 1]
            best[row][column] = max(best[row + 1][column], best[row][column + 1], taken)
    pairs, row, column = [], 0, 0
    while row < rows and column < columns:
        here = worth[row][column]
        if here is not None and best[row][column] == here + best[row + 1][column + 1]:
            pairs.append((row, column))
            row, column = row + 1, column + 1
        elif best[row][column] == best[row][column + 1]:
            column += 1
        else:
            row += 1
    return pairs
