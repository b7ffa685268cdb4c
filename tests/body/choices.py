"""A simulated body to choose, quick to work with, and what its own record says really happened."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tether.body.open import BodyChoice
from tether.body.simulated.world import Latency, SensorTruth, World
from tether.exposure.abilities import Abilities
from tether.exposure.marks import Step, aperture_marks, iso_marks, time_marks

ABILITIES = Abilities(
    name="Simulated body",
    simulated=True,
    tried=None,
    times=tuple(mark for mark in time_marks(Step.THIRD) if 2**-13 <= mark.exact <= 32),
    apertures=tuple(mark for mark in aperture_marks(Step.THIRD) if 2.7 <= mark.exact <= 23),
    isos=tuple(mark for mark in iso_marks(Step.THIRD) if 49 <= mark.exact <= 26_000),
    base_iso=100.0,
    can_hold=True,
    longest_hold_s=7200.0,
    shortest_hold_s=1.0,
    open_delay_s=0.0,
    close_delay_s=0.0,
    delay_uncertainty_s=0.0,
    pitch_um=4.35,
    sensor_mm=(35.9, 23.9),
    optical_finder=False,
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
    return BodyChoice(kind="simulated", abilities=ABILITIES, world=World(**(quick | truth)), folder=folder)


def really(folder: Path, what: str) -> list[dict[str, Any]]:
    """Return the lines of one kind from the body's own record."""
    lines = (folder / "openings.jsonl").read_text(encoding="utf-8").splitlines()
    return [line for line in map(json.loads, lines) if line["what"] == what]
