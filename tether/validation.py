"""Turn what pydantic and the TOML reader find wrong into sentences: where, what, and what would be allowed."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from tether.errors import PlanError

if TYPE_CHECKING:  # names of body files are completed by Tab, which waits for no checker
    from pydantic import ValidationError
    from pydantic_core import ErrorDetails

#: Values longer than this are shown cut short.
LONGEST_SHOWN = 60


def key_path(location: Sequence[int | str]) -> str:
    """Write a place in a file as people write it: ``filter[2].density`` (counted from 1)."""
    text = ""
    for part in location:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else part
    return text


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    text = str(value)
    text = text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"
    return f'"{text}"' if isinstance(value, str) else text


_KINDS = {
    "string_type": "a text in quotes",
    "float_type": "a number",
    "float_parsing": "a number",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "list_type": "a list in [ ]",
    "tuple_type": "a list in [ ]",
    "dict_type": "a table of keys",
    "model_type": "a table of keys",
    "model_attributes_type": "a table of keys",
    "finite_number": "a finite number",
}
_BOUNDS = {
    "greater_than": ("gt", "more than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}


def _wrong(error: ErrorDetails, known: Iterable[str]) -> str:
    kind, context = error["type"], error.get("ctx", {})
    if kind == "missing":
        return "is missing; it must be given"
    if kind == "extra_forbidden":
        name = str(error["loc"][-1])
        near = difflib.get_close_matches(name, list(known), n=1)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        value = error["input"]
        is_table = isinstance(value, dict) or (isinstance(value, list) and any(isinstance(one, dict) for one in value))
        return f"is not a {'table' if is_table else 'key'} that is known here{hint}"
    if kind in _KINDS:
        return f"must be {_KINDS[kind]}"
    if kind in _BOUNDS:
        key, words = _BOUNDS[kind]
        return f"must be {words} {context[key]}"
    if kind in {"literal_error", "enum"}:
        return f"is not a choice; allowed: {context['expected']}"
    if kind in {"too_short", "too_long"}:
        bound = context.get("min_length", context.get("max_length"))
        entries = "1 entry" if bound == 1 else f"{bound} entries"
        return f"must have {'at least' if kind == 'too_short' else 'at most'} {entries}"
    if kind == "value_error":
        return str(context["error"])
    return error["msg"][:1].lower() + error["msg"][1:]


def line_of(text: str, table: str, index: int, key: int | str | None) -> int | None:
    """Return the line of a key in one of several tables, ``[[table]]``, of a TOML text, from 1.

    Where the key is not found it is the line at which the table begins; None where the table is not found either.
    """
    headers = list(re.finditer(rf"^[ \t]*\[\[[ \t]*{table}[ \t]*\]\]", text, re.M))
    if index >= len(headers):
        return None
    header = headers[index]
    ends = re.compile(r"^[ \t]*\[", re.M).search(text, header.end())
    found = re.compile(rf"^[ \t]*[\"']?{re.escape(str(key))}[\"']?[ \t]*=", re.M).search(
        text, header.end(), ends.start() if ends else len(text)
    )
    return text.count("\n", 0, (found or header).start()) + 1


def key_sentence(
    where: str, error: ErrorDetails, known: Iterable[str] = (), under: Sequence[int | str] = (), of: str = ""
) -> str:
    """Return one mistake as a sentence naming the file, the key, the value and what would be allowed.

    `of` is said beside the place of a mistake that lies `under` another key: a name, or a line.
    """
    place = key_path([*under, *error["loc"]]) + (f" ({of})" if of else "")
    wrong = _wrong(error, known)
    value: Any = error["input"]
    if error["type"] in {"missing", "extra_forbidden"} or isinstance(value, dict | list):
        return f"{where}: {place}: {_ended(wrong)}"
    return f"{where}: {place} = {_shown(value)}: {_ended(wrong)}"


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith((".", "?")) else f"{sentence}."


def key_sentences(where: str, error: ValidationError, known: Iterable[str] = ()) -> list[str]:
    """Return every mistake that pydantic found, a sentence each, in the order of the file."""
    return [key_sentence(where, one, known) for one in error.errors()]


def read_toml(text: str, where: str) -> dict[str, Any]:
    """Read a text as TOML; `where` is how its file is called.

    Raises
    ------
    PlanError
        If it is not TOML, with the place; or so large or deep that it cannot be one of ours.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(
            f"{where}: this is not TOML that can be read: {error}. Texts stand in quotes, one key = value a line."
        ) from error
    except (ValueError, RecursionError) as error:
        raise PlanError(f"{where}: a number or a nesting in this file is too large to be read.") from error
