"""Makes `schemas/socket.schema.json` of what is shown: ``python -m tests.control.socket_schema`` writes it anew.

What is said by hand (hello, answer, bye, a face's lines) is taken from the file as it stands; records and the snapshot
are made from their classes.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

import tether
from tether.control.messages import SHOWN
from tether.journal.snapshot import Snapshot

PATH = Path(tether.__file__).parent / "schemas" / "socket.schema.json"
BY_HAND = ("from_run", "from_face", "hello", "answer", "bye", "say", "ask", "facts", "clock")


def made() -> dict[str, Any]:
    """Return the schema that the records of today make."""
    schema: dict[str, Any] = json.loads(PATH.read_text(encoding="utf-8"))
    of_classes = {"Snapshot": Snapshot, **SHOWN}
    _, found = TypeAdapter.json_schemas(
        [(name, "serialization", TypeAdapter(kind)) for name, kind in of_classes.items()],
        ref_template="#/$defs/{model}",
    )
    by_hand = {name: schema["$defs"][name] for name in BY_HAND}
    return schema | {"$defs": {**by_hand, "record": _record(), **_as_written(found["$defs"])}}


def _record() -> dict[str, Any]:
    return {
        "type": "object",
        "description": "Something that happened. Its number in the stream follows that of the one before, or of the "
        "snapshot, without a gap. `seq` is its number in the journal; null: it is not kept. `mono_ns` is of the run's "
        "clock [ns]; a moment of one boot says nothing beside one of another.",
        "required": ["kind", "stream", "seq", "utc", "mono_ns", "boot", "record", "data"],
        "properties": {
            "kind": {"const": "record"},
            "stream": {"type": "integer", "minimum": 1},
            "seq": {"type": ["integer", "null"]},
            "utc": {"type": "string", "format": "date-time"},
            "mono_ns": {"type": "integer"},
            "boot": {"type": ["string", "null"]},
            "record": {"enum": list(SHOWN)},
            "data": {"type": "object"},
        },
        "oneOf": [{"properties": {"record": {"const": name}, "data": {"$ref": f"#/$defs/{name}"}}} for name in SHOWN],
    }


def _as_written(value: Any) -> Any:
    """Return a schema without titles that repeat its names, in which all that is always written is required."""
    if isinstance(value, list):
        return [_as_written(one) for one in value]
    if not isinstance(value, dict):
        return value
    kept = {key: _as_written(one) for key, one in value.items() if not (key == "title" and isinstance(one, str))}
    if kept.get("type") == "object" and "properties" in kept:
        kept["required"] = list(kept["properties"])
    return kept


if __name__ == "__main__":
    PATH.write_text(json.dumps(made(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
