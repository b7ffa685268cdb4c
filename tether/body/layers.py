"""Body files in layers: what a family shares, what a body does otherwise, what the user found out on their own body.

A file may say ``like = "NAME"``: then it is laid over that one. A file of the same name in the user's own folder is
laid over the shipped one. Tables are merged key by key; any other value, lists too, takes the place of the one below.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tether.errors import PlanError
from tether.files.shipped import shipped
from tether.validation import read_toml

FOLDER = "bodies"
LIKE = "like"
#: Layers more than this are a circle or a mistake.
MOST_LAYERS = 8


@dataclass(frozen=True, kw_only=True)
class Layered:
    """A merged file: its values, and for each dotted key the file that it comes from; `paths` bottom first."""

    name: str
    data: dict[str, Any]
    origin: dict[str, Path]
    paths: tuple[Path, ...]

    def file_of(self, key: Sequence[int | str]) -> Path:
        """Return the file that a key comes from, or that would have had to give it."""
        parts = [str(part) for part in key]
        for length in range(len(parts), 0, -1):
            found = self.origin.get(".".join(parts[:length]))
            if found:
                return found
        return self.paths[-1]


def profile_folders(kind: str) -> tuple[Path, ...]:
    """Return the folders that hold profiles of a kind, the user's own first, then the shipped one."""
    return user_folder(kind), shipped("profiles") / kind


def user_folder(kind: str) -> Path:
    """Return the user's own folder of profiles of a kind; it need not be there."""
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "tether" / kind


def known_names() -> list[str]:
    """Return the names of all body files there are, sorted."""
    return sorted({path.stem for folder in profile_folders(FOLDER) for path in folder.glob("*.toml")})


def read_layers(name: str) -> Layered:
    """Read a body file given by name or path, with all that it is laid over.

    Raises
    ------
    PlanError
        If there is none, one can't be read, or they are laid over each other in a circle.
    """
    paths = _paths(name, ())
    data: dict[str, Any] = {}
    origin: dict[str, Path] = {}
    for path in paths:
        _lay(data, origin, _read(path), path, ())
    data.pop(LIKE, None)
    return Layered(name=name, data=data, origin=origin, paths=paths)


def _paths(name: str, above: tuple[str, ...]) -> tuple[Path, ...]:
    """Return the files of a name, bottom first: what they are like, the shipped one, the user's own."""
    if name in above or len(above) >= MOST_LAYERS:
        raise PlanError(f"body file {above[0]}: {' is like '.join((*above, name))}: that is a circle.")
    own = _own_paths(name, above)
    like = next((says for says in (_read(path).get(LIKE) for path in reversed(own)) if says), None)
    if like is None:
        return own
    if not isinstance(like, str):
        raise PlanError(f"{own[-1].name}: like = {like}: must be the name of a body file, in quotes.")
    return (*_paths(like, (*above, name)), *own)


def _own_paths(name: str, above: tuple[str, ...]) -> tuple[Path, ...]:
    given = Path(name)
    if given.suffix == ".toml" and given.is_file():
        return (given,)
    own = tuple(path for folder in reversed(profile_folders(FOLDER)) if (path := folder / f"{name}.toml").is_file())
    if own:
        return own
    where = f'{above[-1]}: like = "{name}"' if above else f'body.file = "{name}"'
    raise PlanError(f"{where}: there is no such body file; known are {', '.join(known_names())}, or a path to one.")


def _read(path: Path) -> dict[str, Any]:
    try:
        return read_toml(path.read_text(encoding="utf-8-sig"), path.name)
    except (OSError, UnicodeDecodeError) as error:
        raise PlanError(f"{path}: this body file cannot be read; it must be a text file in TOML.") from error


def _lay(
    data: dict[str, Any], origin: dict[str, Path], over: dict[str, Any], path: Path, under: tuple[str, ...]
) -> None:
    """Lay one file's table over another, in place."""
    for key, value in over.items():
        place = (*under, key)
        if isinstance(value, dict):
            if not isinstance(data.get(key), dict):
                data[key] = {}
            _lay(data[key], origin, value, path, place)
        else:
            data[key] = value
            origin[".".join(place)] = path
