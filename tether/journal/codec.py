"""How a record becomes text in the journal and a record again: its class name and a JSON object."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, get_args

from pydantic import TypeAdapter, ValidationError

from tether.errors import LostError
from tether.journal.records import Record

_ADAPTERS: dict[str, TypeAdapter[Any]] = {kind.__name__: TypeAdapter(kind) for kind in get_args(Record)}


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One line of the journal.

    Attributes
    ----------
    seq
        Place in the journal, from 1 without gaps.
    utc
        Wall time of writing, aware, in UTC; for reading only.
    mono_ns
        The run's monotonic clock at writing [ns].
    record
        What is kept.
    """

    seq: int
    utc: datetime
    mono_ns: int
    record: Record


def encode(record: Record) -> tuple[str, str]:
    """Return a record's kind and JSON text.

    Raises
    ------
    ValueError
        If the text could not be read back as the same kind of record (a number that is not finite, a word outside
        its list): what is in the journal must be readable later.
    """
    kind = type(record).__name__
    body = json.dumps(asdict(record), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    _ADAPTERS[kind].validate_json(body)
    return kind, body


def decode(kind: str, body: str) -> Record:
    """Return the record that `encode` wrote.

    Raises
    ------
    LostError
        If the kind is not known or the text does not fit it.
    """
    adapter = _ADAPTERS.get(kind)
    if adapter is None:
        raise LostError(f'The journal holds a record of the kind "{kind}", which this program does not know.')
    try:
        record: Record = adapter.validate_json(body)
    except ValidationError as error:
        raise LostError(f'A record of the kind "{kind}" in the journal cannot be read: {body[:80]}') from error
    return record
