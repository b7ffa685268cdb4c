"""Which keys of a plan can be edited at a face, and editing one of them in its file's text.

Values are written as a person types them: a label as it is, a list with commas, yes or no, a filter as its strength.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Comment, Table, Whitespace

from tether.editor.base_edit import HEADROOM
from tether.editor.messages import NEW_FILTER, NEW_RUNG, PlanKey
from tether.errors import PlanError
from tether.exposure.labels import parse_time
from tether.exposure.marks import Mark, Step
from tether.exposure.stops import time_stops
from tether.plan.file import DARKER_BY, SCALES, TABLES, Tide, Top, plan_from_text
from tether.plan.tables import put, taken_rest
from tether.plan.wanted import SAME_STOPS, asks_for

_YES_NO = ("yes", "no")
_NUMBER = r"\d+(?:[.,]\d+)?"
_STRENGTH = re.compile(
    rf"(?:(?P<stops>{_NUMBER})(?: *stops?)?|(?P<what>density|factor) *(?P<number>{_NUMBER}))"
    rf"(?: *, *measured *(?P<measured>{_NUMBER})(?: *(?:±|\+-) *(?P<off>{_NUMBER}))?)?",
    re.ASCII | re.IGNORECASE,
)
#: What a rung has that is named for its time alone.
_ASKED_FOR = "asked for"
_ALLOWED_WISH = "must, -2, +2: others go first where time is short; frames so many stops around it"
_ALLOWED_STRENGTH = "10 stops, density 3.0, or factor 1000; with what was measured: 10 stops, measured 10.8 ± 0.02"


@dataclass(frozen=True, kw_only=True)
class _KeyRow:
    """A key that can be edited: its place in the file, its heading, what it is called, and what it means."""

    table: str
    name: str
    group: str
    called: str
    hint: str = ""

    @property
    def key(self) -> str:
        return f"{self.table}.{self.name}".lstrip(".")


@dataclass(frozen=True, kw_only=True)
class _Pair:
    """Two keys of a table that go together: the one, a word, the other, as in ``1/2000 to 4m``."""

    one: str
    word: str
    other: str
    example: str

    @property
    def hint(self) -> str:
        return f"write both at once, such as {self.example}"


def _rows(group: str, table: str, *names: tuple[str, str, str]) -> tuple[_KeyRow, ...]:
    return tuple(_KeyRow(table=table, name=name, group=group, called=called, hint=hint) for name, called, hint in names)


_TIME = 'a time such as 1/125, 4, 2.5, "4:16" or 5m'
_TIDE = "a time of day such as 18:40, as you read it in your tide table"
_ROWS: tuple[_KeyRow, ...] = (
    *_rows(
        "rungs",
        "rungs",
        ("from", "from", _TIME),
        ("to", "to", _TIME),
        ("step_stops", "step", "stops between rungs; empty: as is usual for moving water"),
        ("times", "times", "times with commas: 1/1000, 1/30, 2m"),
        ("streaks_px", "streaks", "how far water runs in a frame, in pixels, with commas; needs the water"),
        ("frames", "frames", "frames of each rung, 1 to 999; empty: more where the moment matters"),
        ("taken", "taken", "at once, or when you press the key, as for a wave"),
        ("order", "order", "which rungs come first"),
        ("many", "many short ones", "timed frames in place of one too long for the body; offer: they are named"),
    ),
    *_rows(
        "limits",
        "limits",
        ("aperture", "aperture", "from, to: f/5.6, f/11; empty: the lens's"),
        ("aperture_stops", "aperture within", "stops from the base's, 0 to 10; empty: the lens's"),
        ("iso", "ISO", "from, to: 100, 1600; empty: the body's"),
        ("iso_stops", "ISO within", "stops above the base's, 0 to 10; empty: the body's"),
        ("longest", "longest", _TIME),
        ("extended_iso", "extended ISO", "yes: below the body's own lowest too, which costs headroom"),
    ),
    *_rows(
        "costs",
        "costs",
        ("touch_stops", "a touch", "stops that putting a filter on or taking it off counts, 0 to 10"),
        ("print_width_cm", "print width", "centimetres, 5 to 300: the detail of such a print counts; empty: 21"),
    ),
    *_rows(
        "base",
        "base",
        ("time", "time", _TIME),
        ("aperture", "aperture", "such as f/8"),
        ("iso", "ISO", "such as 100"),
    ),
    *_rows("safety", "", ("darker_by", "darker by", "or 0 to 3 stops")),
    *_rows("light", "light", ("trend", "trend", "what you expect of the light, where no place is given to tell it")),
    *_rows(
        "water",
        "water",
        ("speed_m_s", "speed", "metres a second across the view"),
        ("distance_m", "distance", "metres"),
    ),
    *_rows(
        "tide",
        "tide",
        ("low", "low water", _TIDE),
        ("high", "high water", _TIDE),
        (
            "last_safe_exit",
            "last safe exit",
            f"{_TIDE}; the ladder is over by then, or by “leave by” if that is earlier",
        ),
    ),
    *_rows(
        "run",
        "run",
        ("leave_by", "leave by", "a time of day such as 18:40, or a day with it: 2026-10-03 18:40"),
        ("settle_s", "settle", "seconds, 0 to 600, before each frame that was touched for"),
        ("proof", "test exposures", "one through each stack of filters, when it is first fitted"),
        ("dark_frames", "dark frames", "with the cap on, after the last frame"),
    ),
)
_BY_KEY = {row.key: row for row in _ROWS}
_PAIRS = {
    "rungs": _Pair(one="from", word="to", other="to", example="1/2000 to 4m"),
    "water": _Pair(one="speed_m_s", word="at", other="distance_m", example="0.8 at 6"),
}


def keys_of(text: str) -> tuple[PlanKey, ...]:
    """Return the keys of a plan that can be edited, in the order in which a person thinks of them.

    Rungs with wishes of their own come after what is asked for, filters after the limits, each time last the row that
    adds one. A text that is no TOML has none.
    """
    try:
        document = tomlkit.parse(text)
    except TOMLKitError:
        return ()
    found = [_shown(row, document) for row in _ROWS]
    limits, base = (next(at for at, one in enumerate(found) if one.group == group) for group in ("limits", "base"))
    return (*found[:limits], *_rungs(document), *found[limits:base], *_filters(document), *found[base:])


def edited(text: str, key: str, value: str) -> str:
    """Return a plan's text with another value for a key; an empty one takes the key, or the filter, out.

    Of two keys that go together both can be given at either, and both go.

    Parameters
    ----------
    text
        The plan's file. All that is not edited stays as it stands.
    key, value
        As :func:`keys_of` has them.

    Raises
    ------
    PlanError
        There is no such key, or the value can't be meant. What the plan itself refuses is not looked at.
    """
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise PlanError(f"The plan is no longer valid TOML, so nothing was changed: {error}") from error
    value = value.strip()
    if value and any(one.key == key and one.value == value for one in keys_of(text)):
        return text  # a value is shown with few figures; typed again as it is shown, it stays what it is
    if key.startswith("filter."):
        _edit_filter(document, key, value)
    elif key.startswith("rung."):
        _edit_rung(document, key, value)
    elif key in _BY_KEY:
        row = _BY_KEY[key]
        if value and not row.table and row.name not in document:
            return _after_title(text, row.name, _meant(row, value))
        _edit(document, row, value)
        if row.table == "base":
            document["base"].pop(HEADROOM, None)  # it was another base's
    else:
        raise PlanError(f"{key}: this can't be edited here; edit the plan's file.")
    return tomlkit.dumps(document)


# Keys with one value each


def _shown(row: _KeyRow, document: TOMLDocument) -> PlanKey:
    table: Any = document.get(row.table, {}) if row.table else document
    pair = _pair(row)
    field = _field(row)
    default = None if field.is_required() else field.default
    return PlanKey(
        key=row.key,
        group=row.group,
        called=row.called,
        value=_typed(table[row.name]) if row.name in table else "",
        default="" if default in (None, []) else _typed(default),
        choices=_choices(row),
        hint=row.hint if pair is None or pair.one in table or pair.other in table else pair.hint,
    )


def _field(row: _KeyRow) -> Any:
    fields = (TABLES[row.table] if row.table else Top).model_fields
    return next(info for name, info in fields.items() if row.name == (info.alias or name))


def _choices(row: _KeyRow) -> tuple[str, ...]:
    if row.key == "darker_by":
        return DARKER_BY
    kinds = list(_kinds(_field(row).annotation))
    if bool in kinds:
        return _YES_NO
    return tuple(one for one in kinds if isinstance(one, str))


def _kinds(annotation: Any) -> Iterator[Any]:
    """Give the plain types and the choices that an annotation allows."""
    origin = get_origin(annotation)
    if origin is Literal:
        yield from get_args(annotation)
    elif origin is Annotated:
        yield from _kinds(get_args(annotation)[0])
    elif origin in (Union, UnionType):
        for one in get_args(annotation):
            yield from _kinds(one)
    else:
        yield origin or annotation


def _typed(value: Any) -> str:
    """Write a value as a person types it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mark):
        return value.label
    if isinstance(value, list | tuple):
        return ", ".join(_typed(one) for one in value)
    if isinstance(value, float):
        return f"{value:.6g}"
    return str(value)


