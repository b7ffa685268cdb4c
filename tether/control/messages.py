"""What crosses the local socket: one JSON message a line, UTF-8; the promise is in ``schemas/socket.schema.json``.

The run sends ``hello``, then a ``record`` for all that it shows, an ``answer`` to each line it is sent, and ``bye``. A
face sends ``{"say": WORD, "to": NUMBER}`` or ``{"ask": "snapshot", "to": NUMBER}``; the number comes back with the
answer.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, get_args

from tether.clock import AffineClock
from tether.control.commands import WORDS, Verb, verb_of_words
from tether.errors import LostError, PlanError
from tether.journal.codec import Entry, adapter_of
from tether.journal.records import Record, Shown
from tether.journal.snapshot import Snapshot

SCHEMA: Literal["tether-socket/2"] = "tether-socket/2"
#: Longest line a face may send [bytes].
LONGEST_LINE = 64 * 1024
#: Greatest number a face may give a line, so that every JSON reader gives it back exactly.
GREATEST_NUMBER = 2**53 - 1
_ALLOWED = 'A line is {"say": WORD, "to": NUMBER} or {"ask": "snapshot", "to": NUMBER}, where "to" may be left out.'


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What does not change about a run: the outing's folder (as text), its title, whether the body is simulated."""

    outing: str
    title: str
    simulated: bool


@dataclass(frozen=True, kw_only=True)
class Hello:
    """The first message: whose run this is, its clock, and how it stands.

    The machine's monotonic clock is the same in every process, so a face counts down by itself with `clock`.
    """

    schema: Literal["tether-socket/2"] = SCHEMA
    facts: Facts
    clock: AffineClock
    snapshot: Snapshot


@dataclass(frozen=True, kw_only=True)
class StreamEntry:
    """What is shown; its number in the stream follows that of the one before, or of the snapshot, without a gap."""

    entry: Entry


@dataclass(frozen=True, kw_only=True)
class LineAnswer:
    """What became of a line; `to` is the number it had, None where it had none that can be read."""

    to: int | None
    ok: bool
    sentence: str
    snapshot: Snapshot | None = None


@dataclass(frozen=True, kw_only=True)
class Bye:
    """The last message; `again` says that the run may still go on and can be attached to again."""

    sentence: str
    again: bool


@dataclass(frozen=True, kw_only=True)
class Say:
    """A face's word to the run."""

    verb: Verb
    to: int | None = None


@dataclass(frozen=True, kw_only=True)
class Ask:
    """A face's question how the run stands."""

    to: int | None = None


Message = Hello | StreamEntry | LineAnswer | Bye
Request = Say | Ask


class GarbledMessageError(PlanError):
    """A line of a face that cannot be understood: what is wrong with it and what would be allowed.

    Parameters
    ----------
    sentence
        What is wrong.
    to
        The number of the line, where that much could be read.
    """

    def __init__(self, sentence: str, to: int | None = None) -> None:
        super().__init__(sentence, _ALLOWED)
        self.to = to


_KINDS: dict[str, type[Hello | LineAnswer | Bye]] = {"hello": Hello, "answer": LineAnswer, "bye": Bye}
_NAMES = {kind: name for name, kind in _KINDS.items()}
#: What faces are shown, by the name it has as `record`.
SHOWN: dict[str, type] = {kind.__name__: kind for kind in get_args(Record) if issubclass(kind, Shown)}


def encode(message: Message) -> bytes:
    """Return a message of the run as a line. What UTF-8 cannot say (an odd file name) becomes question marks."""
    if isinstance(message, StreamEntry):
        return _line(_told(message.entry))
    return _line({"kind": _NAMES[type(message)], **_data(message)})


def decode(line: bytes) -> Message:
    """Return the message of the run that a line holds.

    Raises
    ------
    LostError
        If the line is no message of this program's version.
    """
    from pydantic_core import from_json

    try:
        data = from_json(line)
        kind = data["kind"]
        if kind == "record":
            return StreamEntry(entry=_entry(data))
        message: Message = adapter_of(_KINDS[kind]).validate_python(data)
    except (ValueError, KeyError, TypeError) as error:
        raise LostError(
            "What the run says cannot be read; is it a run of another version of this program? "
            f"The line begins: {_shown(line.decode(errors='replace'))}"
        ) from error
    return message


def encode_request(request: Request) -> bytes:
    """Return a face's request as a line."""
    what = {"say": request.verb} if isinstance(request, Say) else {"ask": "snapshot"}
    return _line(what if request.to is None else {**what, "to": request.to})


def decode_request(line: bytes) -> Request:
    """Return the request that a face's line holds.

    Raises
    ------
    GarbledMessageError
        If the line is none, for whatever bytes it holds.
    """
    from pydantic_core import from_json

    try:
        data = from_json(line)
    except ValueError as error:
        raise GarbledMessageError(f"This line is not JSON: {error}.") from error
    if not isinstance(data, dict):
        raise GarbledMessageError("This line is JSON, but not an object in { }.")
    to = _number(data)
    strange = data.keys() - {"say", "ask", "to"}
    if strange:
        raise GarbledMessageError(f"{_shown(min(strange))} is not a key that is known here.", to)
    if ("say" in data) == ("ask" in data):
        raise GarbledMessageError('A line must have either "say" or "ask".', to)
    if "say" in data:
        return Say(verb=_verb(data["say"], to), to=to)
    if data["ask"] != "snapshot":
        sentence = f'{_shown(data["ask"])} is not something to ask a run; allowed: "snapshot".'
        raise GarbledMessageError(sentence, to)
    return Ask(to=to)


def _number(data: dict[str, Any]) -> int | None:
    to = data.get("to")
    if to is None or (type(to) is int and 0 <= to <= GREATEST_NUMBER):
        return to
    raise GarbledMessageError(f'"to" is {_shown(to)}; it must be a whole number from 0 to {GREATEST_NUMBER}.')


def _verb(word: Any, to: int | None) -> Verb:
    verb = verb_of_words(word) if isinstance(word, str) else None
    if verb is None:
        allowed = ", ".join(f'"{one.verb}"' for one in WORDS)
        raise GarbledMessageError(f"{_shown(word)} is not a word to a run; allowed: {allowed}.", to)
    return verb


def _told(entry: Entry) -> dict[str, Any]:
    return {
        "kind": "record",
        "stream": entry.stream,
        "seq": entry.seq,
        "utc": entry.utc.isoformat(timespec="microseconds"),
        "mono_ns": entry.mono_ns,
        "boot": entry.boot,
        "record": type(entry.record).__name__,
        "data": _data(entry.record),
    }


def _entry(data: dict[str, Any]) -> Entry:
    return Entry(
        stream=data["stream"],
        seq=data["seq"],
        utc=datetime.fromisoformat(data["utc"]),
        mono_ns=data["mono_ns"],
        boot=data["boot"],
        record=adapter_of(SHOWN[data["record"]]).validate_python(data["data"]),
    )


def _data(value: Any) -> dict[str, Any]:
    data: dict[str, Any] = adapter_of(type(value)).dump_python(value, mode="json")
    return data


def _line(data: dict[str, Any]) -> bytes:
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.encode(errors="replace") + b"\n"


def _shown(value: Any) -> str:
    """Show what was sent, shortened: it may be anything."""
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else f"{text[:59]}…"
