"""A run that goes on: watched, spoken to, stopped, and its log shown once it is over."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from tether.command.common import out, say, talk
from tether.control.client import say_to
from tether.control.commands import WORDS, Verb, verb_of_words
from tether.control.registry import find
from tether.control.ringing import ringer_of
from tether.errors import PlanError
from tether.journal.records import LadderEnded


def watch_run_of(outing: Path | str | None, as_json: bool, ring_by: str | None) -> None:
    """Watch the run of an outing, or the only one that goes on; as lines of JSON where other programs read them."""
    ringer = ringer_of(ring_by)
    found = find(outing)
    if as_json:
        from tether.command.retelling import retell
        from tether.report.harmless import harmless_json

        over = retell(found, lambda line: click.echo(harmless_json(line)))
        sys.exit(_exit_code(over) if over else 0)
    from tether.command.watching import watch

    end_of_watching(found.outing, started=True, over=watch(found, talk(), ringer))


def end_of_watching(outing: Path, *, started: bool, over: LadderEnded | None) -> None:
    """Show the log once the ladder is over; leaving a run that goes on is no failure."""
    if started and over is None:
        return
    show_end(outing)
    if over:
        sys.exit(_exit_code(over))
    from tether.engine.engine import verdict
    from tether.journal.telling import read_outing

    sys.exit(verdict(read_outing(outing).ladders[-1].outcome))


def _exit_code(over: LadderEnded) -> int:
    from tether.engine.engine import verdict

    return verdict(over.outcome, over.trouble)


def show_end(outing: Path) -> None:
    """Show the log of an outing whose ladder is over, and what is missing."""
    from tether.journal.telling import read_outing
    from tether.report.checks_view import AFTER, ChecksView
    from tether.report.tables import LogView
    from tether.service.finish import read_ended, told_by_journal

    page, told = out(), read_outing(outing)
    for part in LogView(told).parts(page.width):
        page.print(part)
    page.print()
    page.print(f"Frames, previews and the log are in {outing}", soft_wrap=True)
    page.print(f"Read the log again with:  tether log {outing}", soft_wrap=True)
    if told.ladders:
        page.print()
        page.print(ChecksView(told_by_journal(read_ended(outing)), AFTER))
        page.print(f"Look at the card once more, make a second copy:  tether finish {outing}", soft_wrap=True)


def say_words(words: tuple[str, ...], outing: Path | str | None) -> None:
    """Say words to a run."""
    verb = verb_of_words(" ".join(words))
    if verb is None:
        known = ", ".join(word.verb for word in WORDS)
        raise PlanError(f'"{" ".join(words)}" is not known; a run understands: {known}.')
    _say(verb, outing)


def stop_run(outing: Path | str | None, now: bool, drop: bool) -> None:
    """Stop a run, or call off its planned start."""
    if now and drop:
        raise PlanError("tether stop: --now keeps the frame, --drop drops everything; give one of them.")
    called_off = _called_off(Path(outing)) if outing else None
    if called_off:
        say(called_off)
        return
    _say("drop everything" if drop else "stop now and keep" if now else "stop after this frame", outing)


def _called_off(outing: Path) -> str | None:
    """Call off the planned starts of an outing and say so; None where none is planned."""
    from tether.service.scheduler import cancel, planned  # a scheduler and its store, which take a while to load

    found = next((one for one in planned() if one.outing == outing.resolve()), None)
    if found is None:
        return None
    cancel(outing)
    if found.until_utc is None:
        return f"The planned start of {outing} is called off."
    times = f"{found.when_utc.astimezone():%H:%M} to {found.until_utc.astimezone():%H:%M}"
    off = f"The ladders of {outing} still to come, {times}, are called off."
    return f"{off} One under way continues; to stop it too, say this again."


def _say(verb: Verb, outing: Path | str | None) -> None:
    say(say_to(find(outing).socket, verb))
