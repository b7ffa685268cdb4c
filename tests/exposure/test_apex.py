from __future__ import annotations

import json
import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from tether.exposure import apex

Inputs = dict[str, float]

Q_OF_THE_TABLE = apex.q_factor(0.9, 0.98, 10)


def focal_plane(values: Inputs) -> float:
    return apex.focal_plane_exposure(values["L"], values["A"], values["t"], Q_OF_THE_TABLE)


def settings_ev(values: Inputs) -> float:
    return apex.ev(values["t"], values["N"])


BY_NAME: dict[str, Callable[[Inputs], float]] = {
    "average_luminance": lambda v: apex.luminance_cd_m2(settings_ev(v), v["S"], v["k"]),
    "average_illuminance": lambda v: apex.illuminance_lx(settings_ev(v), v["S"], v["c"]),
    "luminance_to_exposure_value": lambda v: apex.ev_of_luminance(v["L"], v["S"], v["k"]),
    "illuminance_to_exposure_value": lambda v: apex.ev_of_illuminance(v["E"], v["S"], v["c"]),
    "q_factor": lambda v: apex.q_factor(v["T"], v["f_v"], v["theta"]),
    "arithmetic_mean_focal_plane_exposure": lambda v: focal_plane(v | {"L": v["L_a"]}),
    "exposure_index_values (10/H)": lambda v: apex.standard_output_speed(v["H_a"]),
    "exposure_value_100": lambda v: apex.ev100(v["t"], v["N"], v["S"]),
    # The lens at infinity (F = i) and the flare H_f are part of the table's function, not of ours.
    "saturation_based_speed_focal_plane_exposure (H S/78)": lambda v: apex.saturation_part(
        focal_plane(v) + v["H_f"], v["S"]
    ),
}


@pytest.mark.parametrize("row", rows("exposure_pairs"))
def test_pairs_of_the_table(row: dict[str, str]) -> None:
    found = BY_NAME[row["function"]](json.loads(row["inputs"]))
    assert found == pytest.approx(float(row["expected"]), abs=float(row["abs_tolerance"]))


@pytest.mark.parametrize("row", rows("scale_time"))
def test_time_values(row: dict[str, str]) -> None:
    assert apex.tv(float(row["exact_seconds"])) == pytest.approx(float(row["Tv_decimal"]), abs=1e-6)


@pytest.mark.parametrize("row", rows("scale_aperture"))
def test_aperture_values(row: dict[str, str]) -> None:
    assert apex.av(float(row["exact_N"])) == pytest.approx(float(row["Av_decimal"]), abs=1e-6)


@pytest.mark.parametrize("row", rows("scale_iso"))
def test_speed_values(row: dict[str, str]) -> None:
    assert apex.sv(float(row["exact"])) == pytest.approx(float(row["Sv"]), abs=1e-6)


def test_exif_annex_c() -> None:
    """Exif 2.2 Annex C: Sv 5, 7 and 10 for ISO 100, 400 and 3200; Ev = Av + Tv = Bv + Sv."""
    assert [apex.sv(iso) for iso in (100, 400, 3200)] == [5, 7, 10]
    assert apex.ev(1 / 128, 8) == 13
    assert apex.bv(1 / 128, 8, 100) == 8


def test_light_at_round_exposure_values() -> None:
    """EV 15 is 4096 cd/m² and 81 920 lx; Bv 0 is K / 3.125 = 4 cd/m² (computed from ISO 2720 and Exif Annex C)."""
    assert apex.luminance_cd_m2(15) == pytest.approx(4096)
    assert apex.illuminance_lx(15) == pytest.approx(81_920)
    assert apex.luminance_cd_m2(apex.ev(1, 1) + apex.sv(100)) == pytest.approx(4)


def test_iso_12232() -> None:
    """ISO 12232:2006: ISO 100 clips at 0.78 lx s and is metered at 0.1 lx s, 2.963 stops below."""
    assert apex.saturation_speed(0.78) == pytest.approx(100)
    assert apex.saturation_part(0.78, 100) == pytest.approx(1)
    assert apex.standard_output_speed(0.1) == pytest.approx(100)
    assert -math.log2(apex.saturation_part(0.1, 100)) == pytest.approx(2.963, abs=1e-3)


def test_a_metered_patch_is_3_263_stops_below_saturation() -> None:
    """log2(78 / (q K)) with q 0.65 and K 12.5 (computed from ISO 2720 and ISO 12232)."""
    metered = apex.focal_plane_exposure(apex.luminance_cd_m2(apex.ev(1 / 128, 8)), 8, 1 / 128)
    assert -math.log2(apex.saturation_part(metered, 100)) == pytest.approx(3.263, abs=1e-3)


@given(st.floats(min_value=-10, max_value=20), st.floats(min_value=25, max_value=409_600))
def test_light_and_exposure_value_undo_each_other(ev_value: float, iso: float) -> None:
    assert apex.ev_of_luminance(apex.luminance_cd_m2(ev_value, iso), iso) == pytest.approx(ev_value, abs=1e-9)
    assert apex.ev_of_illuminance(apex.illuminance_lx(ev_value, iso), iso) == pytest.approx(ev_value, abs=1e-9)
