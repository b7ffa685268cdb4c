"""The log of an outing for the terminal: a table of frames for each ladder, then turns, steering and notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from rich.console import Console, ConsoleOptions, RenderableType
from rich.text import Text

from tether import wording as words
from tether.journal.story import CheckStory, FrameStory, LadderStory, NoteStory, Outing, RunStory
from tether.report.layout import WIDE, Column, heading, listing, tables
from tether.report.told import outcome_of

_FILE_WIDTH = 19
#: The pace of a run whose times are the day's, as runs have written it.
_REAL = ("1", "1.0")


@dataclass(frozen=True)
class LogView:
    """What `tether log` prints; a rich renderable that fits itself to the width at hand, from 80 characters up."""

    outing: Outing

    def __rich_console__(self, _console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        return self.parts(options.max_width)

    def parts(self, width: int) -> Iterator[RenderableType]:
        """Yield it in parts, to be printed one after the other: a long evening's first lines are there at once."""
        outing = self.outing
        if outing.simulated:
            yield Text(words.SIMULATED, style="bold")
        yield Text(f"Outing {outing.name}", style="bold")
        yield from listing("Runs", list(_runs(outing.runs)))
        for ladder in outing.ladders:
            yield from _ladder(ladder, width)
        for number, run in enumerate(outing.runs, start=1):
            yield from listing(f"Checks before run {number}", list(_checks(run.checks)))
        loose = [(file.card_name, f"kept as {file.name}") for file in outing.loose_files]
        yield from listing("Files that belong to no frame of this ladder", loose)
        yield from listing("Notes", [_note(note) for note in outing.notes if not _for_the_place(note)])


def _runs(runs: Sequence[RunStory]) -> Iterator[tuple[str, str]]:
    """Give a line a run; one of real pace that follows a faster rehearsal goes on from that one's time."""
    rehearsed = False
    for number, run in enumerate(runs, start=1):
        rehearsed = run.simulated and (rehearsed or run.pace not in _REAL)
        yield f"run {number}", _run(run, f" {words.REHEARSED_TIME}" if rehearsed else "")


def _run(run: RunStory, time: str) -> str:
    camera = ", ".join(filter(None, (run.camera.model, run.camera.lens))) or "camera not known"
    end = {"ended": "ended", "broke off": "broke off: its end is not in the journal", "running": "going on"}[run.end]
    return f"{run.started_utc:%Y-%m-%d %H:%M} UTC{time}, {camera}, pace {run.pace}; {end}"


def _checks(checks: Sequence[CheckStory]) -> Iterator[tuple[str, str]]:
    """Give what was in order in one line, then the rest, what stops first."""
    in_order = [check.what for check in checks if check.verdict == "ok"]
    if in_order:
        yield "fine", ", ".join(in_order)
    for verdict in ("stop", "note"):
        for check in checks:
            if check.verdict == verdict:
                yield check.what, f"STOP. {check.text}" if verdict == "stop" else check.text


def _ladder(ladder: LadderStory, width: int) -> Iterator[RenderableType]:
    yield heading(f"Ladder {ladder.ladder}: {ladder.title or 'without a title'}")
    yield Text(f"Outcome: {_sentence(outcome_of(ladder), ladder.note)}")
    yield Text()
    yield from tables(_COLUMNS, ladder.frames, width)
    yield Text("Off: stops of light more (+) or less (-) than planned that settings let in; filters and light apart.")
    if exact := words.exact_mark([frame.open_s.asked or 0.0 for frame in ladder.frames if frame.way != "held"]):
        yield Text(exact)
    if any(frame.readings for frame in ladder.frames):
        wet = any(frame.readings and frame.readings.water for frame in ladder.frames)
        of = "the water, where it is known" if wet else "the picture"
        yield Text(f"Headroom: of {of}: stops until a thousandth of it clips in one channel, read from the raw frame.")
    if width >= WIDE and any(frame.readings and frame.readings.rock for frame in ladder.frames):
        yield Text("Rock: stops that the still parts are brighter (+) or darker (-) than expected from the base.")
    if ladder.regions:
        yield Text(f"Regions: {words.REGIONS[ladder.regions.source]}.")
    rungs = [(f"rung {one.rung}", _sentence(one.outcome, one.note)) for one in ladder.rungs if one.outcome != "done"]
    yield from listing("Rungs not simply done", rungs)
    turns = [(words.before(turn.rung), f"{turn.what}: {turn.state} ({turn.reason})") for turn in ladder.turns]
    yield from listing("Turns", turns)
    yield from listing("Steered", [(one.verb, one.effect) for one in ladder.steering])
    at_frames = [(f"frame {frame.frame}", text) for frame in ladder.frames for text in _frame_notes(frame)]
    notes = [_note(note) for note in ladder.notes if not _for_the_place(note)]
    yield from listing("Notes", at_frames + notes)


