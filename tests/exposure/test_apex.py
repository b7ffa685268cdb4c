from __future__ import annotations

import json

import pytest

from tests.data import rows
from tether.exposure import apex


@pytest.mark.parametrize("row", [row for row in rows("exposure_pairs") if row["function"] == "exposure_value_100"])
def test_pairs_of_the_table(row: dict[str, str]) -> None:
    values = json.loads(row["inputs"])
    assert apex.ev100(values["t"], values["N"], values["S"]) == pytest.approx(
        float(row["expected"]), abs=float(row["abs_tolerance"])
    )


@pytest.mark.parametrize("row", rows("scale_time"))
def test_time_values(row: dict[str, str]) -> None:
    assert apex.tv(float(row["exact_seconds"])) == pytest.approx(float(row["Tv_decimal"]), abs=1e-6)


@pytest.mark.parametrize("row", rows("scale_aperture"))
def test_aperture_values(row: dict[str, str]) -> None:
    assert apex.av(float(row["exact_N"])) == pytest.approx(float(row["Av_decimal"]), abs=1e-6)


def test_exif_annex_c() -> None:
    """Exif 2.2 Annex C: Ev = Av + Tv, 7 + 6 for 1/128 s at f/8; two stops of ISO are two of the light."""
    assert apex.ev(1 / 128, 8) == 13
    assert apex.ev100(1 / 128, 8, 100) == 13
    assert apex.ev100(1 / 128, 8, 400) == 11
