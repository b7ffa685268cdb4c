"""Levels of a real raw file, against numbers read from it with rawpy 0.28.0 (`tests/data/raw_numbers.csv`)."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from tests.frames.real_files import real_arw
from tether.files.raw import read_raw
from tether.frames.levels import clip_level, histograms, level_exceeded_by, levels_of

pytestmark = pytest.mark.prove
_TABLE = Path(__file__).parent.parent / "data" / "raw_numbers.csv"


@pytest.fixture(scope="module")
def numbers() -> dict[str, str]:
    lines = [line for line in _TABLE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return {row["quantity"]: row["value"] for row in csv.DictReader(lines) if row["file"] == "_DSC2164.ARW"}


@pytest.mark.timeout(300)
def test_a_real_mosaic_gives_the_listed_numbers(numbers: dict[str, str]) -> None:
    frame = read_raw(real_arw())
    assert " x ".join(map(str, frame.mosaic.shape)) == numbers["visible_shape"]
    assert frame.white == int(numbers["white_level"])
    assert int(frame.mosaic.max()) == int(numbers["raw_max"])
    found = histograms(frame)
    # The table's order is colour index 0 1 2 3: red, green, blue, green; the mosaic's is R G G B.
    order = (0, 1, 3, 2)
    counts = [found[place].counts for place in order]
    means = [float((one * np.arange(len(one))).sum() / one.sum()) for one in counts]
    assert means == pytest.approx([float(one) for one in numbers["mean_R_G1_B_G2"].split()], abs=1e-3)
    tops = [level_exceeded_by(found[place], 0.001) for place in order]
    assert tops == [int(one) for one in numbers["p99.9_R_G1_B_G2"].split()]
    camera_white = int(numbers["camera_white_level_per_channel"].split()[0])
    assert [int(one[camera_white:].sum()) for one in counts] == [
        int(one) for one in numbers["count_ge_15360_R_G1_B_G2"].split()
    ]
    clipped = levels_of(found, camera_white)
    assert clipped.clipped_share * clipped.channels["B"].pixels == pytest.approx(92)
    # Most of the clipped blue pixels share one level below the white level of the file.
    assert clip_level(found, frame.white) == 16372
    assert int(counts[2][16372]) > 32
