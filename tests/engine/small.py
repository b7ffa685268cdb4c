"""A run in hand without an outing: a plan, its ladder, a stepped clock, a camera that does as told, what is told."""

from __future__ import annotations

import queue
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from typing import Any, TypeVar, cast

from tests.plan.plans import HEAD, abilities_of, plan_of
from tether.body.protocol import ReadBack, Settings, ShutterRecord
from tether.clock import SteppedClock, to_ns
from tether.control.commands import Command, Item, Verb
from tether.control.stream import Stream
from tether.engine.run_state import Run
from tether.exposure.abilities import Abilities
from tether.exposure.labels import parse_aperture, parse_iso, parse_time
from tether.journal.records import Record, Said, Steered
from tether.plan.file import Plan
from tether.plan.ladder import Ladder
from tether.plan.planner import make_ladder

R = TypeVar("R")
NOW = datetime(2026, 10, 3, 16, 30, tzinfo=UTC)


@dataclass
class FakeCamera:
    """A camera that remembers what it was told, and does what is given by name; else it does as it is told."""

    does: dict[str, Callable[..., Any]] = field(default_factory=dict)
    calls: list[tuple[Any, ...]] = field(default_factory=list)

    def __getattr__(self, name: str) -> Callable[..., Any]:
        if name.startswith("__"):
            raise AttributeError(name)

        def called(*args: Any) -> Any:
            self.calls.append((name, *args))
            do = self.does.get(name, _USUAL.get(name))
            return do(*args) if do else None

        return called

    def told(self, name: str) -> list[Any]:
        """Return what it was told under a name."""
        return [one[1] if len(one) == 2 else one[1:] for one in self.calls if one[0] == name]


def reads_back(settings: Settings) -> ReadBack:
    """Return what a body says that took everything."""
    return ReadBack(
        settings=settings,
        time_s=None if settings.time == "bulb" else parse_time(settings.time).exact,
        aperture=parse_aperture(settings.aperture).exact,
        iso=parse_iso(settings.iso).exact,
    )


_USUAL: dict[str, Callable[..., Any]] = {"apply": reads_back, "new_files": lambda *_: (), "card_files": lambda: ()}


@dataclass
class Telling:
    """Keeps what is told, and lets a test answer to it."""

    records: list[Record] = field(default_factory=list)
    when: Callable[[Record], None] = lambda _record: None

    def tell(self, record: Record) -> None:
        self.records.append(record)
        self.when(record)

    def of(self, kind: type[R]) -> list[R]:
        """Return what was told of a kind."""
        return [one for one in self.records if isinstance(one, kind)]

    @property
    def said(self) -> list[str]:
        """The sentences that people were told."""
        return [one.text for one in self.of(Said)]


@cache
def planned(text: str, head: str = HEAD) -> tuple[Plan, Abilities, Ladder]:
    """Return a plan, what its body can do, and its ladder; each is made once."""
    plan = plan_of(text, head)
    abilities = abilities_of(plan)
    return plan, abilities, make_ladder(plan, abilities)


def small_run(
    text: str, camera: FakeCamera | None = None, head: str = HEAD, **fields: Any
) -> tuple[Run, Telling, FakeCamera]:
    """Return a run of a plan whose camera and person do as told, what it tells, and the camera."""
    plan, abilities, ladder = planned(text, head)
    telling, camera = Telling(), camera or FakeCamera()
    usual: dict[str, Any] = {
        "plan": plan,
        "ladder": ladder,
        "abilities": abilities,
        "camera": camera,
        "clock": SteppedClock(start_utc=NOW),
        "box": cast("queue.SimpleQueue[Item]", queue.SimpleQueue()),
        "journal": None,
        "folder": None,
        "ladder_number": 1,
        "stream": cast("Stream", telling),
    }
    return Run(**(usual | fields)), telling, camera


def effect(run: Run, telling: Telling, verb: Verb) -> str:
    """Say a word and return what it did."""
    run.box.put(Command(verb=verb))
    run.catch_up()
    return telling.of(Steered)[-1].effect


def say_at(run: Run, at_s: float, *verbs: Verb) -> None:
    """Have words said at a moment of the run's clock."""
    assert isinstance(run.clock, SteppedClock)
    for verb in verbs:
        run.clock.call_at(to_ns(at_s), lambda verb=verb: run.box.put(Command(verb=verb)))  # type: ignore[misc]


def opened(**changes: Any) -> ShutterRecord:
    """Return the record of a held exposure of 4 s that was opened at 10 s, changed as told."""
    usual: dict[str, Any] = {
        "frame": 1,
        "way": "held",
        "asked_s": 4.0,
        "open_called_ns": to_ns(10.0),
        "open_returned_ns": to_ns(10.0),
        "close_called_ns": to_ns(14.0),
        "close_returned_ns": to_ns(14.0),
        "closed_by": "planned",
        "realtime": True,
    }
    return ShutterRecord(**(usual | changes))
