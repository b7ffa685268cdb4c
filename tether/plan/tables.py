"""Keys put into the tables of a plan's text, so that it reads as if a person had written them."""

from __future__ import annotations

from typing import Any

from tomlkit.items import Table, Whitespace


def put(table: Any, name: str, value: Any) -> None:
    """Give a table a key; a new one stands before the first blank line after the others, not under the next heading."""
    rest = taken_rest(table) if isinstance(table, Table) and name not in table else []
    table[name] = value
    if rest:
        table.value.body.extend(rest)


def taken_rest(table: Table) -> list[Any]:
    """Take off what follows the last key of a table from the first blank line on: it belongs to what comes next."""
    body = table.value.body
    last = max((at for at, (key, _) in enumerate(body) if key is not None), default=-1)
    blank = next((at for at in range(last + 1, len(body)) if isinstance(body[at][1], Whitespace)), len(body))
    rest = body[blank:]
    del body[blank:]
    return rest
