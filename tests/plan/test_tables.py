"""Keys put into tables: where a person would have written them."""

from __future__ import annotations

from typing import Any

import tomlkit

from tether.plan.tables import put, taken_rest

TEXT = """[lens]
focal_mm = 35   # the short one
# widest = "f/2"

# What is next:
[base]
iso = 100
"""


def test_a_new_key_stands_before_the_blank_line_and_what_is_next() -> None:
    document = tomlkit.parse(TEXT)
    put(document["lens"], "narrowest", "f/16")
    put(document["lens"], "focal_mm", 24)
    assert tomlkit.dumps(document) == TEXT.replace("= 35 ", "= 24 ").replace('"f/2"\n', '"f/2"\nnarrowest = "f/16"\n')


def test_what_follows_the_last_key_from_the_blank_line_on_is_taken_off() -> None:
    table: Any = tomlkit.parse(TEXT)["lens"]
    rest = taken_rest(table)
    assert [item.as_string() for _, item in rest] == ["\n", "# What is next:\n"]
    assert tomlkit.dumps(table) == 'focal_mm = 35   # the short one\n# widest = "f/2"\n'
