"""A simulated body to choose, quick to work with, and what its own record says really happened."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

from tests.body.simulated.rig import ABILITIES as RIG_ABILITIES
from tether.body.open import BodyChoice
from tether.body.simulated.world import Latency, SensorTruth, World

#: The rig's body with shutters without delay, and frames that are small and quick to fetch.
ABILITIES = dataclasses.replace(
    RIG_ABILITIES,
    open_delay_s=0.0,
    close_delay_s=0.0,
    delay_uncertainty_s=0.0,
    dark_frame_by_body=False,
    fetch_s=0.1,
    frame_bytes=100_000,
)


def choice(folder: Path, **truth: Any) -> BodyChoice:
    """Return a body with small frames and shutters without delay, whose world is changed as told."""
    quick = {
        "sensor": SensorTruth(window_px=(120, 120)),
        "latency": Latency(apply_s=0, accept_s=0, card_s=0.1),
        "open_delay_s": 0.0,
        "close_delay_s": 0.0,
        "delay_jitter_s": 0.0,
    }
    return BodyChoice(abilities=ABILITIES, world=World(**(quick | truth)), folder=folder)


def really(folder: Path, what: str) -> list[dict[str, Any]]:
    """Return the lines of one kind from the body's own record."""
    lines = (folder / "openings.jsonl").read_text(encoding="utf-8").splitlines()
    return [line for line in map(json.loads, lines) if line["what"] == what]
