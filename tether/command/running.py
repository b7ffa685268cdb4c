"""Runs: a ladder rehearsed, run, or planned for later, and watched until it is over."""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click
from tzlocal import get_localzone

from tether import wording as words
from tether.body.connection import SIMULATED, Connection
from tether.body.dialects import Dialect
from tether.checks.checks import names_of, parse_despite
from tether.checks.host_clocks import WallClock, clock_sentence, clock_trusted
from tether.command.attached import end_of_watching, show_end
from tether.command.common import echo, out, say, talk
from tether.command.options import RING_SETTING
from tether.command.watching import here, watch
from tether.control.ringing import ringer_of
from tether.errors import PlanError
from tether.journal.store import JOURNAL_NAME
from tether.journal.telling import read_outing
from tether.outing.camera import reach_of_run, spoken_by
from tether.outing.job import read_job, ready_of
from tether.outing.known import remember_outing
from tether.outing.prepare import Prepared, prepare
from tether.plan.as_json import planned_of
from tether.report.ladder_view import LadderView
from tether.service.launch import StartedJob, give_again, give_plan, start
from tether.service.start_time import parse_start
from tether.wording import which_rungs

if TYPE_CHECKING:
    from tether.service.series import Series

#: A series that is to begin now begins so much later: it is planned like any other.
_AT_ONCE = timedelta(seconds=3)


def rehearse_plan(
    plan: Path,
    pace: float | str,
    outing: Path | None,
    under: Path,
    world: Path | None,
    answer_for_me: bool,
    dialect: Dialect | None,
    despite: tuple[str, ...],
    detach: bool,
    yes: bool = False,
) -> None:
    """Run the ladder of a plan on the simulated body."""
    if dialect and pace != 1.0:
        raise PlanError(f"--through-driver: the driver works in real time only; leave --pace {pace} out.")
    reach = Connection(way="wire", dialect=dialect) if dialect else SIMULATED
    reasons = _despite(despite, reach, prepare(plan))
    _another_is_meant(outing, yes=yes)
    if isinstance(pace, str):
        from tether.engine.engine import verdict  # a whole run's engine, which only this process's own run needs
        from tether.service.rehearsal import Rehearsal

        rehearsal = Rehearsal.of(plan, pace=pace, root=under, outing=outing, world=world, despite=reasons)
        _show_ladder(rehearsal.ready)
        done = here(rehearsal, talk())
        remember_outing(done.folder)
        show_end(done.folder)
        sys.exit(verdict(done.outcome, done.trouble))
    given = give_plan(
        plan,
        pace=pace,
        root=under,
        outing=outing,
        world=world,
        reach=reach,
        answer_for_me=answer_for_me,
        despite=reasons,
    )
    _start_and_watch(given, detach)


def _another_is_meant(outing: Path | None, *, yes: bool) -> None:
    """Say that an outing which gets another ladder has one that is not done, and how that is resumed, and ask.

    Where nobody is at a terminal it is only said. Raises PlanError where the person does not mean another.
    """
    if outing is None or not (outing / JOURNAL_NAME).exists():
        return
    told = read_outing(outing)
    if not told.ladders or told.ladders[-1].outcome == "done":
        return
    last = told.ladders[-1]
    done = told.rungs_done(last.ladder)
    left = [one.rung for one in last.planned.rungs if one.rung not in done] if last.planned else []
    which = f": {which_rungs(left)} {'is' if len(left) == 1 else 'are'} open" if left else ""
    said = f"The last ladder of {outing} is not done{which}. To resume that: tether run {outing}. This begins another."
    say(said)
    if not yes and sys.stdin.isatty() and not click.confirm("Begin another", err=True):
        raise PlanError("No other ladder is begun.")


def _despite(texts: tuple[str, ...], reach: Connection, ready: Prepared) -> dict[str, str]:
    return parse_despite(texts, names_of(spoken_by(reach, ready))) if texts else {}