def _edit(document: TOMLDocument, row: _KeyRow, value: str) -> None:
    table: Any = document
    if row.table:
        if row.table not in document and value:
            document[row.table] = tomlkit.table()
        table = document.get(row.table, {})
    if value:
        for name, typed in _given(row, table, value):
            put(table, name, _meant(replace(row, name=name), typed))
    else:
        _take_out(document, table, row)


def _given(row: _KeyRow, table: Any, value: str) -> tuple[tuple[str, str], ...]:
    """Return what was typed for which key: of a pair both, where both were typed. Raises PlanError for half a pair."""
    pair = _pair(row)
    if pair is None:
        return ((row.name, value),)
    both = re.split(rf"\s+{pair.word}\s+", value, flags=re.IGNORECASE)
    if len(both) == 2:
        return ((pair.one, both[0]), (pair.other, both[1]))
    if pair.one not in table and pair.other not in table:
        raise PlanError(f'{row.key} = "{value}": "{pair.one}" and "{pair.other}" go together; {pair.hint}.')
    return ((row.name, value),)


def _take_out(document: TOMLDocument, table: Any, row: _KeyRow) -> None:
    """Take a key out, and the other one of its pair. Raises PlanError where the plan needs it."""
    pair = _pair(row)
    if pair is None and _field(row).is_required():
        raise PlanError(f"{row.key} must be given: {row.hint}.")
    for name in (row.name,) if pair is None else (pair.one, pair.other):
        table.pop(name, None)
    if row.table == "water":
        document.pop(row.table, None)  # nothing else is in it


