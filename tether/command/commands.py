"""The commands of the command line, one function each; they read options, call the rooms below, and print."""

from __future__ import annotations

import sys
from datetime import datetime
from importlib import import_module
from pathlib import Path

import click
from click.core import ParameterSource
from tzlocal import get_localzone

from tether import __version__
from tether.body.connection import SIMULATED, Reach
from tether.body.responder.start import Dialect
from tether.checks.checks import names_of, parse_despite
from tether.checks.host_clocks import WallClock, clock_sentence, clock_trusted
from tether.command.body import body
from tether.command.common import DESPITE, FILE, MODEL, PORT, dialect_option, echo, out, print_json, talk
from tether.command.desk import desk
from tether.command.talk import line_of
from tether.command.watching import here
from tether.command.watching import watch as watch_run
from tether.control.client import say_to
from tether.control.commands import WORDS, Verb, verb_of_words
from tether.control.events import Event, LadderOver
from tether.control.registry import find
from tether.engine.engine import verdict
from tether.errors import PlanError
from tether.journal.telling import read_outing
from tether.outing.camera import reach_of_run, spoken_by
from tether.outing.job import read_job, ready_of
from tether.outing.prepare import Prepared, prepare
from tether.plan.as_json import ladder_json
from tether.plan.new import Answers, filter_of, new_plan
from tether.report.audit_view import AuditView
from tether.report.checks_view import AFTER, ChecksView
from tether.report.export import export_csv, export_json
from tether.report.ladder_picture import save_ladder_picture
from tether.report.ladder_view import LadderView
from tether.report.log import log_json
from tether.report.sheet import make_sheet
from tether.report.tables import LogView
from tether.service.finish import finish, read_ended, told_by_journal
from tether.service.launch import Given, give_again, give_plan, start
from tether.service.rehearsal import MAX, Rehearsal
from tether.service.start_time import parse_start


