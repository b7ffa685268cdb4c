"""What a struck run left, judged by its outing's folder and the camera's own record alone.

Whatever happened, the shutter is shut, no frame is lost, doubled or filed as another, what the journal says is what the
body did, and the ladder is whole or ended with a sentence after which it can be gone on with.
"""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from tests.journal.planned import rungs_of
from tether.errors import TetherError
from tether.files.safe import sha256_of
from tether.guard import HANDED_OVER_NAME, LOG_NAME
from tether.journal.ended import run_end
from tether.journal.store import read_contents
from tether.journal.story import FileStory, FrameStory, LadderStory, Outing
from tether.journal.telling import tell

#: How far what the journal says of an open time may be from what the body did: a share of it, and real seconds.
SAME_SHARE, SAME_S = 0.01, 0.2
#: How far a frame that counts as good may be from what was asked [stops].
GOOD_WITHIN_STOPS = 1 / 3
_BETWEEN = re.compile(r"open for between ([\d.]+) s and ([\d.]+) s")
_CODE = re.compile(r"\b0x[0-9a-fA-F]+\b|Traceback|\berrno\b|[A-Z]\w+Error\b")
_FRAME_FILES = (".dng", ".jpg")


@dataclass(frozen=True, kw_only=True)
class Exposure:
    """One exposure by the body's own record; `open_s` None: the shutter is not shut [s of the run's clock]."""

    number: int
    time: str
    aperture: str
    iso: str
    open_s: float | None


