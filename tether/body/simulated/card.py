"""What a simulated body keeps in its folder, so that another process finds it as it was left.

::

    FOLDER/state.json            settings, battery, what is fitted, a shutter left open, how often each fault struck
    FOLDER/openings.jsonl        the body's own stamped record of what really happened: the truth that tests read
    FOLDER/card/SIM_0001.json    one exposure each; its picture is made when it is fetched

`_ns` here is world time: nanoseconds since the body was first switched on in this folder.
"""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from tether.body.protocol import CardFile, Fitted, Settings
from tether.errors import LostError
from tether.files.errors import disk_sentences

EndedBy = Literal["command", "time", "battery", "body"]

R = TypeVar("R", bound=BaseModel)

CARD_FOLDER = "/DCIM/100SIMUL"


class Record(BaseModel):
    """A part of the folder's content that never changes once written."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Spell(Record):
    """A stretch of an exposure in which nothing in front of the lens changed.

    `start_s` and `end_s` are world time, `start_utc` is by the clock (None: not kept); `knock_px` is how far the
    picture has moved right and down since the start, `focus_off_px` how far off the focus is (see
    :class:`~tether.body.simulated.world.World`).
    """

    start_s: float
    end_s: float
    fitted: tuple[Fitted, ...]
    capped: bool
    knock_px: tuple[float, float]
    focus_off_px: float = 0.0
    start_utc: datetime | None = None

    @property
    def open_s(self) -> float:
        """How long it lasted [s]."""
        return self.end_s - self.start_s


class CardExposure(Record):
    """All that makes a frame what it is.

    `aperture` and `iso` are exact, `settings` the labels really in force; `exif_time_s` is what the file tells.
    """

    number: int
    settings: Settings
    aperture: float
    iso: float
    opened_utc: datetime
    spells: tuple[Spell, ...]
    temperature_c: float
    less_dark: bool
    exif_time_s: float
    ready_ns: int

    @property
    def open_s(self) -> float:
        """How long the shutter was really open [s]."""
        return self.spells[-1].end_s - self.spells[0].start_s

    @property
    def file(self) -> CardFile:
        """The file as the card lists it; its size is not known before it is made."""
        return CardFile(folder=CARD_FOLDER, name=f"{name_of(self.number)}.DNG", number=self.number, size=None)


class SimulatedShutter(Record):
    """A shutter that is open (or about to be).

    `opens_ns` is when it really opens, `ends_ns` when it shuts without a command, if ever; `spells` those that are
    over, and `since_ns` when the present one began.
    """

    number: int
    settings: Settings
    opens_ns: int
    opened_utc: datetime
    ends_ns: int | None
    ended_by: EndedBy
    spells: tuple[Spell, ...]
    since_ns: int


class State(BaseModel):
    """The body between two calls.

    `seen_clock_ns` is the clock's own reading at the last of them; `card_from` the number of frames made before the
    card that is in the body: theirs are on another.
    """

    model_config = ConfigDict(extra="forbid")

    origin_ns: int
    seen_clock_ns: int
    in_force: Settings
    shown: Settings
    found: Settings
    fitted: tuple[Fitted, ...]
    battery: float
    capped: bool = False
    knock_px: tuple[float, float] = (0.0, 0.0)
    focus_off_px: float = 0.0
    live: bool = False
    made: int = 0
    shutter: SimulatedShutter | None = None
    busy_until_ns: int = 0
    gone_from_ns: int = 0
    gone_until_ns: int = 0
    struck: dict[int, int] = {}
    card_from: int = 0


def name_of(number: int) -> str:
    """Return a file's name, without its suffix, from the body's running number."""
    return f"SIM_{number:04d}"


class CardFolder:
    """The folder of one simulated body. Every file is whole or not there."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._card = path / "card"
        with disk_sentences(path):
            self._card.mkdir(parents=True, exist_ok=True)

    def load(self) -> State | None:
        """Return the state that was left, or None in a new folder. Raises LostError if it can't be read."""
        path = self._path / "state.json"
        return _read(State, path) if path.exists() else None

    def save(self, state: State) -> None:
        """Keep the state."""
        self._replace(self._path / "state.json", state.model_dump_json())

    def keep(self, exposure: CardExposure) -> None:
        """Put an exposure on the card."""
        self._replace(self._card / f"{name_of(exposure.number)}.json", exposure.model_dump_json(indent=1))

    def exposures(self) -> tuple[CardExposure, ...]:
        """Return every exposure on the card, oldest first."""
        found = [_read(CardExposure, path) for path in self._card.glob("SIM_*.json")]
        return tuple(sorted(found, key=lambda exposure: exposure.number))

    def note(self, what: str, **facts: Any) -> None:
        """Add a line to the record of what really happened."""
        path = self._path / "openings.jsonl"
        with disk_sentences(path), path.open("a", encoding="utf-8") as file:
            file.write(json.dumps({"what": what, **facts}) + "\n")

    def _replace(self, path: Path, text: str) -> None:
        # Without a flush, unlike what the program keeps of its own: power cuts are not simulated, and calls are quick.
        temp = path.with_name(f".{path.name}.part")
        with disk_sentences(path):
            temp.write_text(text, encoding="utf-8")
            temp.replace(path)


def _read(kind: type[R], path: Path) -> R:
    try:
        return kind.model_validate_json(path.read_bytes())
    except (OSError, ValidationError) as error:
        raise LostError(f"{path} can't be read as part of a simulated body; use another folder.") from error
