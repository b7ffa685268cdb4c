"""Folds a journal's records, in their order, into the views of `tether.journal.story`."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from copy import copy
from dataclasses import replace
from pathlib import Path
from typing import Any, assert_never

from tether import wording as words
from tether.journal.codec import Entry
from tether.journal.records import (
    Applied,
    ApplyIntent,
    ApplyOutcome,
    CardListed,
    ExifRead,
    ExposeIntent,
    ExposeOutcome,
    FetchIntent,
    FetchOutcome,
    FrameRead,
    LadderEnded,
    LadderStarted,
    Noted,
    RegionsSet,
    RunFailed,
    RungEnded,
    RunStarted,
    Said,
    Shown,
    Steered,
    SuppliesSeen,
    Turn,
)
from tether.journal.store import read_contents
from tether.journal.story import (
    CUT_SHORT,
    STILL_RUNNING,
    CheckStory,
    FileStory,
    FrameStory,
    Intent,
    LadderStory,
    NoteStory,
    OpenTime,
    Outing,
    RunStory,
    SteeringStory,
    TurnStory,
)

#: Stands for an outcome until its record comes; `_Telling.end` puts words in its place.
_NOT_TOLD = ""
_OfFrame = ApplyIntent | ApplyOutcome | ExposeIntent | ExposeOutcome | FetchIntent | FetchOutcome | FrameRead | ExifRead


def read_outing(folder: Path) -> Outing:
    """Read what an outing's journal tells, changing nothing, also while a run writes it.

    Parameters
    ----------
    folder
        The outing's folder, or a copy of it.

    Raises
    ------
    PlanError
        If there is no journal, it is not ours, or it is newer than this program.
    LostError
        If it is damaged.
    """
    contents = read_contents(folder)
    return tell(contents.entries, name=folder.resolve().name, running=contents.running)


class OutingReader:
    """Reads what an outing's journal tells again and again while it grows: no record more than once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._telling = _Telling()
        self._last: Entry | None = None
        self._told: Outing | None = None

    def now(self) -> Outing:
        """Return what it tells by now, the same object as before where that is the same. Raises as `read_outing`."""
        contents = read_contents(self.folder, self._last.seq or 1 if self._last else 1)
        entries = contents.entries
        if self._last is not None:
            if entries[:1] != (self._last,):  # another journal stands there now
                self._telling, self._last, self._told = _Telling(), None, None
                return self.now()
            entries = entries[1:]
        for entry in entries:
            self._telling.hear(entry)
            self._last = entry
        if entries or self._told is None or self._told.running != contents.running:
            self._told = self._telling.copy().end(self.folder.resolve().name, contents.running)
        return self._told


def tell(entries: Iterable[Entry], *, name: str, running: bool) -> Outing:
    """Fold records into an outing.

    Parameters
    ----------
    entries
        The records, oldest first.
    name
        What to call the outing.
    running
        Whether a run is still writing: what has no outcome is then not known *yet*.
    """
    telling = _Telling()
    for entry in entries:
        telling.hear(entry)
    return telling.end(name, running)


def _bounds_s(record: ExposeOutcome) -> tuple[float, float] | None:
    """Return the shortest and longest that a held frame can have been open by our commands [s, s]."""
    stamps = (record.open_called_ns, record.open_returned_ns, record.close_called_ns, record.close_returned_ns)
    known = [stamp for stamp in stamps if stamp is not None]
    if record.held_s is None or len(known) < len(stamps):
        return None
    opening, opened, closing, closed = known
    return max(0.0, (closing - opened) / 1e9), (closed - opening) / 1e9


