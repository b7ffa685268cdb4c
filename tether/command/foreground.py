"""The foreground face: runs the engine in a thread, prints what happens, hears keys, counts down by itself."""

from __future__ import annotations

import itertools
import queue
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from rich.console import Console
from rich.live import Live
from rich.text import Text

from tether.clock import Clock
from tether.command.keys import listening
from tether.command.talk import Now, key_help, line_of
from tether.run.commands import Command, Verb
from tether.run.context import Item
from tether.run.events import Event, LadderBegun

#: Ctrl-C pressed once, twice, three times.
INTERRUPTS: tuple[Verb, ...] = ("stop after this frame", "stop now and keep", "drop everything")
_REFRESH_S = 0.1


@dataclass(frozen=True)
class _Over:
    """The engine's thread is done, with or without an error."""

    error: BaseException | None


def watch_in_foreground(
    work: Callable[[Callable[[Event], None], queue.SimpleQueue[Item]], None], clock: Clock, talk: Console
) -> None:
    """Run `work` (given where to emit events and where commands come from) and show it until it is over.

    Ctrl-C stops after the frame in hand, twice closes and keeps, three times drops everything. Raises what `work` does.
    """
    events: queue.SimpleQueue[Event | _Over] = queue.SimpleQueue()
    box: queue.SimpleQueue[Item] = queue.SimpleQueue()
    thread = threading.Thread(target=_guarded, args=(work, events, box), name="engine")
    thread.start()

    def say(verb: Verb) -> None:
        box.put(Command(verb=verb))

    with _interrupts(say), listening(say, lambda: talk.print(key_help()), talk.print):
        over = _show(events, clock, talk)
    thread.join()
    if over.error is not None:
        raise over.error


@contextmanager
def _interrupts(say: Callable[[Verb], None]) -> Iterator[None]:
    """Take Ctrl-C as a word to the run, each press a stronger one, and an order to end as "stop now and keep"."""
    presses = itertools.chain(INTERRUPTS, itertools.repeat(INTERRUPTS[-1]))
    before = {
        signal.SIGINT: signal.signal(signal.SIGINT, lambda *_: say(next(presses))),
        signal.SIGTERM: signal.signal(signal.SIGTERM, lambda *_: say("stop now and keep")),
    }
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _guarded(
    work: Callable[[Callable[[Event], None], queue.SimpleQueue[Item]], None],
    events: queue.SimpleQueue[Event | _Over],
    box: queue.SimpleQueue[Item],
) -> None:
    try:
        work(events.put, box)
    except BaseException as error:  # carried to the main thread and raised there
        events.put(_Over(error))
    else:
        events.put(_Over(None))


def _show(events: queue.SimpleQueue[Event | _Over], clock: Clock, talk: Console) -> _Over:
    now = Now()
    rungs = 0
    with Live(console=talk, transient=True, auto_refresh=False) as live:
        while not isinstance(event := _next(events), _Over):
            if event is not None:
                rungs = len(event.planned["rungs"]) if isinstance(event, LadderBegun) else rungs
                _tell(event, now, rungs, talk)
            if talk.is_terminal:
                live.update(Text(now.line(clock.now_ns()), style="bold"), refresh=True)
    return event


def _tell(event: Event, now: Now, rungs: int, talk: Console) -> None:
    was_your_turn = now.your_turn
    now.hear(event)
    if now.your_turn and not was_your_turn:
        talk.bell()
    line = line_of(event, rungs)
    if line:
        talk.print(Text(line))


def _next(events: queue.SimpleQueue[Event | _Over]) -> Event | _Over | None:
    try:
        return events.get(timeout=_REFRESH_S)
    except queue.Empty:
        return None
