"""An outing with frames to choose from: drawn mosaics, one a rung, each darker than the one before by a known step."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from tests.journal.outings import weir, write_outing
from tether.files.dng import SensorLevels, write_dng
from tether.files.exif import FrameExif
from tether.journal.telling import read_outing

HEIGHT, WIDTH, BLACK, WHITE = 120, 180, 512, 16383


def draw(path: Path, seed: int, *, level: float = 0.4, orientation: int = 1) -> None:
    """Write a raw frame of a grey gradient with grain, its right end at a level (0 black to 1 clipped)."""
    rng = np.random.default_rng(seed)
    light = np.linspace(0.02, level, WIDTH) + rng.normal(0, 0.002, (HEIGHT, WIDTH))
    light[::2, ::2] *= 0.5  # red and blue get half of what green gets
    light[1::2, 1::2] *= 0.5
    mosaic = np.clip(np.round(BLACK + (WHITE - BLACK) * light), 0, WHITE).astype(np.uint16)
    facts = FrameExif(
        time_s=1.0,
        aperture=8,
        iso=100,
        taken_at=datetime(2026, 10, 3, 18, 4, 5, tzinfo=UTC),
        make="Tether",
        model="Drawn",
        serial="",
        lens="",
        software="tether",
        description="",
    )
    sensor = SensorLevels(black=BLACK, white=WHITE, as_shot_neutral=(0.5, 1.0, 0.5))
    preview = np.zeros((20, 30, 3), dtype=np.uint8)
    write_dng(path, mosaic, shot=facts, sensor=sensor, preview=preview, orientation=orientation)


def write_evening(folder: Path) -> Path:
    """Write the evening at the weir with its frames, and return its folder."""
    for part in ("frames", "previews"):
        (folder / part).mkdir(parents=True)
    write_outing(folder, weir())
    for ladder in read_outing(folder).ladders:
        for frame in ladder.frames:
            for file in frame.files:
                draw(folder / file.name, frame.frame)
    return folder
