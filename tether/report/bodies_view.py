"""Cameras and body files for the terminal: what is connected, and where each value of a body file comes from."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType
from rich.text import Text

from tether.body.connected import Connected
from tether.body.layers import Layered
from tether.report.layout import grid, heading, listing, short_path

CAMERAS_SCHEMA, BODY_SCHEMA, BODIES_SCHEMA = "tether-cameras/1", "tether-body/1", "tether-bodies/1"
_SOURCES = "sources"


@dataclass(frozen=True)
class ConnectedView:
    """The cameras that are connected, each with the names of the body files that fit it, best first."""

    cameras: Sequence[tuple[Connected, Sequence[str]]]

    def __rich_console__(self, _console: Console, _options: ConsoleOptions) -> Iterator[RenderableType]:
        for camera, files in self.cameras:
            yield Text(f"{camera.model}  at {camera.port}", style="bold")
            yield Text(f"  {_file(files)}")
            yield Text(f"  {camera.hindrance or 'Nothing seems to be in the way of opening it.'}")


def cameras_json(cameras: Sequence[tuple[Connected, Sequence[str]]]) -> dict[str, Any]:
    """Return the cameras that are connected as plain data, valid by ``cameras.schema.json``."""
    return {
        "schema": CAMERAS_SCHEMA,
        "cameras": [
            {"model": one.model, "port": one.port, "hindrance": one.hindrance, "body_files": list(files)}
            for one, files in cameras
        ],
    }


def names_json(names: Sequence[str]) -> dict[str, Any]:
    """Return the names of all body files as plain data, valid by ``bodies.schema.json``."""
    return {"schema": BODIES_SCHEMA, "bodies": list(names)}


def _file(files: Sequence[str]) -> str:
    if not files:
        return "No body file fits it; a family's may all the same: tether body draft FILE --family FAMILY"
    others = f" (also: {', '.join(files[1:])})" if files[1:] else ""
    return f'body.file = "{files[0]}"{others}'


def values_of(layered: Layered) -> dict[str, Any]:
    """Return every value of a merged body file by its dotted key, without its sources."""
    return dict(_flat(layered.data, ()))


def _flat(data: Mapping[str, Any], under: tuple[str, ...]) -> Iterator[tuple[str, Any]]:
    for key, value in data.items():
        if not under and key == _SOURCES:
            continue
        if isinstance(value, dict):
            yield from _flat(value, (*under, key))
        else:
            yield ".".join((*under, key)), value


def source_of(layered: Layered, key: str) -> str | None:
    """Return where a value is from: the source given for it, or for the table that it is in; None: none is given."""
    sources = layered.data.get(_SOURCES, {})
    parts = key.split(".")
    for length in range(len(parts), 0, -1):
        if found := sources.get(".".join(parts[:length])):
            return _source(found)
    return None


def _source(one: Mapping[str, Any]) -> str:
    return f"{one.get('kind', '')}: {one.get('what', '')}"


def layered_json(layered: Layered) -> dict[str, Any]:
    """Return a merged body file as plain data, valid by ``body.schema.json``: every value with its file and source."""
    return {
        "schema": BODY_SCHEMA,
        "name": layered.name,
        "simulated": bool(layered.data.get("simulated")),
        "tried": layered.data.get("tried") or None,
        "files": [str(path) for path in layered.paths],
        "values": {
            key: {"value": value, "file": str(layered.file_of(key.split("."))), "source": source_of(layered, key)}
            for key, value in values_of(layered).items()
        },
    }


@dataclass(frozen=True)
class LayeredView:
    """A merged body file: its files bottom first, then table by table each value and the file it is from."""

    layered: Layered

    def __rich_console__(self, _console: Console, _options: ConsoleOptions) -> Iterator[RenderableType]:
        layered = self.layered
        numbers = {path: number for number, path in enumerate(layered.paths, start=1)}
        yield Text(f"{layered.data.get('name', layered.name)}: {_tried(layered.data)}", style="bold")
        for path, number in numbers.items():
            yield Text(f"  [{number}] {short_path(path)}")
        tables: dict[str, list[tuple[str, Any, int]]] = {}
        for key, value in values_of(layered).items():
            table, _, last = key.rpartition(".")
            tables.setdefault(table, []).append((last, value, numbers[layered.file_of(key.split("."))]))
        for table, rows in tables.items():
            yield heading(f"[{table}]" if table else "At the top")
            yield grid([(f"  [{number}]", key, json.dumps(one, ensure_ascii=False)) for key, one, number in rows])
        sources = layered.data.get(_SOURCES, {})
        yield from listing("Where the values come from", [(key, _source(one)) for key, one in sources.items()])


def _tried(data: Mapping[str, Any]) -> str:
    if data.get("simulated"):
        return "simulated"
    return f"tried {data['tried']}" if data.get("tried") else "not tried on hardware"
