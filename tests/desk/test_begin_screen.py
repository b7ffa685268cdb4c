"""Asking once more before a ladder is begun: enter begins it, and not where something stops it."""

from __future__ import annotations

import pytest

from tether.desk.begin_screen import BeginScreen
from tether.desk.draft_views import Summary


@pytest.mark.parametrize("stopped", [True, False])
def test_enter_begins_it_once_the_question_is_gone_and_only_where_nothing_stops_it(stopped: bool) -> None:
    done: list[str] = []

    class Asked(BeginScreen):
        def dismiss(self, *_: object) -> None:  # type: ignore[override]
            done.append("gone")

    Asked("begin", Summary(lines=(), stopped=stopped), lambda: done.append("begun")).action_begin()
    assert done == ([] if stopped else ["gone", "begun"])
