"""Nothing is found wrong because a machine is slow."""

from __future__ import annotations

from hypothesis import settings


def test_no_drawn_example_has_a_deadline() -> None:
    assert settings().deadline is None