def _sentence(outcome: str, note: str | None) -> str:
    return f"{outcome}. {note}" if note else outcome


def _note(note: NoteStory) -> tuple[str, str]:
    if note.frame is not None:
        return f"frame {note.frame}", note.text
    return (note.about if note.rung is None else f"rung {note.rung}"), note.text


def _for_the_place(note: NoteStory) -> bool:
    """Say whether a note is one of those on ladder and place: they were read before it began."""
    return note.about == "caution" and note.rung is None and note.frame is None


def _frame_notes(frame: FrameStory) -> Iterator[str]:
    """Give a frame's notes, and in full an outcome that its table cell shortens."""
    if ":" in frame.outcome:
        yield f"Outcome {frame.outcome}."
    if frame.hold_realtime is False:
        yield "Bulb without real-time scheduling."
    yield from frame.notes


def _room(frame: FrameStory) -> str:
    """Give the headroom to clipping, in the water where that is known."""
    read = (frame.readings and frame.readings.water) or frame.readings
    return words.room(read.headroom_stops, read.clipped_share) if read else words.NOT_KNOWN


def _rock(frame: FrameStory) -> str:
    if frame.readings and frame.readings.rock_clipped:
        return "clipped"
    return words.stops(frame.readings.off_stops if frame.readings else None)


def _file(frame: FrameStory) -> str:
    """Give the name of the frame's first file, without its beginning where it is long: its end tells it apart."""
    if not frame.files:
        return words.NOT_KNOWN
    name = PurePosixPath(frame.files[0].name).name
    return name if len(name) <= _FILE_WIDTH else f"…{name[1 - _FILE_WIDTH :]}"


_COLUMNS: tuple[Column[FrameStory], ...] = (
    Column(heading="Rung", shows=lambda frame: words.place(frame.rung, frame.kind)),
    Column(heading="No", shows=lambda frame: str(frame.frame), number=True),
    Column(heading="Asked", shows=lambda frame: words.planned_time(frame.open_s.asked), number=True),
    Column(heading="Open", shows=lambda frame: words.measured_time(frame.believed_open_s), number=True, only="narrow"),
    Column(heading="Held", shows=lambda frame: words.measured_time(frame.open_s.held), number=True, only="wide"),
    Column(heading="Exif", shows=lambda frame: words.measured_time(frame.open_s.exif), number=True, only="wide"),
    Column(heading="f/", shows=lambda frame: words.aperture(frame.aperture).removeprefix("f/"), number=True),
    Column(heading="ISO", shows=lambda frame: words.iso(frame.iso), number=True),
    Column(heading="Filters", shows=lambda frame: words.filters(frame.filters), folds=True),
    Column(heading="Off", shows=lambda frame: words.stops(frame.difference_stops), number=True),
    Column(heading="Headroom", shows=_room, number=True),
    Column(heading="Rock", shows=_rock, number=True, only="wide"),
    Column(heading="Outcome", shows=lambda frame: frame.outcome.partition(":")[0]),
    Column(heading="File", shows=_file, only="wide"),
)
