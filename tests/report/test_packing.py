"""What to pack for a ladder."""

from __future__ import annotations

from typing import Any

import pytest

from tests.journal.planned import a_ladder
from tether.report.packing import packing

SIX, TEN, THREE = ({"name": f"Calder {stops:.0f}", "kind": "ND", "stops": stops, "measured": True, "spread_stops": 0.0}
                   for stops in (6.0, 10.0, 3.0))  # fmt: skip
RUNGS: list[dict[str, Any]] = [
    {"rung": 1, "time_s": 0.002},
    {"rung": 2, "time_s": 4.0, "filters": ["Calder 10"]},
    {"rung": 3, "time_s": 240.0, "filters": ["Calder 10", "Calder 6"], "way": "held"},
]
TURNS = [
    {"before_rung": 2, "what": "fit Calder 10"},
    {"before_rung": 3, "what": "fit Calder 6"},
    {"before_rung": None, "kind": "cap on", "what": "put the cap on for dark frames"},
]


def test_what_goes_on_the_lens_is_told_in_order_and_what_is_not_used_can_stay() -> None:
    found = packing(a_ladder(rungs=RUNGS, turns=TURNS, filters_on_hand=[SIX, THREE, TEN]))
    assert found.fit == (
        "fit Calder 10, before rung 2",
        "fit Calder 6, before rung 3",
        "put the cap on for dark frames, at the end",
    )
    assert found.leave == ("Calder 3",)
    assert found.bring[0] == "filters, the first one on top: Calder 10, Calder 6"
    assert "the lens cap" in found.bring


def test_what_is_always_on_is_said_first() -> None:
    polariser = {"name": "Polariser", "kind": "always on", "stops": 1.5}
    rungs = [{"rung": 1, "filters": ["Polariser"]}]
    found = packing(a_ladder(rungs=rungs, base={"filters": [polariser]}))
    assert found.fit == ("Polariser: on the lens from the beginning",)
    assert not any(one.startswith("filters") for one in found.bring)


@pytest.mark.parametrize(("time_s", "tripod"), [(1 / 60, False), (1 / 15, True)])
def test_a_tripod_is_for_what_is_not_frozen(time_s: float, tripod: bool) -> None:
    assert ("a tripod" in packing(a_ladder(rungs=[{"rung": 1, "time_s": time_s}])).bring) is tripod


def test_the_card_must_hold_all_frames_those_of_the_base_too() -> None:
    """Nine of the rungs, two before and one after: a ladder's number of frames counts them all."""
    ladder = a_ladder(rungs=RUNGS, frames=12, base_frames={"before": 2, "after": 1}, forecast_s=3600.0)
    assert "room for 12 raw frames on the card, and a charged battery" in packing(ladder).bring
    assert "a second battery" in packing(ladder).bring