def run_plan_or_outing(
    plan_or_outing: Path,
    outing: Path | None,
    under: Path,
    detach: bool,
    at: str | None,
    in_: str | None,
    every: str | None,
    until: str | None,
    port: str,
    model: str,
    despite: tuple[str, ...],
    same_again: bool,
    yes: bool,
) -> None:
    """Run a plan's ladder, or go on with an outing's, now or later; or a ladder every so often until an end."""
    if same_again:
        _run_again(plan_or_outing, port=port, model=model, despite=despite, detach=detach)
        return
    if (every is None) != (until is None):
        raise PlanError("--every and --until go together: a ladder begins every so long until an end.")
    if plan_or_outing.is_dir():
        if every:
            raise PlanError(f"--every {every}: {plan_or_outing} is an outing; ladders are begun of a plan: write that.")
        job = read_job(plan_or_outing)
        ready = ready_of(job)
        start_utc = _start_utc(at, in_, ready)
        reasons = _despite(despite, job.reach, ready)
        given = give_again(plan_or_outing, port=port, model=model, despite=reasons)
    else:
        ready = prepare(plan_or_outing)
        start_utc = _start_utc(at, in_, ready)
        series = _series(ready, start_utc, every, until) if every and until else None
        reach = reach_of_run(ready, port, model)
        reasons = _despite(despite, reach, ready)
        _another_is_meant(outing, yes=yes)
        begins = series.first if series else start_utc
        given = give_plan(
            plan_or_outing, pace=1.0, root=under, outing=outing, reach=reach, despite=reasons, begins=begins
        )
        if series is not None:
            _plan_series(given, series)
            return
    if start_utc is not None:
        _plan_for_later(given, start_utc)
    else:
        _start_and_watch(given, detach)


def _run_again(outing: Path, *, port: str, model: str, despite: tuple[str, ...], detach: bool) -> None:
    from tether.editor.again import same_again  # it loads what finds a base

    job = read_job(outing)
    reasons = _despite(despite, job.reach, ready_of(job))
    given = same_again(outing, say, port=port, model=model, despite=reasons)
    _start_and_watch(given, detach)


def _start_utc(at: str | None, in_: str | None, ready: Prepared) -> datetime | None:
    """Return when a run is to start, worked out once; None: now."""
    if not (at or in_):
        return None
    return parse_start(at, in_, datetime.now().astimezone(), get_localzone(), ready.plan.place.spot)


def _series(ready: Prepared, start_utc: datetime | None, every: str, until: str) -> Series:
    """Return when ladders begin that end before the person leaves; what is left out for that is said."""
    from tether.service.series import parse_series, within_leave_by

    first = start_utc or datetime.now(UTC) + _AT_ONCE
    asked = parse_series(first, every, until, get_localzone(), ready.plan.place.spot)
    series, left_out = within_leave_by(ready, asked)
    if left_out:
        say(f"No ladder begins at {_clock_times(left_out)}: it would end after leave_by.")
    takes_s = ready.ladder.forecast.total_s
    if takes_s > series.every.total_seconds():
        late = "a moment that comes while one is under way has none"
        say(f"A ladder takes about {words.span(takes_s)}, longer than {every}: {late}.")
    return series


def _clock_times(moments: list[datetime]) -> str:
    return ", ".join(f"{one.astimezone():%H:%M}" for one in moments)


def _plan_series(given: StartedJob, series: Series) -> None:
    from tether.service.scheduler import (  # a scheduler and its store, which take a while to load
        ensure_waiting,
        plan_series,
    )

    _show_ladder(given.ready)
    plan_series(given.outing, series)
    ensure_waiting()
    moments = series.moments()
    count = f"{len(moments)} ladder{'' if len(moments) == 1 else 's'}"
    echo(f"{count} of their own in {given.outing}, {moments[0].astimezone():%Y-%m-%d}: {_clock_times(moments)}.")
    echo("Each begins only when the one before is over; one missed by more than ten minutes is noted in the log.")
    _say_of_the_clock()
    echo(f"Call off those that are still to come: tether stop {given.outing}")


def _say_of_the_clock() -> None:
    clock = WallClock.now()
    if not clock_trusted(clock):
        talk().print(clock_sentence(clock))


def _plan_for_later(given: StartedJob, start_utc: datetime) -> None:
    from tether.service.scheduler import (  # a scheduler and its store, which take a while to load
        ensure_waiting,
        plan_start,
    )

    _show_ladder(given.ready)
    plan_start(given.outing, start_utc)
    ensure_waiting()
    _say_of_the_clock()
    echo(f"The run of {given.outing} starts at {start_utc.astimezone():%Y-%m-%d %H:%M:%S %Z}.")
    echo("A start missed by more than ten minutes is not made; it is noted in the log.")
    echo(f"Call it off: tether stop {given.outing}")


def _start_and_watch(given: StartedJob, detach: bool) -> None:
    ringer = ringer_of(os.environ.get(RING_SETTING))
    _show_ladder(given.ready)
    started = start(given.outing)
    if started and detach:
        echo(f"The run of {given.outing} continues by itself.")
        echo(f"Watch it: tether watch {given.outing}   steer it: tether say WORDS   stop it: tether stop")
        return
    over = watch(started, talk(), ringer) if started else None
    end_of_watching(given.outing, started=started is not None, over=over)


def _show_ladder(ready: Prepared) -> None:
    page = out()
    page.print(LadderView(planned_of(ready.ladder)))
    page.print()