class _Commands(click.Group):
    """The commands; those that need a large library are loaded when they are called, for that takes a while."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted((*super().list_commands(ctx), *_LATER))

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _LATER:
            return super().get_command(ctx, cmd_name)
        command: click.Command = getattr(import_module(f"tether.command.{cmd_name}"), cmd_name)
        return command


_LATER = ("base", "measure", "page")


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="tether")
def tether() -> None:
    """Work a ladder of exposures of moving water: the same light, from frozen to silk.

    \b
    Exit codes: 0 done as planned; 1 ended, but something is missing or was stopped;
    2 mend the plan or the command; 3 mend, fit or wait for something at the camera; 4 given up.
    """


tether.add_command(body)
tether.add_command(desk)


@tether.command()
@click.argument("file", type=FILE)
@click.option("--title", default=Answers.title, show_default=True, help="What the outing is called.")
@click.option("--body", default=Answers.body, show_default=True, help="Body file, by name or path.")
@click.option(
    "--focal", "focal_mm", type=float, default=Answers.focal_mm, show_default=True, help="Focal length in mm."
)
@click.option("--widest", default=Answers.widest, show_default=True, help="Widest aperture of the lens.")
@click.option("--narrowest", default=Answers.narrowest, show_default=True, help="Narrowest aperture of the lens.")
@click.option("--time", "base_time", default=Answers.base_time, show_default=True, help="Time of the base exposure.")
@click.option("--aperture", "base_aperture", default=Answers.base_aperture, show_default=True, help="Its aperture.")
@click.option("--iso", "base_iso", default=Answers.base_iso, show_default=True, help="Its ISO.")
@click.option("--from", "shortest", default=Answers.shortest, show_default=True, help="Shortest rung.")
@click.option("--to", "longest", default=Answers.longest, show_default=True, help="Longest rung.")
@click.option("--filter", "filters", multiple=True, metavar="NAME=STOPS", help="A filter on hand; may be repeated.")
@click.option("--like", type=FILE, help="Take the plan of an earlier outing's last ladder instead.")
def new(file: Path, like: Path | None, filters: tuple[str, ...], **answers: object) -> None:
    """Write a commented plan to FILE.

    What is not given as an option is asked for at a terminal, or has its default.
    """
    if file.exists():
        raise PlanError(f"{file}: this file is there already and is left as it is; give another name.")
    if not like and sys.stdin.isatty():
        answers, filters = _asked(click.get_current_context(), answers, filters)
    text = _plan_of(like) if like else new_plan(Answers(filters=[filter_of(one) for one in filters], **answers))  # type: ignore[arg-type]
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise PlanError(f"{file}: cannot be written: {(error.strerror or 'unknown reason').lower()}.") from error
    talk().print(f"{file} is written. See its ladder with:  tether ladder {file} --why")


_QUESTIONS = {
    "title": "What is the outing called",
    "base_time": "Time of the base exposure",
    "base_aperture": "Its aperture",
    "base_iso": "Its ISO",
    "focal_mm": "Focal length in mm",
    "shortest": "Shortest rung",
    "longest": "Longest rung",
}


def _asked(
    context: click.Context, answers: dict[str, object], filters: tuple[str, ...]
) -> tuple[dict[str, object], tuple[str, ...]]:
    """Ask for what was not given as an option; an empty answer keeps the default."""

    def given(name: str) -> bool:
        return context.get_parameter_source(name) is not ParameterSource.DEFAULT

    asked = {
        name: click.prompt(question, default=answers[name], err=True)
        for name, question in _QUESTIONS.items()
        if not given(name)
    }
    if given("filters"):
        return answers | asked, filters
    words = click.prompt('Filters on hand, such as "Calder 6=6, Calder 10=10" (none: press return)', "", err=True)
    return answers | asked, tuple(one.strip() for one in str(words).split(",") if one.strip())


def _plan_of(outing: Path) -> str:
    ladders = read_outing(outing).ladders
    if not ladders or not ladders[-1].plan_text:
        raise PlanError(f"{outing}: this outing has no ladder whose plan could be taken.")
    return ladders[-1].plan_text


@tether.command()
@click.argument("plan", type=FILE)
@click.option("--why", is_flag=True, help="Show the reason for each rung.")
@click.option("--others", type=click.IntRange(0, 20), default=0, help="Show so many other ways for each rung.")
@click.option("--json", "as_json", is_flag=True, help="Print the ladder as JSON.")
@click.option("--picture", type=FILE, help="Also draw the ladder into this SVG file.")
def ladder(plan: Path, why: bool, others: int, as_json: bool, picture: Path | None) -> None:
    """Show the ladder that PLAN makes; no camera is needed."""
    planned = ladder_json(prepare(plan, others=others).ladder)
    if picture:
        save_ladder_picture(planned, picture)
    if as_json:
        print_json(planned)
    else:
        out().print(LadderView(planned, why=why))


def _pace(_context: click.Context, _option: click.Parameter, value: str) -> float | str:
    if value == MAX:
        return MAX
    try:
        pace = float(value)
    except ValueError:
        pace = 0.0
    if not 0.1 <= pace <= 1000:
        raise PlanError(f'--pace "{value}": write 1 for real time, a number up to 1000 to be faster, or "max".')
    return pace


@tether.command()
@click.argument("plan", type=FILE)
@click.option("--pace", callback=_pace, default="1", show_default=True, help='1, 60, … or "max" (as fast as it goes).')
@click.option("--outing", type=FILE, help="The outing's folder; this ladder is added to what is there.")
@click.option("--under", type=FILE, default=Path("outings"), show_default=True, help="Where a new outing is made.")
@click.option("--world", type=FILE, help="A file that says what the simulated world really does.")
@click.option("--answer-for-me", is_flag=True, help='Answer "your turn" by itself; always so at pace "max".')
@dialect_option(
    "--through-driver",
    "Speak to the simulated body by the driver for real ones, at pace 1; with which dialect, eos if left out.",
)
@DESPITE
@click.option("--detach", is_flag=True, help="Start it and leave it to itself.")
def rehearse(
    plan: Path,
    pace: float | str,
    outing: Path | None,
    under: Path,
    world: Path | None,
    answer_for_me: bool,
    dialect: Dialect | None,
    despite: tuple[str, ...],
    detach: bool,
) -> None:
    """Run the ladder of PLAN on the simulated body. "?" shows the keys, Ctrl-C leaves it to itself."""
    if dialect and pace != 1.0:
        raise PlanError(f"--through-driver: the driver works in real time only; leave --pace {pace} out.")
    reach = Reach(way="wire", dialect=dialect) if dialect else SIMULATED
    reasons = _despite(despite, reach, prepare(plan))
    if isinstance(pace, str):
        rehearsal = Rehearsal.of(plan, pace=pace, root=under, outing=outing, world=world, despite=reasons)
        _show_ladder(rehearsal.ready)
        done = here(rehearsal, talk())
        _show_log(done.folder)
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


def _despite(texts: tuple[str, ...], reach: Reach, ready: Prepared) -> dict[str, str]:
    return parse_despite(texts, names_of(spoken_by(reach, ready))) if texts else {}


@tether.command()
@click.argument("plan_or_outing", type=FILE)
@click.option("--outing", type=FILE, help="The outing's folder; this ladder is added to what is there.")
@click.option("--under", type=FILE, default=Path("outings"), show_default=True, help="Where a new outing is made.")
@click.option("--detach", is_flag=True, help="Start it and leave it to itself.")
@click.option("--at", help="Start it at a time of day such as 05:40, or a date and time.")
@click.option("--in", "in_", help="Start it after so long, such as 45m or 2h30m.")
@PORT
@MODEL
@DESPITE
def run(
    plan_or_outing: Path,
    outing: Path | None,
    under: Path,
    detach: bool,
    at: str | None,
    in_: str | None,
    port: str,
    model: str,
    despite: tuple[str, ...],
) -> None:
    """Run a plan's ladder, or go on with an outing's.

    A plan is run in real time, on the camera that its body file is of, or on the simulated body where it names that;
    an outing's last ladder is gone on with from wherever it was. Before anything is exposed all is looked at.
    """
    now = datetime.now().astimezone()
    start_utc = parse_start(at, in_, now, get_localzone()) if at or in_ else None
    if plan_or_outing.is_dir():
        job = read_job(plan_or_outing)
        reasons = _despite(despite, job.reach, ready_of(job))
        given = give_again(plan_or_outing, port=port, model=model, despite=reasons)
    else:
        ready = prepare(plan_or_outing)
        reach = reach_of_run(ready, port, model)
        reasons = _despite(despite, reach, ready)
        given = give_plan(plan_or_outing, pace=1.0, root=under, outing=outing, reach=reach, despite=reasons)
    if start_utc is not None:
        _plan_for_later(given, start_utc)
    else:
        _start_and_watch(given, detach)


def _plan_for_later(given: Given, start_utc: datetime) -> None:
    from tether.service.scheduler import (  # a scheduler and its store, which take a while to load
        ensure_waiting,
        plan_start,
    )

    _show_ladder(given.ready)
    plan_start(given.outing, start_utc)
    ensure_waiting()
    clock = WallClock.now()
    if not clock_trusted(clock):
        talk().print(clock_sentence(clock))
    echo(f"The run of {given.outing} starts at {start_utc.astimezone():%Y-%m-%d %H:%M:%S %Z}.")
    echo("A start missed by more than ten minutes is not made; it is noted in the log.")
    echo(f"Call it off: tether stop {given.outing}")


def _start_and_watch(given: Given, detach: bool) -> None:
    _show_ladder(given.ready)
    started = start(given.outing)
    if started and detach:
        echo(f"The run of {given.outing} goes on by itself.")
        echo(f"Watch it: tether watch {given.outing}   steer it: tether say WORDS   stop it: tether stop")
        return
    over = watch_run(started, talk()) if started else None
    _end_of_watching(given.outing, started=started is not None, over=over)


def _end_of_watching(outing: Path, *, started: bool, over: LadderOver | None) -> None:
    """Show the log once the ladder is over; leaving a run that goes on is no failure."""
    if started and over is None:
        return
    _show_log(outing)
    if over:
        sys.exit(verdict(over.outcome, over.trouble))
    sys.exit(verdict(read_outing(outing).ladders[-1].outcome))


def _show_ladder(ready: Prepared) -> None:
    page = out()
    page.print(LadderView(ladder_json(ready.ladder)))
    page.print()


def _show_log(outing: Path) -> None:
    page = out()
    page.print(LogView(read_outing(outing)))
    page.print()
    page.print(f"Frames, previews and the log are in {outing}", soft_wrap=True)
    page.print(f"Read the log again with:  tether log {outing}", soft_wrap=True)
    if read_outing(outing).ladders:
        page.print()
        page.print(ChecksView(told_by_journal(read_ended(outing)), AFTER))
        page.print(f"Look at the card once more, make a second copy:  tether finish {outing}", soft_wrap=True)


@tether.command("finish")
@click.argument("outing", type=FILE)
@click.option("--fetch", is_flag=True, help="Bring home what is on the card and not in the outing.")
@click.option("--copy-to", type=FILE, help="Make a second copy in this folder, read back and compared.")
@PORT
def finish_(outing: Path, fetch: bool, copy_to: Path | None, port: str) -> None:
    """Say what is missing at the end of OUTING.

    The card is held against the outing, the camera is set back as it was found, and what is to be done before going
    is said. The exit code is 1 where anything is missing.
    """
    said = talk()

    def tell_line(event: Event) -> None:
        if line := line_of(event, 0):
            said.print(line, soft_wrap=True)

    found = finish(read_ended(outing), fetch=fetch, copy_to=copy_to, port=port, emit=tell_line)
    out().print(ChecksView(found, AFTER))
    sys.exit(1 if any(one.verdict == "stop" for one in found) else 0)


@tether.command()
@click.argument("outing", required=False)
def watch(outing: str | None) -> None:
    """Attach to a run that is going on; Ctrl-C leaves it to itself."""
    found = find(outing)
    _end_of_watching(found.outing, started=True, over=watch_run(found, talk()))


@tether.command()
@click.argument("words", nargs=-1, required=True)
@click.option("--outing", help="Which run, where several are going on.")
def say(words: tuple[str, ...], outing: str | None) -> None:
    """Say WORDS to a run, such as pause or brighter.

    A run understands: answer, answer ahead, again, skip, next, pause, go on, brighter, darker; while it is open:
    longer, shorter, close and keep; and stop after this frame, stop now and keep, drop everything.
    """
    verb = verb_of_words(" ".join(words))
    if verb is None:
        known = ", ".join(word.verb for word in WORDS)
        raise PlanError(f'"{" ".join(words)}" is not known; a run understands: {known}.')
    _say(verb, outing)


@tether.command()
@click.argument("outing", required=False)
@click.option("--now", is_flag=True, help="Close the shutter now and keep the frame.")
@click.option("--drop", is_flag=True, help="Close the shutter now and leave at once; nothing more is fetched.")
def stop(outing: str | None, now: bool, drop: bool) -> None:
    """Stop a run in one of three ways.

    Without an option it stops when the frame in hand is home. A start planned for later is called off.
    """
    if now and drop:
        raise PlanError("tether stop: --now keeps the frame, --drop drops everything; give one of them.")
    if outing and _called_off(Path(outing)):
        talk().print(f"The planned start of {outing} is called off.", soft_wrap=True)
        return
    _say("drop everything" if drop else "stop now and keep" if now else "stop after this frame", outing)


def _called_off(outing: Path) -> bool:
    """Call off the planned start of an outing; False where none is planned."""
    from tether.service.scheduler import cancel, planned  # a scheduler and its store, which take a while to load

    if not any(one.outing == outing.resolve() for one in planned()):
        return False
    cancel(outing)
    return True


def _say(verb: Verb, outing: str | None) -> None:
    talk().print(say_to(find(outing).socket, verb), soft_wrap=True)


@tether.command()
@click.argument("outing", type=FILE)
@click.option("--json", "as_json", is_flag=True, help="Print the log as JSON.")
@click.option("--audit", "audited", is_flag=True, help="Show where each frame's light went, against the base.")
def log(outing: Path, as_json: bool, audited: bool) -> None:
    """Show what was really applied in OUTING."""
    told = read_outing(outing)
    if as_json:
        print_json(log_json(told))
    elif audited:
        out().print(AuditView(told))
    else:
        out().print(LogView(told))


@tether.command()
@click.argument("outing", type=FILE)
@click.option("--csv", "csv", type=FILE, help="Write a table, a line a frame, to this file.")
@click.option("--json", "json_", type=FILE, help="Write everything to this file.")
def export(outing: Path, csv: Path | None, json_: Path | None) -> None:
    """Write the log of OUTING for other programs."""
    if csv is None and json_ is None:
        raise PlanError("tether export: say what to write: --csv FILE, --json FILE, or both.")
    told = read_outing(outing)
    if csv:
        export_csv(told, csv)
    if json_:
        export_json(told, json_)


@tether.command()
@click.argument("outing", type=FILE)
@click.option(
    "--ladder", "number", type=click.IntRange(1), help="Which ladder of the outing; the last one if left out."
)
@click.option("--rungs", help="Only these rungs, such as 1,4,9.")
@click.option("--to", "path", type=FILE, default=Path("sheet.jpg"), show_default=True, help="The picture to write.")
def sheet(outing: Path, number: int | None, rungs: str | None, path: Path) -> None:
    """Make a picture of OUTING's rungs side by side, to choose by."""
    told = read_outing(outing)
    if not told.ladders:
        raise PlanError(f"{outing}: this outing has no ladder yet.")
    make_sheet(outing, number or told.ladders[-1].ladder, path, rungs=_numbers(rungs))
    talk().print(f"{path} is written.")


def _numbers(text: str | None) -> list[int] | None:
    if text is None:
        return None
    try:
        return [int(one) for one in text.split(",")]
    except ValueError:
        raise PlanError(f'--rungs "{text}": write the numbers of rungs with commas between, such as 1,4,9.') from None
