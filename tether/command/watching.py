"""The watching face: attached to a run, prints what happens, hears keys, counts down by itself, and may leave."""

from __future__ import annotations

import queue
import signal
import time
from contextlib import closing, suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from rich.console import Console
from rich.live import Live
from rich.padding import Padding
from rich.text import Text

from tether.command.common import say_left
from tether.command.keys import listening
from tether.command.talk import key_help, line_of, now_line
from tether.control.attachment import Attachment, RunView, WordReply
from tether.control.commands import Command, Item, Verb
from tether.control.registry import Running
from tether.control.ringing import Ringer
from tether.guard import LOG_NAME
from tether.journal.records import LadderEnded, Record
from tether.journal.snapshot import Snapshot, after, asks
from tether.report.told import light

if TYPE_CHECKING:
    from tether.service.rehearsal import Rehearsal, Rehearsed

#: How often the line of what is going on is drawn anew [s].
REFRESH_S = 0.1
#: How long a run that has gone without a verdict may take to be started again [real s].
BACK_WITHIN_S = 90.0


class LeaveError(Exception):
    """The person leaves the face; the run goes on."""


@dataclass
class _Person:
    """What the person at this face wants: words to say, and whether to leave."""

    said: queue.SimpleQueue[Verb] = field(default_factory=queue.SimpleQueue)
    leaving: bool = False

    def leave(self, *_: object) -> None:
        """Note that the person leaves; for a signal handler."""
        self.leaving = True


def watch(run: Running, talk: Console, ringer: Ringer | None = None) -> LadderEnded | None:
    """Watch a run until it is over, and return how; None if the person left it (Ctrl-C), or it was lost sight of.

    A run that is started again meanwhile is attached to again; `ringer` rings beside the terminal's bell.
    """
    person = _Person()
    before = signal.signal(signal.SIGINT, person.leave)
    try:
        with listening(person.said.put, lambda: talk.print(key_help()), talk.print):
            return _watched(run, person, talk, ringer)
    except LeaveError:
        say_left("You have left; the run continues. Watch it again:", "watch", run.outing, talk)
        return None
    finally:
        signal.signal(signal.SIGINT, before)


def _watched(run: Running, person: _Person, talk: Console, ringer: Ringer | None = None) -> LadderEnded | None:
    heard: queue.SimpleQueue[RunView | WordReply] = queue.SimpleQueue()
    attachment = Attachment(run.outing, heard.put)
    attachment.start()
    sight, until_s = RunView(), time.monotonic() + BACK_WITHIN_S
    with closing(attachment), Live(console=talk, transient=True, auto_refresh=False) as live:
        while True:
            if person.leaving:
                raise LeaveError
            while not person.said.empty():
                attachment.say(person.said.get())
            with suppress(queue.Empty):
                sight = _told(heard.get(timeout=REFRESH_S), sight, talk, ringer)
            if sight.snapshot.over or sight.state == "over":
                return sight.snapshot.over
            if sight.state == "attached":
                until_s = time.monotonic() + BACK_WITHIN_S
            elif run.is_over:
                return _ended_unseen(run, talk)
            elif time.monotonic() > until_s:
                talk.print(f"The run no longer answers. What happened is in {run.outing / LOG_NAME}")
                return None
            if talk.is_terminal:
                live.update(Text(_now(sight), style="bold"), refresh=True)


def _now(sight: RunView) -> str:
    """Return what is going on, and under it what the light has done."""
    if sight.clock is None:
        return ""
    return f"{now_line(sight.snapshot, sight.clock.now_ns())}\n{light(sight.snapshot, sight.clock.utc())}".rstrip()


def _ended_unseen(run: Running, talk: Console) -> LadderEnded:
    from tether.service.launch import how_it_ended

    over = how_it_ended(run.outing)
    tell(over, Snapshot(), talk)
    return over


def _told(news: RunView | WordReply, before: RunView, talk: Console, ringer: Ringer | None) -> RunView:
    """Print what has come, and return how the run stands then; of a word only a refusal is worth a line."""
    if isinstance(news, WordReply):
        if not news.ok:
            talk.print(Text(f"  {news.sentence}"))
        return before
    snapshot = news.snapshot
    if news.record is not None:
        tell(news.record, snapshot, talk, ringer)
    elif news.state == "lost" and before.state == "attached":
        talk.print(Text(f"{news.why_lost} Attaching again."))
    elif news.attached > before.attached:
        if not snapshot.frames:  # what was looked at before the first frame is news to whoever comes then
            for said in snapshot.said:
                _print(f"  {said.text}", talk)
        if snapshot.over:
            tell(snapshot.over, snapshot, talk)
    return news


def tell(record: Record, snapshot: Snapshot, talk: Console, ringer: Ringer | None = None) -> None:
    """Print what is worth a line, and ring where the person's turn begins."""
    if asks(record):
        talk.bell()
        if ringer is not None:
            ringer.ring()
    line = line_of(record, snapshot)
    if line:
        _print(line, talk)


def _print(line: str, talk: Console) -> None:
    plain = line.lstrip()  # a long line goes on under its own beginning
    talk.print(Padding(Text(plain), (0, 0, 0, len(line) - len(plain)), expand=False))


def here(rehearsal: Rehearsal, talk: Console) -> Rehearsed:
    """Run a rehearsal in this process, as fast as it goes, and print what happens; Ctrl-C stops it after the frame."""
    box: queue.SimpleQueue[Item] = queue.SimpleQueue()
    snapshot = Snapshot()

    def hear(record: Record) -> None:
        nonlocal snapshot
        snapshot = after(snapshot, record)
        tell(record, snapshot, talk)

    before = signal.signal(signal.SIGINT, lambda *_: box.put(Command(verb="stop after this frame")))
    try:
        return rehearsal.run(hear, box)
    finally:
        signal.signal(signal.SIGINT, before)
