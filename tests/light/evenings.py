"""The light of measured evenings: medians over a city, by the sun's altitude (tests/data/README.md has the source)."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]


def measured_evening() -> tuple[Values, Values]:
    """Return the sun's altitudes, rising [degrees], and the light at each, as the logarithm of lux [stops]."""
    text = (Path(__file__).parents[1] / "data" / "twilight_illuminance.csv").read_text()
    rows = csv.DictReader(line for line in text.splitlines() if line[:1] != "#")
    known = [(float(row["altitude_deg"]), float(row["city_median_lux"])) for row in rows if row["city_median_lux"]]
    altitudes, lux = np.array(sorted(known)).T
    return altitudes, np.log2(lux)
