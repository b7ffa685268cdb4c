"""Naming the key of a one-button remote."""

from __future__ import annotations

import pytest

from tether.desk.answer_key import named_key
from tether.errors import PlanError


@pytest.mark.parametrize(
    ("typed", "called", "key"),
    [
        ("page down", "page down", "pagedown"),
        ("PageDown", "page down", "pagedown"),
        ("volume up", "volume up", "raise_volume"),
        ("f5", "F5", "f5"),
        ("B", "b", "b"),
        ("Enter", "enter", "enter"),
    ],
)
def test_a_key_is_named_in_any_case_and_spacing(typed: str, called: str, key: str) -> None:
    assert named_key(typed) == (called, key)


@pytest.mark.parametrize("typed", ["q", "X", "escape", "ctrl+c", "w", "", "f13"])
def test_a_key_that_does_something_else_or_is_on_no_remote_is_refused(typed: str) -> None:
    with pytest.raises(PlanError, match="page down, page up"):
        named_key(typed)
