"""The user's own body files: what was measured on one's own body, laid over what is shipped; and drafts of new ones."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Table

from tether.body.layers import FOLDER, user_folder
from tether.body.protocol import Offers
from tether.errors import PlanError
from tether.files.errors import disk_sentences
from tether.files.safe import safe_write

Value = str | float | int | bool | dict[str, float]

_DRAFT = """\
# Body file for {model}, begun {day} from what it said ({library}).
# It is laid over the file of its family, "{family}": what does not stand here is taken from there, and
#   tether body show {name}
# tells for every value which file it comes from. In a plan: body.file = "{name}"
# NOT TRIED ON HARDWARE until this says so: try it at home with  tether body try

name = {quoted}
like = "{family}"

# Not to be read from the camera; look it up and take the # away:
# [sensor]
# pitch_um = 4.35                      # distance between pixel centres
# width_mm = 35.9
# height_mm = 23.9
# [body]
# optical_finder = false               # has an optical viewfinder to cover in long exposures

[driver]
models = [{quoted}]
"""


def is_path(name: str) -> bool:
    """Say whether a body file is given by its path, and not by its name."""
    return Path(name).suffix == ".toml"


def own_path(name: str) -> Path:
    """Return where the user's own file of a name stands; a path to a file stands for itself."""
    return Path(name) if is_path(name) else user_folder(FOLDER) / f"{name}.toml"


def name_of(model: str) -> str:
    """Return a model's name as that of a body file: plain lower-case letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", model).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "camera"


def draft(model: str, family: str, offers: Offers, *, name: str, day: str, library: str) -> str:
    """Return the text of a new body file for a model of a family, with the ends of the lists that it offered."""
    quoted = json.dumps(model, ensure_ascii=False)  # a basic string in TOML too
    text = _DRAFT.format(model=model, quoted=quoted, family=family, name=name, day=day, library=library)
    document = tomlkit.parse(text)
    for key, value in extremes(offers).items():
        _put(document, key, value)
    for table in ("times", "isos"):
        if table in document:
            _put_source(document, table, f"the list it offered on {day}, {library}")
    return tomlkit.dumps(document)


def extremes(offers: Offers) -> dict[str, Value]:
    """Return the ends of what a body offers, by the keys of a body file."""
    ends: dict[str, Value] = {}
    if offers.times:
        ends |= {"times.shortest": offers.times[0], "times.longest": offers.times[-1]}
    if offers.isos:
        ends |= {"isos.lowest": offers.isos[0], "isos.highest": offers.isos[-1]}
    return ends


def write_new(path: Path, text: str) -> None:
    """Write a new body file. Raises PlanError if there is a file of that name, SupplyError if it can't be written."""
    if path.exists():
        raise PlanError(f"{path}: this file is there already and is left as it is; give another name.")
    _write(path, text)


def measured(path: Path, values: Mapping[str, Value], what: str) -> None:
    """Put what was measured into a body file, and leave all else in it as it stands.

    Parameters
    ----------
    path
        The file; made if it is not there.
    values
        By dotted keys, such as ``body.fetch_s``.
    what
        When and with what it was measured, for the sources.

    Raises
    ------
    PlanError, SupplyError, LostError
        If the file is no TOML, or can't be written.
    """
    with changed_toml(path) as document:
        for key, value in values.items():
            _put(document, key, value)
        for key in values:
            if "." in key:
                _put_source(document, key, what)


@contextmanager
def changed_toml(path: Path) -> Iterator[tomlkit.TOMLDocument]:
    """Yield what a TOML file of the user's says, nothing where there is none; what the block makes of it is written.

    Raises
    ------
    PlanError, SupplyError, LostError
        If the file is no TOML, or can't be written.
    """
    try:
        document = tomlkit.parse(path.read_text(encoding="utf-8-sig")) if path.exists() else tomlkit.document()
    except (OSError, UnicodeDecodeError, TOMLKitError) as error:
        raise PlanError(f"{path}: this file can't be read as TOML, so nothing was put into it: {error}") from error
    yield document
    _write(path, tomlkit.dumps(document))


def _write(path: Path, text: str) -> None:
    with disk_sentences(path):
        path.parent.mkdir(parents=True, exist_ok=True)
    safe_write(path, text.encode())


def _put(document: tomlkit.TOMLDocument, key: str, value: Value) -> None:
    *tables, last = key.split(".")
    place: tomlkit.TOMLDocument | Table = document
    for table in tables:
        if table not in place:
            place[table] = tomlkit.table()
        place = place[table]
    place[last] = value


def _put_source(document: tomlkit.TOMLDocument, key: str, what: str) -> None:
    if "sources" not in document:
        document["sources"] = tomlkit.table(is_super_table=True)
    source = tomlkit.table()
    source["kind"], source["what"] = "own measurement", what
    document["sources"][key] = source
