"""Which frames are to be kept: ``choices.toml`` in the outing, beside the journal and apart from it.

The journal belongs to the run that writes it, and tells what was done; what the person thinks of a frame comes later,
from a face, also while a run goes on. So it has a file of its own, a table a frame, by the frame's running number::

    schema = "tether-choices/1"

    [frame.7]
    choice = "keep"                        # or "maybe", "no"
    note = "the thread beside the stone"

Either key may be left out. The file can be written by hand; what this program does not know in it stays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

from tether.errors import LostError, PlanError, system_reason
from tether.files.safe import safe_write

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

SCHEMA = "tether-choices/1"
CHOICES_NAME = "choices.toml"
#: Longest note that is kept [characters].
LONGEST_NOTE = 500

Verdict = Literal["keep", "maybe", "no"]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """What the person thinks of a frame; None and an empty note: nothing yet."""

    verdict: Verdict | None = None
    note: str = ""


def read_choices(outing: Path) -> dict[int, Choice]:
    """Return what was chosen in an outing, by the frames' running numbers; empty where nothing was.

    Raises
    ------
    PlanError
        If the file is there and cannot be understood.
    SupplyError, LostError
        If it cannot be read.
    """
    frames = _read(outing / CHOICES_NAME).unwrap().get("frame", {})
    return dict(_choice(outing / CHOICES_NAME, number, table) for number, table in frames.items())


def choose(outing: Path, frame: int, choice: Choice) -> None:
    """Keep what the person thinks of a frame; nothing else in the file changes, and a part is never written.

    Raises
    ------
    PlanError
        If the file there cannot be understood; it is left as it is.
    SupplyError, LostError
        If it cannot be read or written.
    """
    import tomlkit  # a face that only looks does without

    path = outing / CHOICES_NAME
    document = _read(path)
    read_choices(outing)
    document.setdefault("schema", SCHEMA)
    frames: Any = document.setdefault("frame", tomlkit.table(is_super_table=True))
    table: Any = frames.setdefault(str(frame), tomlkit.table())
    for key, value in (("choice", choice.verdict), ("note", " ".join(choice.note.split())[:LONGEST_NOTE])):
        if value:
            table[key] = value
        else:
            table.pop(key, None)
    if not table:
        del frames[str(frame)]
    safe_write(path, tomlkit.dumps(document).encode())


def _read(path: Path) -> TOMLDocument:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return tomlkit.document()
    except UnicodeDecodeError as error:
        raise PlanError(f"{path} is not UTF-8 text; correct it, or move it away.") from error
    except OSError as error:
        raise LostError(f"{path} cannot be read: {system_reason(error)}.") from error
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise PlanError(f"{path} is not valid TOML: {error}. Correct it, or move it away.") from error
    if document.get("schema", SCHEMA) != SCHEMA:
        raise PlanError(f"{path} says schema = {document['schema']!r}; this program knows {SCHEMA!r} only.")
    frames = document.get("frame", {})
    if not isinstance(frames, Mapping) or not all(isinstance(one, Mapping) for one in frames.values()):
        raise PlanError(f"{path}: what was chosen must stand in tables such as [frame.7]; correct it, or move it away.")
    return document


def _choice(path: Path, number: str, table: Mapping[str, Any]) -> tuple[int, Choice]:
    verdict, note = table.get("choice"), table.get("note", "")
    if not number.isdecimal():
        raise PlanError(f"{path}: [frame.{number}] has no running number of a frame.")
    if verdict is not None and verdict not in get_args(Verdict):
        allowed = ", ".join(get_args(Verdict))
        raise PlanError(f"{path}: [frame.{number}] has choice = {verdict!r}; allowed: {allowed}.")
    if not isinstance(note, str):
        raise PlanError(f"{path}: [frame.{number}] has a note that is not text.")
    return int(number), Choice(verdict=verdict, note=note)
