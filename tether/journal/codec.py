"""How a kept record becomes text in the journal and a record again: its name and version, and a JSON object.

A row's kind is the record's name, with its version where that is not the first: ``Turn``, ``Turn 2``. A row of an older
version is brought up to today's on reading, by one step a version.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, get_args

from tether.errors import LostError
from tether.journal.records import Kept, Record

if TYPE_CHECKING:
    from pydantic import TypeAdapter

Data = dict[str, Any]

_KEPT: dict[str, type[Kept]] = {kind.__name__: kind for kind in get_args(Record) if issubclass(kind, Kept)}
_ADAPTERS: dict[type, TypeAdapter[Any]] = {}
#: By name and version: what makes of a row's data that of the version after it.
_STEPS: dict[tuple[str, int], Callable[[Data], Data]] = {
    ("ExposeOutcome", 1): lambda data: {**data, "rung": None, "kind": None},
    ("FrameRead", 1): lambda data: {**data, "readings": data["readings"] or None},
    ("LadderStarted", 1): lambda data: data,
    ("Turn", 1): lambda data: data,
    ("Turn", 2): lambda data: {key: value for key, value in data.items() if key != "picture"},
    ("LadderEnded", 1): lambda data: {**data, "trouble": None},
}


@dataclass(frozen=True, kw_only=True)
class Entry:
    """A record with when it was told. A moment of one boot says nothing beside one of another.

    Attributes
    ----------
    seq
        Place in the journal, from 1 without gaps; None: it is not kept.
    stream
        Place among what the run showed to faces, from 1 without gaps; None: it was not shown, or is read from a
        journal.
    utc
        Wall time, aware, in UTC; for reading only.
    mono_ns
        The run's monotonic clock [ns].
    boot
        The boot of the machine that `mono_ns` belongs to; None: not known, or of no machine's clock.
    record
        What was told.
    """

    seq: int | None = None
    stream: int | None = None
    utc: datetime
    mono_ns: int
    boot: str | None = None
    record: Record


def adapter_of(kind: type) -> TypeAdapter[Any]:
    """Return what turns JSON into a class and back; made, and its library loaded, when it is first needed."""
    if kind not in _ADAPTERS:
        from pydantic import TypeAdapter

        _ADAPTERS[kind] = TypeAdapter(kind)
    return _ADAPTERS[kind]


def encode(record: Kept) -> tuple[str, str]:
    """Return a kept record's kind and JSON text.

    Raises
    ------
    ValueError
        If the text could not be read back as the same kind of record (a number that is not finite, a word outside
        its list): what is in the journal must be readable later.
    """
    name = type(record).__name__
    body = json.dumps(asdict(record), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    adapter_of(type(record)).validate_json(body)
    return (name if record.VERSION == 1 else f"{name} {record.VERSION}"), body


def decode(kind: str, body: str) -> Record:
    """Return the record that `encode` wrote, today or in an earlier version.

    Raises
    ------
    LostError
        If the kind is not known or the text does not fit it.
    """
    name, _, version = kind.partition(" ")
    of = int(version) if version.isdecimal() else 1
    if name not in _KEPT or of > _KEPT[name].VERSION:
        raise LostError(f'The journal holds a record of the kind "{kind}", which this program does not know.')
    try:
        record: Record = _read(name, of, body)
    except (ValueError, TypeError, KeyError) as error:
        raise LostError(f'A record of the kind "{kind}" in the journal cannot be read: {body[:80]}') from error
    return record


def _read(name: str, version: int, body: str) -> Any:
    kind = _KEPT[name]
    if version == kind.VERSION:
        return adapter_of(kind).validate_json(body)
    data = json.loads(body)
    for step in range(version, kind.VERSION):
        data = _STEPS[name, step](data)
    return adapter_of(kind).validate_json(json.dumps(data))
