"""Planned ladders out of what of them matters to a test; the rest is there, and believable."""

from __future__ import annotations

from typing import Any

from pydantic import TypeAdapter

from tether.exposure.labels import time_label
from tether.journal.planned import PlannedLadder, PlannedRung
from tether.journal.story import LadderStory

_EXPOSURE = {
    "time_s": 0.125, "time_label": "1/8", "aperture": 8.0, "aperture_label": "f/8", "iso": 100.0, "iso_label": "100"
}  # fmt: skip
_FILTER = {"name": "Calder 6", "kind": "ND", "stops": 6.0, "measured": True, "spread_stops": 0.0}
_RUNG: dict[str, Any] = {
    **_EXPOSURE, "wanted_s": 0.125, "wanted_label": "1/8", "filters": [], "filter_stops": 0.0, "way": "timed",
    "frames": 1, "taken": "at once", "stands_for_s": None, "darker_by_stops": 0.0, "error_stops": 0.0,
    "time_off_stops": 0.0, "headroom_lost_stops": 0.0, "proof": None, "must": False, "bracket_stops": None,
    "reason": "no filter needed", "costs": "", "price": 0.0, "others": [],
    "paid": dict.fromkeys(
        ("noise_stops", "sharp_stops", "dark_stops", "headroom_stops", "tint_stops", "touches_stops"), 0.0
    ),
}  # fmt: skip
_PROOF = {"way": "timed", "iso_label": "3200", "faster_by_stops": 5.0, "error_stops": 0.0}
_TURN = {"kind": "change filters", "reason": "it is due", "takes_s": 60.0, "filters": []}
_LADDER: dict[str, Any] = {
    "plan": "Weir", "forecast_s": 60.0, "frames": 1, "base_frames": {"before": 0, "after": 0}, "leave_by": None,
    "filters_on_hand": [], "turns": [], "darks": [], "unreached": [], "cautions": [],
    "body": {"name": "Simulated body", "simulated": True, "tried": None},
    "forecast": dict.fromkeys(("exposing_s", "proofs_s", "changes_s", "settling_s", "fetching_s", "darks_s"), 0.0),
}  # fmt: skip


def a_ladder(**given: Any) -> PlannedLadder:
    """Return a planned ladder that is as given, and believable in all else."""
    whole = _LADDER | given
    base = {**_EXPOSURE, "measured": False, "filters": [], **given.get("base", {})}
    rungs = [_RUNG | _asked_as_made(one) | one for one in given.get("rungs", [])]
    return TypeAdapter(PlannedLadder).validate_python(
        whole
        | {
            "base": base | {"filters": [_FILTER | one for one in base["filters"]]},
            "rungs": [one | {"proof": one["proof"] and _PROOF | one["proof"]} for one in rungs],
            "turns": [_TURN | one for one in whole["turns"]],
        }
    )


def _asked_as_made(rung: dict[str, Any]) -> dict[str, Any]:
    """Return the time that was asked for where nothing else is given: the one that it is made with."""
    time_s = rung.get("stands_for_s") or rung.get("time_s")
    return {"wanted_s": time_s, "wanted_label": time_label(time_s)} if time_s else {}


def rungs_of(ladder: LadderStory) -> tuple[PlannedRung, ...]:
    """Return the rungs that a ladder was planned with."""
    assert ladder.planned is not None
    return ladder.planned.rungs