def _pair(row: _KeyRow) -> _Pair | None:
    pair = _PAIRS.get(row.table)
    return pair if pair and row.name in (pair.one, pair.other) else None


def _after_title(text: str, name: str, value: Any) -> str:
    """Put a key that belongs before the first table after the title, which every plan has."""
    top = tomlkit.document()
    top[name] = value
    return re.sub(r"^([ \t]*title\s*=.*\n)", lambda title: title[1] + tomlkit.dumps(top), text, count=1, flags=re.M)


def _meant(row: _KeyRow, value: str) -> Any:
    """Read a value as it was typed. Raises PlanError where it can't be meant."""
    choices = _choices(row)
    if choices == _YES_NO:
        if value.casefold() not in _YES_NO:
            raise PlanError(f'{row.key} = "{value}": write yes or no.')
        return value.casefold() == "yes"
    if value in choices:
        return value
    kinds = list(_kinds(_field(row).annotation))
    if row.key == "darker_by":
        return _number(row.key, value, float, f"{', '.join(choices)}, or a number of stops")
    read: Callable[[str], Any] = _READ.get(row.name, str)
    if row.name == "streaks_px":
        read = partial(_number, row.key, kind=float, allowed=row.hint)
    if list in kinds or tuple in kinds:
        return [read(part.strip()) for part in re.split(r",| to ", value) if part.strip()]
    for kind in (int, float):
        if kind in kinds:
            return _number(row.key, value, kind, row.hint or "a number")
    return read(value)


