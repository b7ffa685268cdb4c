"""One small raw frame, and what went into it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tether.files.dng import SensorLevels, write_dng
from tether.files.exif import FrameExif

SHOT = FrameExif(
    time_s=128.53,
    aperture=11,
    iso=100,
    focal_mm=24,
    bias_stops=-1 / 3,
    taken_at=datetime(2025, 10, 3, 18, 4, 5, 120000, tzinfo=timezone(timedelta(hours=-3, minutes=-30))),
    make="Tether",
    model="Simulated body",
    serial="S-0042",
    lens="Simulated 24 mm",
    software="tether",
    description="Grey weir, third rung",
)
SENSOR = SensorLevels(black=512, white=16383, as_shot_neutral=(0.5, 1.0, 0.8), noise=(2e-5, 4.5e-7))


@dataclass(frozen=True, kw_only=True)
class Written:
    path: Path
    raw: NDArray[np.uint16]
    preview: NDArray[np.uint8]


@pytest.fixture
def written(tmp_path: Path) -> Written:
    """A frame in the folder `tmp_path`: every raw level occurs, every pixel of the preview differs."""
    random = np.random.default_rng(7)
    raw = random.permutation(np.arange(128 * 192) % 16384).reshape(128, 192).astype(np.uint16)
    preview = random.integers(0, 256, (32, 48, 3), dtype=np.uint8)
    path = tmp_path / "weir.dng"
    write_dng(path, raw, shot=SHOT, sensor=SENSOR, preview=preview)
    return Written(path=path, raw=raw, preview=preview)
