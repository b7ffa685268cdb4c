"""The watching face: attached to a run, prints what happens, hears keys, counts down by itself, and may leave."""

from __future__ import annotations

import queue
import signal
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from rich.console import Console
from rich.live import Live
from rich.padding import Padding
from rich.text import Text

from tether.command.keys import listening
from tether.command.talk import key_help, line_of, now_line
from tether.control.client import Face, GoneError
from tether.control.commands import Command, Item, Verb
from tether.control.registry import Running
from tether.errors import LostError, TetherError
from tether.guard import LOG_NAME
from tether.journal.records import LadderEnded, Record
from tether.journal.snapshot import Snapshot, after, asks

if TYPE_CHECKING:
    from tether.control.commands import Item
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

    def stay(self) -> None:
        """Raise LeaveError if the person leaves."""
        if self.leaving:
            raise LeaveError


def watch(run: Running, talk: Console) -> LadderEnded | None:
    """Watch a run until it is over, and return how; None if the person left it (Ctrl-C), or it was lost sight of.

    A run that is started again meanwhile is attached to again.
    """
    person = _Person()
    before = signal.signal(signal.SIGINT, person.leave)
    try:
        with listening(person.said.put, lambda: talk.print(key_help()), talk.print):
            return _watched(run, person, talk)
    except LeaveError:
        talk.print(f"You have left; the run continues. Watch it again: tether watch {run.outing}", soft_wrap=True)
        talk.print(f"Stop it: tether stop {run.outing}", soft_wrap=True)
        return None
    finally:
        signal.signal(signal.SIGINT, before)


def _watched(run: Running, person: _Person, talk: Console) -> LadderEnded | None:
    until_s = time.monotonic() + BACK_WITHIN_S
    while True:
        person.stay()
        try:
            face = Face.attach(run.socket)
        except TetherError:
            if run.is_over:
                from tether.service.launch import how_it_ended

                over = how_it_ended(run.outing)
                tell(over, Snapshot(), talk)
                return over
            if time.monotonic() > until_s:
                talk.print(f"The run no longer answers. What happened is in {run.outing / LOG_NAME}")
                return None
            time.sleep(REFRESH_S)
            continue
        try:
            return _show(face, person, talk)
        except GoneError as gone:
            until_s = time.monotonic() + BACK_WITHIN_S
            if not gone.again:
                return face.snapshot.over
            talk.print(Text(f"{gone} Attaching again."))
        finally:
            face.close()


def _show(face: Face, person: _Person, talk: Console) -> LadderEnded | None:
    if not face.snapshot.frames:  # what was looked at before the first frame is news to whoever comes then
        for said in face.snapshot.said:
            _print(f"  {said.text}", talk)
    if face.snapshot.over:
        tell(face.snapshot.over, face.snapshot, talk)
        return face.snapshot.over
    with Live(console=talk, transient=True, auto_refresh=False) as live:
        while True:
            person.stay()
            while not person.said.empty():
                _say(face, person.said.get(), talk)
            record = face.next(REFRESH_S)
            if record is not None:
                tell(record, face.snapshot, talk)
            if face.snapshot.over:
                return face.snapshot.over
            if talk.is_terminal:
                live.update(Text(now_line(face.snapshot, face.clock.now_ns()), style="bold"), refresh=True)


def _say(face: Face, verb: Verb, talk: Console) -> None:
    """Say a word; what comes of it is shown, so only a refusal is worth a line. Raises GoneError."""
    try:
        face.say(verb)
    except GoneError:
        raise
    except LostError as refused:
        talk.print(Text(f"  {refused}"))


def tell(record: Record, snapshot: Snapshot, talk: Console) -> None:
    """Print what is worth a line, and ring where the person's turn begins."""
    if asks(record):
        talk.bell()
    line = line_of(record, len(snapshot.planned.rungs) if snapshot.planned else 0)
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