def _iso(value: str) -> int | str:
    """Read a sensitivity as a file has it: a plain number."""
    return int(value) if value.isascii() and value.isdigit() and len(value) < 10 else value


def _moment(value: str) -> datetime | str:
    """Read a date and time as TOML's own kind; a time of day alone stays a text."""
    try:
        return value if len(value) <= len("2026-10-03") else datetime.fromisoformat(value)
    except ValueError:
        return value


_READ: dict[str, Callable[[str], Any]] = {"iso": _iso, **dict.fromkeys(("leave_by", *Tide.model_fields), _moment)}


def _number(key: str, value: str, kind: type[int] | type[float], allowed: str) -> int | float:
    try:
        return kind(value.replace(",", "."))
    except ValueError:
        raise PlanError(f'{key} = "{value}": this is no {"whole " if kind is int else ""}number; {allowed}.') from None


# Filters


def _filters(document: TOMLDocument) -> Iterator[PlanKey]:
    for number, entry in enumerate(document.get("filter", []), start=1):
        yield PlanKey(
            key=f"filter.{number}",
            group="filters",
            called=str(entry.get("name", f"filter {number}")),
            value=_strength(entry),
            hint=f"{_ALLOWED_STRENGTH}; empty: it is not on hand",
        )
    yield PlanKey(key=NEW_FILTER, group="filters", called="one more", value="", hint="NAME = 6 stops")


def _strength(entry: Any) -> str:
    parts = [
        f"{entry[what]:g} stops" if what == "stops" else f"{what} {entry[what]:g}"
        for what in ("stops", "density", "factor")
        if what in entry
    ]
    if "measured_stops" in entry:
        parts.append(f"measured {entry['measured_stops']:g}")
    off = f" ± {entry['uncertainty_stops']:g}" if "uncertainty_stops" in entry else ""
    return ", ".join(parts) + off


def _edit_filter(document: TOMLDocument, key: str, value: str) -> None:
    entries: Any = document.get("filter", [])
    if key == NEW_FILTER:
        _add_filter(document, value)
        return
    at = _place(key, len(entries))
    if value:
        _set_strength(entries[at], value)
    else:
        _take_entry_out(document, "filter", at)


def _place(key: str, count: int) -> int:
    """Return where in its list an entry stands, from 0. Raises PlanError where there is none."""
    name, _, number = key.partition(".")
    if not (number.isdecimal() and 1 <= int(number) <= count):
        raise PlanError(f"{key}: there is no such {name}; there are {count}.")
    return int(number) - 1


def _take_entry_out(document: TOMLDocument, name: str, at: int) -> None:
    """Take one of a list out; remarks on what comes next, at the end of its table, go to the table before."""
    entries: Any = document[name]
    rest = taken_rest(entries[at])
    before = entries[at - 1] if at else _table_before(document, name)
    if before is not None and any(isinstance(item, Comment) for _, item in rest):
        body = before.value.body
        body.extend(rest[1:] if body and isinstance(body[-1][1], Whitespace) else rest)
    if len(entries) == 1:
        document.pop(name)
    else:
        del entries[at]


def _table_before(document: TOMLDocument, name: str) -> Any:
    """Return the table that stands last before another one in the file; None: there is none."""
    before: Any = None
    for key, item in document.body:
        if key is not None and key.key == name:
            break
        if isinstance(item, Table | AoT):
            before = item[len(item) - 1] if isinstance(item, AoT) else item
    return before


def _add_filter(document: TOMLDocument, value: str) -> None:
    name, _, strength = (part.strip() for part in value.rpartition("="))
    if not name or not strength:
        raise PlanError(f'"{value}": write a name and its strength: Calder 6 = 6 stops')
    table = tomlkit.table()
    table["name"] = name
    _set_strength(table, strength)
    _append(document, "filter", table)


