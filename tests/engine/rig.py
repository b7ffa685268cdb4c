"""Whole rehearsals on a stepped clock, with small frames: the plan as text in, the outing as told out."""

from __future__ import annotations

import queue
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.plan.plans import HEAD
from tether.body.simulated.rendering import scene_of
from tether.body.simulated.world import SensorTruth, World
from tether.clock import SteppedClock, to_ns
from tether.control.commands import Command, Item, Verb
from tether.files.raw import read_raw
from tether.journal.readings import FrameReadings
from tether.journal.records import FrameOpened, Record, RegionsShown
from tether.journal.story import FrameStory, LadderStory, Outing
from tether.journal.telling import read_outing
from tether.plan.file import plan_from_text
from tether.service.rehearsal import Rehearsal

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\nframes = 0\n'
SIX, TEN = (f'[[filter]]\nname = "Calder {stops}"\nstops = {stops}\nmeasured_stops = {stops}.0\n' for stops in (6, 10))
SMALL = SensorTruth(window_px=(240, 160))
#: Filters that are what they say, so that nothing but what a test plants is off.
HONEST = {f"Calder {stops}": {"stops": float(stops), "cast_stops": (0.0, 0.0, 0.0)} for stops in (6, 10)}


def world(**truth: object) -> World:
    """Return a world with a small window and honest filters, changed as told."""
    return World.model_validate({"sensor": SMALL, "filters": HONEST} | truth)


@dataclass(frozen=True)
class Worked:
    """What came of a rehearsal."""

    outcome: str
    folder: Path
    told: Outing
    events: list[Record]
    rehearsal: Rehearsal

    @property
    def ladder(self) -> LadderStory:
        return self.told.ladders[-1]

    @property
    def frames(self) -> tuple[FrameStory, ...]:
        return self.ladder.frames

    def said(self, number: int) -> FrameReadings:
        """Return what the frame of a running number said, which was read."""
        (readings,) = (frame.readings for frame in self.frames if frame.frame == number)
        assert readings is not None
        return readings

    def rung_outcomes(self) -> list[str]:
        """Return how each rung ended, in order."""
        return [rung.outcome for rung in self.ladder.rungs]

    def notes(self) -> str:
        """Return everything that was noted as trouble or note, in one text."""
        notes = [note.text for note in (*self.told.notes, *self.ladder.notes)]
        return "\n".join([*notes, *(note for frame in self.frames for note in frame.notes)])

    def mosaic(self, frame: FrameStory) -> NDArray[np.float64]:
        """Return a frame's raw numbers above black, read from its file."""
        name = frame.files[-1].name
        assert name is not None
        raw = read_raw(self.folder / name)
        return raw.mosaic.astype(np.float64) - raw.black[0]

    def still_level(self, frame: FrameStory) -> float:
        """Return the mean raw level above black of the still region in green, from the frame's file."""
        still = scene_of(self.rehearsal.world, self.rehearsal.ready.abilities.pitch_um).still
        mosaic = self.mosaic(frame)
        greens = np.zeros(mosaic.shape, dtype=bool)
        greens[0::2, 1::2] = greens[1::2, 0::2] = True
        return float(mosaic[still & greens].mean())


def on_regions(verb: Verb) -> Callable[[Record], Verb | None]:
    """Return what says a word once the regions are shown."""
    return lambda record: verb if isinstance(record, RegionsShown) and record.state == "asked" else None


def work(
    root: Path,
    text: str,
    *,
    truth: World | None = None,
    said: Iterable[tuple[float, Verb]] = (),
    when: Callable[[Record], Verb | None] = lambda _event: None,
    outing: Path | None = None,
    after: tuple[int, float, Verb] | None = None,
    answer_for_me: bool = True,
    head: str = HEAD,
    fitted: tuple[str, ...] = (),
) -> Worked:
    """Rehearse a plan.

    Parameters
    ----------
    said
        Commands and the moments [s] at which they are said.
    when
        Given each event; returns a command to be said at once, or None.
    after
        A rung, seconds after its first own frame opened, and the command that is said then.
    """
    rehearsal = Rehearsal.of(plan_from_text(head + text), root=root, outing=outing, world=truth or world())
    rehearsal = replace(rehearsal, fitted=fitted)
    if not answer_for_me:
        rehearsal = replace(rehearsal, answer_for_me=False)
    clock = rehearsal.clock
    assert isinstance(clock, SteppedClock)
    box: queue.SimpleQueue[Item] = queue.SimpleQueue()
    for at_s, verb in said:
        clock.call_at(to_ns(at_s), lambda verb=verb: box.put(Command(verb=verb)))  # type: ignore[misc]
    events: list[Record] = []
    opened: list[FrameOpened] = []

    def hear(event: Record) -> None:
        events.append(event)
        verb = when(event)
        if verb:
            box.put(Command(verb=verb))
        if after and isinstance(event, FrameOpened) and event.kind == "rung" and event.rung == after[0] and not opened:
            opened.append(event)
            clock.call_at(event.at_ns + to_ns(after[1]), lambda: box.put(Command(verb=after[2])))

    done = rehearsal.run(hear, box)
    return Worked(done.outcome, done.folder, read_outing(done.folder), events, rehearsal)
