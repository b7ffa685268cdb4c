"""Text from plans, cameras and file names made harmless at the edges: one function an edge.

Inside, text stays as it came. What is replaced is told by a sign that can be seen. What is printed as a whole is made
harmless by :mod:`tether.report.printed`.
"""

from __future__ import annotations

import json
import re
from typing import Any

#: Control characters but tab and line feed; those that turn the direction of writing around (UAX #9), or end a line
#: where none is seen to end; and what is left of file names that are no UTF-8 (PEP 383).
_HARMFUL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
_UNKNOWN = "\N{REPLACEMENT CHARACTER}"
#: What XML 1.0 can't hold beside that (its section 2.2).
_NO_XML = re.compile("[\ufffe\uffff]")
#: What spreadsheets take for the beginning of a formula (OWASP, “CSV Injection”), in both widths.
_FORMULA = re.compile(r"\s*[=+\-@＝＋－＠]|[\t\r]")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


def plain(text: str) -> str:
    """Return text for a terminal: nothing in it moves the cursor, changes a colour or turns what stands beside it."""
    return _HARMFUL.sub(_sign, text)


def _sign(found: re.Match[str]) -> str:
    """Return a sign for a character: the one that Unicode has for controls of ASCII, else one for what is not known."""
    code = ord(found.group())
    if code == 0x7F:
        return "\N{SYMBOL FOR DELETE}"
    return chr(0x2400 + code) if code < 0x20 else _UNKNOWN


def plain_data(data: Any) -> Any:
    """Return JSON data in which all text is as :func:`plain` leaves it; keys are our own."""
    match data:
        case str():
            return plain(data)
        case dict():
            return {key: plain_data(value) for key, value in data.items()}
        case list() | tuple():
            return [plain_data(value) for value in data]
    return data


def xml_text(text: str) -> str:
    """Return text that XML can hold; what it means by < and & is the writer's to escape."""
    return _NO_XML.sub(_UNKNOWN, plain(text))


def cell(value: str) -> str:
    """Return text for a cell of a table: what a spreadsheet would take for a formula begins with an apostrophe.

    Numbers, negative ones too, stay as they are.
    """
    is_formula = _FORMULA.match(value) and not _NUMBER.fullmatch(value)
    return f"'{plain(value)}" if is_formula else plain(value)


def json_text(data: Any, **how: Any) -> str:
    """Return data as JSON that is harmless in a terminal and is always UTF-8: what is not, is written as its number."""
    return harmless_json(json.dumps(data, ensure_ascii=False, **how))


def harmless_json(text: str) -> str:
    """Return JSON that is written already in the same way."""
    return _HARMFUL.sub(lambda found: f"\\u{ord(found.group()):04x}", text)