class _Telling:
    """What has been told so far. Frames and rungs are kept by number, so that a later word replaces an earlier one."""

    def __init__(self) -> None:
        self.runs: list[RunStory] = []
        self.ladders: dict[int, LadderStory] = {}
        self.frames: dict[int, FrameStory] = {}
        self.rungs: dict[tuple[int, int], RungEnded] = {}
        self.read_backs: dict[int, Applied | None] = {}
        self.loose_files: list[FileStory] = []
        self.notes: list[NoteStory] = []
        self.intents: list[Intent] = []
        self.next_frame = 1
        self.only_set: tuple[ApplyIntent, Entry] | None = None
        self._at: int | None = None
        self._run_ended = False

    def copy(self) -> _Telling:
        """Return another that has heard the same: to be ended, while this one hears more."""
        other = copy(self)
        for name, value in vars(self).items():
            setattr(other, name, copy(value))
        return other

    # Small steps shared by the records.

    def _ladder(self, number: int) -> LadderStory:
        unheard_of = LadderStory(ladder=number, title="", planned=None, plan_text="", outcome=_NOT_TOLD)
        return self.ladders.setdefault(number, unheard_of)

    def _change_ladder(self, number: int, **changes: Any) -> None:
        self.ladders[number] = replace(self._ladder(number), **changes)

    def _work_on(self, ladder: int) -> None:
        """Note that a ladder is being worked, be it for the first time or again."""
        self._at = ladder
        self._run_ended = False
        self._change_ladder(ladder, outcome=_NOT_TOLD, note=None)

    def _change_frame(self, number: int, entry: Entry, **changes: Any) -> None:
        if number in self.frames:
            self.frames[number] = replace(self.frames[number], **changes)
        else:
            self._note(entry, "trouble", "The journal speaks of this frame but not of its beginning.", frame=number)

    def _open_s(self, frame: int, **known: float | None) -> OpenTime:
        """Return how long a frame was open as far as that was told, and by what is known now."""
        told = self.frames.get(frame)
        return replace(told.open_s if told else OpenTime(), **known)

    def _note(self, entry: Entry, about: str, text: str, *, frame: int | None = None, rung: int | None = None) -> None:
        """Put a note where it belongs: at its frame, else at the ladder in hand, else at the outing."""
        if frame is not None and frame in self.frames:
            told = self.frames[frame]
            self.frames[frame] = replace(told, notes=(*told.notes, text))
            return
        note = NoteStory(about=about, text=text, frame=frame, rung=rung, utc=entry.utc)
        if self._at is None:
            self.notes.append(note)
        else:
            self._change_ladder(self._at, notes=(*self._ladder(self._at).notes, note))

    def _not_exposed(self) -> None:
        """Note a setting that no frame was exposed with: what was said of it before did not come about."""
        if self.only_set is None:
            return
        (intent, entry), self.only_set = self.only_set, None
        at = intent.asked
        settings = f"{words.planned_time(at.time_s)}, {words.aperture(at.aperture)}, ISO {words.iso(at.iso)}"
        self._note(entry, "note", f"Set as frame {intent.frame} ({settings}), not exposed.", rung=intent.rung)

    def _answer(self, belongs: Callable[[Intent], bool]) -> None:
        self.intents = [intent for intent in self.intents if not belongs(intent)]

    def _settle_untold(self, outcome: str) -> None:
        """Put words where an outcome should be and is not."""
        for number, frame in self.frames.items():
            if frame.outcome == _NOT_TOLD:
                self.frames[number] = replace(frame, outcome=outcome)
        for number, ladder in self.ladders.items():
            if ladder.outcome == _NOT_TOLD:
                self.ladders[number] = replace(ladder, outcome=outcome)

    def _end_run(self) -> None:
        if self.runs:
            self.runs[-1] = replace(self.runs[-1], end="ended" if self._run_ended else "broke off")

    # What each kind of record changes.

    def hear(self, entry: Entry) -> None:
        """Take in one record: of runs and ladders here, of frames further on."""
        record = entry.record
        match record:
            case RunStarted():
                self._not_exposed()
                self._end_run()
                self._settle_untold(CUT_SHORT)
                self._run_ended = False
                self.runs.append(RunStory(**vars(record), started_utc=entry.utc, end="running"))
            case LadderStarted(title=title, planned=planned, plan_text=text):
                self._work_on(record.ladder)
                self._change_ladder(record.ladder, title=title, planned=planned, plan_text=text)
            case RegionsSet():
                self._change_ladder(record.ladder, regions=record)
            case SuppliesSeen(battery=share) if share is not None and self._at is not None:
                battery = (*self._ladder(self._at).battery, (entry.utc, share))
                self._change_ladder(self._at, battery=battery)
            case Turn():
                self._turn(record, entry)
            case Steered() if self._at is not None:
                steering = SteeringStory(verb=record.verb, effect=record.effect, utc=entry.utc)
                self._change_ladder(self._at, steering=(*self._ladder(self._at).steering, steering))
            case Steered():
                self._note(entry, "note", f"{record.verb}: {record.effect}")
            case RungEnded():
                self.rungs[record.ladder, record.rung] = record
                if self.only_set and self.only_set[0].rung in (record.rung, None):
                    self._not_exposed()
            case LadderEnded():
                self._run_ended = True
                self._change_ladder(record.ladder, outcome=record.outcome, note=record.note)
            case Noted(what=str() as what, verdict=str() as verdict) if self.runs:  # a check, of the run to begin
                check = CheckStory(what=what, verdict=verdict, text=record.text)
                self.runs[-1] = replace(self.runs[-1], checks=(*self.runs[-1].checks, check))
                self._run_ended = self._run_ended or verdict == "stop"
            case Noted() | Said():
                self._note(entry, record.about, record.text, frame=record.frame, rung=record.rung)
            case RunFailed():
                self._note(entry, "trouble", record.text)
            case _:
                self._hear_of_frame(record, entry)

    def _hear_of_frame(self, record: _OfFrame | CardListed | Shown, entry: Entry) -> None:
        """Take in one record of a frame or its file."""
        match record:
            case ApplyIntent():
                self.intents.append(record)
                self.only_set = record, entry
            case FetchIntent():
                self.intents.append(record)
            case ApplyOutcome():
                self._answer(lambda intent: isinstance(intent, ApplyIntent) and intent.frame == record.frame)
                self.read_backs[record.frame] = record.read_back
                if record.problem:
                    self.only_set = None
                    self._note(entry, "trouble", record.problem, frame=record.frame)
            case ExposeIntent():
                self._expose_intent(record)
            case ExposeOutcome():
                self._expose_outcome(record, entry)
            case FetchOutcome():
                self._fetch_outcome(record, entry)
            case FrameRead():
                self._change_frame(record.frame, entry, readings=record.readings, histogram=record.histogram)
                if record.problem:
                    parts = (
                        "Not all that its pixels say could be read"
                        if record.readings
                        else "Its pixels could not be read"
                    )
                    self._note(entry, "note", f"{parts}: {record.problem}", frame=record.frame)
            case ExifRead():
                self._exif_read(record, entry)
            case CardListed() | Shown():
                # What is only shown is of its moment, and no part of the story; nor is what was on the card before, or
                # a second copy: of trouble with it a sentence of its own tells.
                pass
            case _:
                assert_never(record)

    def _expose_intent(self, record: ExposeIntent) -> None:
        self.intents.append(record)
        self.next_frame = max(self.next_frame, record.frame + 1)
        self.only_set = None
        self._work_on(record.ladder)
        self.frames[record.frame] = FrameStory(
            frame=record.frame,
            ladder=record.ladder,
            rung=record.rung,
            kind=record.kind,
            way=record.way,
            outcome=_NOT_TOLD,
            planned=record.planned,
            asked=record.asked,
            read_back=self.read_backs.get(record.frame),
            open_s=OpenTime(asked=record.open_s),
            filters=tuple(record.filters),
            filter_stops=record.filter_stops,
        )

    def _expose_outcome(self, record: ExposeOutcome, entry: Entry) -> None:
        self._answer(lambda intent: isinstance(intent, ExposeIntent) and intent.frame == record.frame)
        self._change_frame(
            record.frame,
            entry,
            outcome=record.outcome,
            open_s=self._open_s(record.frame, held=record.held_s, body=record.body_said_s),
            open_bounds_s=_bounds_s(record),
            hold_realtime=record.realtime,
            closed_by=record.closed_by,
            opened_utc=record.opened_utc,
            closed_utc=record.closed_utc,
        )
        if record.note:
            self._note(entry, "note", record.note, frame=record.frame)

    def _fetch_outcome(self, record: FetchOutcome, entry: Entry) -> None:
        self._answer(lambda intent: isinstance(intent, FetchIntent) and intent.name == record.card_name)
        if record.problem:
            self._note(entry, "trouble", f"{record.card_name}: {record.problem}", frame=record.frame)
        if record.name is None:
            return
        file = FileStory(
            name=record.name,
            card_name=record.card_name,
            size=record.size,
            sha256=record.sha256,
            preview=record.preview,
        )
        told = self.frames.get(record.frame) if record.frame is not None else None
        if told is None:
            self.loose_files.append(file)
        else:
            self.frames[told.frame] = replace(told, files=(*told.files, file))

    def _exif_read(self, record: ExifRead, entry: Entry) -> None:
        self._change_frame(
            record.frame,
            entry,
            exif=record.exif,
            exif_rounded_s=record.rounded_s,
            exif_differs=bool(record.differs),
            open_s=self._open_s(record.frame, exif=record.exif.time_s),
        )
        for sentence in record.differs:
            self._note(entry, "trouble", sentence, frame=record.frame)

    def _turn(self, record: Turn, entry: Entry) -> None:
        """Take in a turn: an answer takes the place of its question; frames made after one taken back do not count."""
        turn = TurnStory(rung=record.rung, what=record.what, reason=record.reason, state=record.state, utc=entry.utc)
        turns = self._ladder(record.ladder).turns
        if record.state != "asked":
            asked = replace(turn, state="asked")
            turns = tuple(one for one in turns if replace(one, utc=entry.utc) != asked)
        self._change_ladder(record.ladder, turns=(*turns, turn))
        if record.void_from is not None:
            text = f"It does not count: “{record.what}” before it was taken back."
            for number in [one for one in self.frames if one >= record.void_from]:
                self._change_frame(number, entry, void=True)
                self._note(entry, "note", text, frame=number)

    def end(self, name: str, running: bool) -> Outing:
        """Return the outing as told."""
        if not running:
            self._not_exposed()
            self._end_run()
        self._settle_untold(STILL_RUNNING if running else CUT_SHORT)
        return Outing(
            name=name,
            running=running,
            runs=tuple(self.runs),
            ladders=tuple(self._whole(ladder) for ladder in self.ladders.values()),
            loose_files=tuple(self.loose_files),
            notes=tuple(self.notes),
            open_intents=tuple(self.intents),
            next_frame=self.next_frame,
        )

    def _whole(self, ladder: LadderStory) -> LadderStory:
        number = ladder.ladder
        return replace(
            ladder,
            frames=tuple(frame for frame in self.frames.values() if frame.ladder == number),
            rungs=tuple(rung for (of, _), rung in self.rungs.items() if of == number),
        )