def _append(document: TOMLDocument, name: str, table: Table) -> None:
    """Add a table to a list of them, which may not be there yet."""
    if name not in document:
        document.add(tomlkit.nl())
        document[name] = tomlkit.aot()
        document[name].append(table)
        return
    entries: Any = document[name]
    rest = taken_rest(entries[-1])
    entries[-1].add(tomlkit.nl())
    entries.append(table)
    entries[-1].value.body.extend(rest)


def _set_strength(table: Any, text: str) -> None:
    found = _STRENGTH.fullmatch(text.strip())
    if found is None:
        raise PlanError(f'"{text}": this is not a filter strength; allowed: {_ALLOWED_STRENGTH}.')
    what, number = ("stops", found["stops"]) if found["stops"] else (found["what"].lower(), found["number"])
    values = {what: number, "measured_stops": found["measured"], "uncertainty_stops": found["off"]}
    for name in ("stops", "density", "factor", "measured_stops", "uncertainty_stops"):
        given = values.get(name)
        if given is None:
            table.pop(name, None)
        elif name not in table or _typed(float(table[name])) != _typed(_plain(given)):
            put(table, name, _plain(given))


def _plain(number: str) -> int | float:
    number = number.replace(",", ".")
    return float(number) if "." in number else int(number)


# Rungs with wishes of their own


def _rungs(document: TOMLDocument) -> Iterator[PlanKey]:
    for number, entry in enumerate(document.get("rung", []), start=1):
        called = entry["time"] if "time" in entry else f"streak {_typed(entry.get('streak_px', ''))} px"
        yield PlanKey(
            key=f"rung.{number}",
            group="a rung",
            called=_typed(called),
            value=_wish(entry),
            hint=f"{_ALLOWED_WISH}; empty: it is not asked for by itself",
        )
    hint = f"TIME = {_ALLOWED_WISH}"
    yield PlanKey(key=NEW_RUNG, group="a rung", called="one more", value="", hint=hint)


def _wish(entry: Any) -> str:
    must = ["must"] if entry.get("must") else []
    return ", ".join((*must, *(f"{stops:+g}" for stops in entry.get("bracket", [])))) or _ASKED_FOR


def _edit_rung(document: TOMLDocument, key: str, value: str) -> None:
    time, _, wish = (part.strip() for part in value.partition("="))
    if key != NEW_RUNG:
        at, wish = _place(key, len(document.get("rung", []))), value
    elif time:
        at = _rung_of(document, time)
    else:
        raise PlanError(f'"{value}": write a time and what is wished for it: 4m = must')
    if not value:
        _take_entry_out(document, "rung", at)
        return
    _set_wish(document["rung"][at], wish)
    _take_out_idle(document, at)


def _rung_of(document: TOMLDocument, time: str) -> int:
    """Return where the rung of a time stands among those with wishes of their own; it is added where it is none."""
    step = SCALES.get(str(document.get("scale", "third")), Step.THIRD)
    wanted = parse_time(time, step)
    entries: Any = document.get("rung", [])
    for at, entry in enumerate(entries):
        if "time" in entry and abs(time_stops(parse_time(str(entry["time"]), step).exact, wanted.exact)) <= SAME_STOPS:
            return at
    table = tomlkit.table()
    table["time"] = time
    at = len(entries)
    _append(document, "rung", table)
    return at


def _set_wish(entry: Any, wish: str) -> None:
    words = [] if wish == _ASKED_FOR else [word for word in re.split(r"[,\s]+", wish) if word]
    numbers = [_number("rung", word, float, _ALLOWED_WISH) for word in words if word != "must"]
    stops = [int(one) if one == int(one) else one for one in numbers]
    for name, given in (("must", "must" in words), ("bracket", stops)):
        if given:
            put(entry, name, given)
        else:
            entry.pop(name, None)


def _take_out_idle(document: TOMLDocument, at: int) -> None:
    """Take out a rung that is named for its time alone, where the plan asks for that time elsewhere."""
    entries: Any = document["rung"]
    if list(entries[at]) != ["time"]:
        return
    plan = plan_from_text(tomlkit.dumps(document))
    time = plan.rung[at].time
    if time is not None and asks_for(plan, time):
        _take_entry_out(document, "rung", at)
