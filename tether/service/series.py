"""A ladder every so many minutes until an end: its moments, which of them are too late, and the next ladder's job."""

from __future__ import annotations

import fcntl
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from pathlib import Path

from tether.clock import AffineClock, boot_id
from tether.errors import PlanError
from tether.guard import LOCK_NAME
from tether.journal.codec import Entry
from tether.journal.guards import try_lock
from tether.journal.history import ladder_history
from tether.journal.records import LadderEnded, LadderStarted
from tether.journal.store import open_journal
from tether.journal.telling import tell
from tether.light.spot import Spot
from tether.outing.job import read_job, ready_of, write_job
from tether.outing.prepare import Prepared
from tether.plan.leaving import leave_moment
from tether.plan.planner import make_ladder
from tether.service.start_time import parse_length, parse_start
from tether.wording import span

#: No more ladders than this, and none more often; more is taken for a slip of the pen.
MOST, OFTENEST = 200, timedelta(minutes=1)


@dataclass(frozen=True, kw_only=True)
class Series:
    """When ladders begin: the first moment (UTC), how often, and the last one that may be."""

    first: datetime
    every: timedelta
    until: datetime

    def moments(self) -> list[datetime]:
        """Return all moments."""
        return [self.first + at * self.every for at in range(int((self.until - self.first) / self.every) + 1)]


def parse_series(first: datetime, every: str, until: str, zone: tzinfo, spot: Spot | None) -> Series:
    """Return the series that a person has given by `--every` and `--until`, from its first moment on.

    Raises
    ------
    PlanError
        If either can't be read, or there would be too many ladders, or ladders too often.
    """
    length = parse_length("--every", every)
    if length < OFTENEST:
        raise PlanError(f"--every {every}: a ladder may begin every {span(OFTENEST.total_seconds())} at the most.")
    try:
        end = parse_start(until, None, first, zone, spot)
    except PlanError as error:
        raise PlanError(*(one.replace("--at", "--until") for one in error.sentences)) from error
    found = Series(first=first, every=length, until=end)
    if (end - first) / length >= MOST:
        raise PlanError(f"--until {until}: that would be more than {MOST} ladders; name a nearer end.")
    return found


def ends_late(ready: Prepared, begins: datetime) -> bool:
    """Say whether a ladder that begins then would end after the plan's time to leave by, as it is foretold."""
    leave = leave_moment(ready.plan.leave_by, begins)
    if leave is None:
        return False
    ladder = make_ladder(ready.plan, ready.abilities, begins=begins)
    return begins + timedelta(seconds=ladder.forecast.total_s) > leave


def within_leave_by(ready: Prepared, series: Series) -> tuple[Series, list[datetime]]:
    """Return a series up to the last ladder that ends before the person leaves, and the moments left out for it.

    Raises PlanError where that leaves none.
    """
    moments = series.moments()
    in_time = [at for at in moments if not ends_late(ready, at)]
    if not in_time:
        raise PlanError(
            "No ladder of this plan would end by its run.leave_by or last safe exit; begin earlier, or leave later."
        )
    left_out = [at for at in moments if at not in in_time]
    return Series(first=in_time[0], every=series.every, until=in_time[-1]), left_out


def under_way(outing: Path) -> bool:
    """Say whether a run of an outing is under way: its guard is there."""
    with (outing / LOCK_NAME).open("a+") as file:
        return not try_lock(file, fcntl.LOCK_SH)


@dataclass(frozen=True, kw_only=True)
class NextLadder:
    """What comes of a moment: why no ladder is begun (None: one is), and the moments since the last that had none."""

    why_not: str | None
    passed: list[datetime]


def give_next(outing: Path, now: datetime, every: timedelta) -> NextLadder:
    """Keep in an outing the job of working its plan's ladder once more, where that is to be begun now.

    Parameters
    ----------
    outing
        The outing's folder, with no run under way.
    now
        The present, aware.
    every
        How often one is to begin: a moment that came while the last one was under way had none.

    Raises
    ------
    PlanError
        If its job can't be read.
    """
    job = read_job(outing)
    if ends_late(ready_of(job), now):
        return NextLadder(why_not="it would end after the plan's leave_by", passed=[])
    with closing(open_journal(outing)) as journal:
        entries = journal.entries()
    if ladder_history(entries, job.ladder) is not None:
        changed = {"clock": AffineClock.started_now(job.pace), "boot": boot_id(), "after_seq": len(entries)}
        number = len(tell(entries, name="", running=False).ladders) + 1
        write_job(outing, job.model_copy(update=changed | {"ladder": number}))
    return NextLadder(why_not=None, passed=_passed(entries, every))


def _passed(entries: tuple[Entry, ...], every: timedelta) -> list[datetime]:
    """Return the moments that came while the last ladder was under way, counted from its beginning."""
    begun = [one.utc for one in entries if isinstance(one.record, LadderStarted)]
    ended = [one.utc for one in entries if isinstance(one.record, LadderEnded)]
    if not begun or not ended:
        return []
    count = max(int((ended[-1] - begun[-1]) / every), 0)
    return [begun[-1] + (at + 1) * every for at in range(count)]
