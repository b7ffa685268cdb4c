"""What a planned rung is called, and how long it is open."""

from __future__ import annotations

from typing import Any

import pytest

from tests.journal.planned import a_ladder


@pytest.mark.parametrize(
    ("rung", "name", "opens"),
    [
        ({"time_s": 16.0, "wanted_s": 16.0, "wanted_label": "15"}, "15 s", "15 s"),
        ({"way": "held", "time_s": 54.9, "wanted_s": 64.0, "wanted_label": "1:04"}, "1:04 min", "54.9 s"),
        ({"way": "held", "time_s": 500.0, "wanted_s": 480.0, "wanted_label": "8:00"}, "8:00 min", "8:20 min"),
        ({"time_s": 32.0, "wanted_s": 256.0, "wanted_label": "4:16"}, "30 s", "30 s"),
        (
            {
                "way": "many",
                "frames": 8,
                "time_s": 32.0,
                "stands_for_s": 256.0,
                "wanted_s": 240.0,
                "wanted_label": "4:00",
            },
            "4:00 min",
            "8 × 30 s",
        ),
    ],
)
def test_a_rung_is_called_by_the_time_that_was_asked_for_unless_only_another_is_possible(
    rung: dict[str, Any], name: str, opens: str
) -> None:
    (one,) = a_ladder(rungs=[{"rung": 1, **rung}]).rungs
    assert (one.name, one.opens) == (name, opens)