@dataclass(frozen=True)
class Left:
    """What is in an outing's folder; `pace` is how many seconds of its run were in a real one."""

    outing: Path
    pace: float = 1.0
    body: Path | None = None

    @property
    def _body(self) -> Path:
        return self.body or self.outing / "simulated-body"

    # What the camera says

    @cached_property
    def exposures(self) -> dict[int, Exposure]:
        """The exposures by the camera's own record, by their numbers."""
        path = self._body / "openings.jsonl"
        lines: list[dict[str, Any]] = [json.loads(line) for line in path.read_text().splitlines()]
        shut = {line["frame"]: line["open_s"] for line in lines if line["what"] == "closed"}
        return {
            line["frame"]: Exposure(
                number=line["frame"],
                time=line["time"],
                aperture=line["aperture"],
                iso=line["iso"],
                open_s=shut.get(line["frame"]),
            )
            for line in lines
            if line["what"] == "opened"
        }

    @cached_property
    def card(self) -> set[int]:
        """The numbers of the frames on its card."""
        return {_number(path.stem) for path in (self._body / "card").glob("*.json")}

    # What the outing says

    @cached_property
    def told(self) -> Outing:
        """The outing, as its journal tells it."""
        return tell(read_contents(self.outing).entries, name="", running=False)

    @property
    def ladder(self) -> LadderStory | None:
        """The last ladder, if one was begun."""
        return self.told.ladders[-1] if self.told.ladders else None

    @property
    def outcome(self) -> str:
        """How the last ladder ended."""
        return self.ladder.outcome if self.ladder else "not begun"

    @property
    def is_done(self) -> bool:
        return self.outcome == "done"

    @property
    def last_sentence(self) -> str:
        """What the person is told last: by the guard, the journal or the run's log; empty where nothing is said."""
        handed_over, log = self.outing / HANDED_OVER_NAME, self.outing / LOG_NAME
        if handed_over.exists():
            return _line(handed_over.read_text())
        ended = run_end(read_contents(self.outing).entries, self.ladder.ladder if self.ladder else 1, after_seq=0)
        if ended is not None and ended.note:
            return _line(ended.note)
        return _last(log) if log.exists() and not self.is_done else ""

    @cached_property
    def frames(self) -> tuple[FrameStory, ...]:
        return tuple(frame for ladder in self.told.ladders for frame in ladder.frames)

    @cached_property
    def files(self) -> list[FileStory]:
        """All files that are home, of frames and of none."""
        return [file for frame in self.frames for file in frame.files] + list(self.told.loose_files)

    def good(self) -> Counter[int | None]:
        """Return how many frames of the ladder count, by rung."""
        frames = self.ladder.frames if self.ladder else ()
        return Counter(frame.rung for frame in frames if frame.kind == "rung" and _counts(frame))

    # What is wrong

    def lost(self) -> list[str]:
        """Return in sentences what is not as it must be whether or not the ladder is done; empty if all is well."""
        try:
            return [
                *self._shutter(),
                *self._home(),
                *self._on_disk(),
                *self._misfiled(),
                *self._open_times(),
                *self._words(),
            ]
        except (OSError, ValueError, TetherError) as error:
            return [f"the outing can't be read: {error!r}"]

    def unfinished(self) -> list[str]:
        """Return in sentences what is missing to a whole ladder; empty if nothing is."""
        if self.ladder is None:
            return ["no ladder was begun"]
        found = [] if self.is_done else [f"the ladder ended as {self.outcome!r}: {self.last_sentence}"]
        wanted = {rung.rung: rung.frames for rung in rungs_of(self.ladder)}
        if self.good() != wanted:
            found.append(f"good frames by rung are {dict(self.good())}, wanted were {wanted}")
        if self.told.open_intents:
            found.append(f"without an outcome: {self.told.open_intents}")
        if any(frame.outcome.startswith("unknown") for frame in self.frames):
            found.append("a frame has no outcome")
        return found + self._not_home()

    def _shutter(self) -> list[str]:
        return [f"exposure {one.number} never ended" for one in self.exposures.values() if one.open_s is None]

    def _home(self) -> list[str]:
        home = Counter(Path(file.card_name).name for file in self.files)
        found = [f"{name} came home {count} times" for name, count in home.items() if count > 1]
        strange = {_number(Path(name).stem) for name in home} - self.card
        return found + ([f"at home, and never on the card: {sorted(strange)}"] if strange else [])

    def _not_home(self) -> list[str]:
        home = {_number(Path(file.card_name).stem) for file in self.files}
        found = [f"on the card and not at home: {sorted(self.card - home)}"] if self.card - home else []
        made = set(self.exposures)
        return found + ([f"made, and not on the card: {sorted(made - self.card)}"] if made - self.card else [])

    def _on_disk(self) -> list[str]:
        found = []
        for file in self.files:
            path = self.outing / file.name
            if not path.is_file():
                found.append(f"{file.name} is in the journal and not on the disk")
            elif file.sha256 and sha256_of(path) != file.sha256:
                found.append(f"{file.name} is not what the journal says")
        named = {Path(file.name).name for file in self.files}
        there = {path.name for path in (self.outing / "frames").iterdir() if path.suffix in _FRAME_FILES}
        nameless = {name for name in there if not name.startswith(".")} - named
        return found + ([f"on the disk and not in the journal: {sorted(nameless)}"] if nameless else [])

    def _misfiled(self) -> list[str]:
        found = []
        for frame, exposure in self._matched():
            asked = frame.asked
            really = (exposure.time, exposure.aperture, exposure.iso)
            if _counts(frame) and really != (asked.time_label, asked.aperture_label, asked.iso_label):
                found.append(f"frame {frame.frame} counts as {asked}, and exposure {exposure.number} was {really}")
        return found

    def _open_times(self) -> list[str]:
        found = []
        for frame, exposure in self._matched():
            if exposure.open_s is None or frame.way != "held":
                continue
            really_s, same_s = exposure.open_s, SAME_SHARE * exposure.open_s + SAME_S * self.pace
            low_s, high_s = _said_s(frame)
            if low_s is not None and not low_s - same_s <= really_s <= high_s + same_s:
                found.append(f"frame {frame.frame} was open for {really_s:.2f} s; said: {low_s:.2f} to {high_s:.2f} s")
            asked_s = frame.open_s.asked
            off = math.log2(really_s / asked_s) if really_s and asked_s else 0.0
            if _counts(frame) and frame.outcome == "made" and abs(off) > GOOD_WITHIN_STOPS:
                found.append(f"frame {frame.frame} counts, and was open for {really_s:.2f} s, not {asked_s:.2f} s")
        return found

    def _words(self) -> list[str]:
        """Look at what people and we ourselves are told: no mistake of the program, no codes."""
        found = [
            f"a mistake of the program is in {path.name}: {_last(path)}"
            for path in self.outing.rglob("*.log")
            if "Traceback (most recent call last)" in path.read_text(errors="replace")
        ]
        notes = [*(note for frame in self.frames for note in frame.notes), self.last_sentence]
        notes += [note.text for ladder in self.told.ladders for note in ladder.notes]
        return found + [f"a person is told: {note}" for note in notes if _CODE.search(note)]

    def _matched(self) -> list[tuple[FrameStory, Exposure]]:
        numbered = [(frame, _number(Path(file.card_name).stem)) for frame in self.frames for file in frame.files[:1]]
        return [(frame, self.exposures[number]) for frame, number in numbered if number in self.exposures]

    # For the table

    def late_s(self) -> float:
        """Return by how much the latest held shutter really shut after it was to, in real seconds."""
        off = [
            (exposure.open_s - frame.open_s.asked) / self.pace
            for frame, exposure in self._matched()
            if frame.way == "held" and exposure.open_s is not None and frame.open_s.asked is not None
        ]
        return max(off, default=0.0)

    def summary(self) -> str:
        """Return in one line what was made, what is where, and how late the latest shutter shut."""
        files = [file for file in self.files if (self.outing / file.name).is_file()]
        counts = f"{len(self.exposures)} made, {len(self.card)} on card, {len(files)} at home"
        return f"{counts}, shut {max(self.late_s(), 0.0):.2f} s late at most"


def _counts(frame: FrameStory) -> bool:
    return frame.outcome == "made" and bool(frame.files) and frame.as_asked


def _said_s(frame: FrameStory) -> tuple[float | None, float]:
    """Return between what the log says the shutter was open [s]; None where it does not say.

    Where the Exif showed that the body did something else, it says that instead of what the commands told.
    """
    if not frame.as_asked:
        return frame.believed_open_s, frame.believed_open_s or 0.0
    for note in frame.notes:
        if between := _BETWEEN.search(note):
            return float(between[1]), float(between[2])
    held_s = frame.open_s.held
    return held_s, held_s or 0.0


def _number(stem: str) -> int:
    digits = re.search(r"(\d+)$", stem)
    return int(digits[1]) if digits else -1


def _line(text: str) -> str:
    return " ".join(text.split())


def _last(path: Path) -> str:
    lines = [line for line in path.read_text(errors="replace").splitlines() if line and not line.startswith(" ")]
    return lines[-1] if lines else ""
