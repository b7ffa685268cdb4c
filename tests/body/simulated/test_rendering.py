"""What comes out of the files: every number here is measured from a DNG that the body handed over."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.body.simulated.rig import PITCH_UM, SMALL, Rig, level_stops, world
from tether.body.protocol import Fitted, SceneChange
from tether.body.simulated.rendering import scene_of, still_cd_m2
from tether.body.simulated.world import Base, TrueFilter, World
from tether.files.exif import read_exif
from tether.light.falling import gathered_s

CALDER = Fitted(name="Calder 10", stops=10.0)
ORME = Fitted(name="Orme 2", stops=2.0)
TRUE = {"Calder 10": TrueFilter(stops=10.4), "Orme 2": TrueFilter(stops=2.0)}


def test_base_exposure_has_the_level_that_was_given(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    assert rig.still_stops(rig.shoot("1/60")) == pytest.approx(-4.0, abs=0.005)


def test_polariser_of_the_base_is_in_the_level_as_it_really_is(tmp_path: Path) -> None:
    polariser = Fitted(name="Polariser", stops=1.5)
    truth = world(base=Base(always_on=(polariser,)), base_level_stops=-2.0)
    rig = Rig(tmp_path, truth)
    assert rig.still_stops(rig.shoot("1/60")) == pytest.approx(-2.0, abs=0.005)
    rig.body.stage(SceneChange(fitted=()))
    gained = rig.still_stops(rig.shoot("1/125")) - rig.still_stops(rig.shoot("1/250")) - 1
    assert gained == pytest.approx(0, abs=0.005)
    lost = truth.filter_stops(polariser)[1]
    assert rig.still_stops(rig.shoot("1/250")) == pytest.approx(-2.0 - 2 + lost, abs=0.01)


def test_equivalent_exposures_are_equal(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(filters=TRUE))
    base = rig.still_stops(rig.shoot("1/60", "f/11", "100"))
    assert rig.still_stops(rig.shoot("1/60", "f/16", "200")) == pytest.approx(base, abs=0.01)
    assert rig.still_stops(rig.shoot("1/500", "f/5.6", "200")) == pytest.approx(base, abs=0.01)
    rig.body.stage(SceneChange(fitted=(ORME,)))
    assert rig.still_stops(rig.shoot("1/15")) == pytest.approx(base, abs=0.01)
    # Extended ISO 50 has the gain of 100: the raw level is that of the light.
    assert rig.still_stops(rig.hold(0.25, "f/22", "50")) == pytest.approx(base, abs=0.01)


def test_planted_filter_comes_out(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(filters=TRUE))
    base = rig.still_stops(rig.shoot("1/60"))
    rig.body.stage(SceneChange(fitted=(CALDER,)))
    assert rig.still_stops(rig.hold(16.0)) - base == pytest.approx(-0.4, abs=0.02)


def test_thirty_of_thirty_two_seconds_comes_out(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(filters=TRUE, true_times_s={"15": 15.0}))
    rig.body.stage(SceneChange(fitted=(CALDER,)))
    held = rig.still_stops(rig.hold(30.0))
    assert rig.still_stops(rig.shoot("30")) - held == pytest.approx(math.log2(32 / 30), abs=0.02)
    assert rig.still_stops(rig.shoot("15")) - held == pytest.approx(math.log2(15 / 30), abs=0.02)


def test_delays_of_the_shutter_are_in_the_light_and_in_the_exif(tmp_path: Path) -> None:
    truth = world(filters=TRUE, open_delay_s=0.5, close_delay_s=0.1, delay_jitter_s=0.0)
    rig = Rig(tmp_path, truth)
    rig.body.stage(SceneChange(fitted=(CALDER,)))
    short, long = rig.still_stops(rig.hold(1.4, "f/4")), rig.still_stops(rig.hold(4.4, "f/4"))
    assert long - short == pytest.approx(2.0, abs=0.01)
    assert read_exif(rig.folder / "SIM_0002.DNG").time_s == pytest.approx(4.0, abs=1e-6)


def test_falling_light(tmp_path: Path) -> None:
    rate = 0.5
    rig = Rig(tmp_path, world(stops_per_minute=rate, filters=TRUE))
    rig.body.stage(SceneChange(fitted=(CALDER,)))
    first, second = rig.still_stops(rig.hold(8.0)), rig.still_stops(rig.hold(40.0))
    one, two = (line["at_ns"] / 1e9 for line in rig.openings("opened"))
    expected = math.log2(gathered_s(40.0, rate) / gathered_s(8.0, rate)) - rate * (two - one) / 60
    assert second - first == pytest.approx(expected, abs=0.01)
    assert expected < math.log2(5) - 0.15


def test_cast_of_a_filter(tmp_path: Path) -> None:
    truth = world(filters={"Calder 10": TrueFilter(stops=10.0, cast_stops=(-0.3, 0.0, 0.2))})
    rig = Rig(tmp_path, truth)
    plain = rig.shoot("1/60")
    rig.body.stage(SceneChange(fitted=(CALDER,)))
    through = rig.hold(16.0)
    still = scene_of(truth, PITCH_UM).still

    def lost(row: int, column: int) -> float:
        where = still[row::2, column::2]
        before, after = (float(m[row::2, column::2][where].mean()) - 512 for m in (plain, through))
        return math.log2(before / after)

    assert [lost(0, 0), lost(0, 1), lost(1, 1)] == pytest.approx([-0.3, 0.0, 0.2], abs=0.01)


def test_cap_keeps_the_light_out(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    rig.body.stage(SceneChange(capped=True))
    assert rig.shoot("30", "f/2.8").mean() == pytest.approx(512, abs=1)
    rig.body.stage(SceneChange(capped=False))
    assert rig.shoot("1/60").mean() > 1400


def green(mosaic: NDArray[np.uint16]) -> NDArray[np.float64]:
    return np.asarray(mosaic[0::2, 1::2] / 1.0)


def shift_between(one: NDArray[np.float64], other: NDArray[np.float64]) -> tuple[float, float]:
    """Return how far the second moved down and right [px], by the peak of the phase correlation."""
    cross = np.fft.fft2(other - other.mean()) * np.conj(np.fft.fft2(one - one.mean()))
    peak = np.fft.ifft2(cross / np.abs(cross)).real
    down, right = np.unravel_index(int(peak.argmax()), peak.shape)
    height, width = peak.shape
    return float((down + height // 2) % height - height // 2), float((right + width // 2) % width - width // 2)


def test_knock_moves_the_picture_from_then_on(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    before = green(rig.shoot("2", "f/22", "50"))
    rig.body.stage(SceneChange(knock_px=(6.0, -4.0)))
    assert shift_between(before, green(rig.shoot("2", "f/22", "50"))) == (-2.0, 3.0)  # green is every second pixel
    rig.body.stage(SceneChange(knock_px=(4.0, 0.0)))
    assert shift_between(before, green(rig.shoot("2", "f/22", "50"))) == (-2.0, 5.0)


def test_knock_in_mid_exposure_makes_a_double_picture(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(filters=TRUE))
    rig.body.stage(SceneChange(fitted=(CALDER,)))
    sharp = green(rig.hold(16.0))
    rig.set("bulb")
    rig.body.open_shutter()
    rig.wait(8.0)
    rig.body.stage(SceneChange(knock_px=(12.0, 0.0)))
    rig.wait(8.0)
    rig.body.close_shutter()
    double = green(rig.mosaic(rig.newest()))
    moved = np.roll(sharp, 6, axis=1)
    middle = (slice(0, 40), slice(10, -10))  # the wall above, away from what the window loses at its edges
    assert np.corrcoef(double[middle].ravel(), (sharp + moved)[middle].ravel())[0, 1] > 0.98
    assert double[middle].std() < 0.95 * sharp[middle].std()


def test_water_is_frozen_then_silk_and_as_light_as_before(tmp_path: Path) -> None:
    truth = world(filters=TRUE)
    rig = Rig(tmp_path, truth)
    wet = scene_of(truth, PITCH_UM).wet
    frozen = [rig.shoot("1/500", "f/11", "800") for _ in range(4)]
    rig.body.stage(SceneChange(fitted=(CALDER,)))
    silk = [rig.hold(21.0) for _ in range(2)]
    levels = [np.mean([level_stops(frame, wet, SMALL) for frame in frames]) for frames in (frozen, silk)]
    # 1/512 at ISO 800 is the base exposure; 21 s through 10.4 stops is a little less. Glints that burn out cost light.
    assert levels[1] - levels[0] == pytest.approx(math.log2(21 * 64) - 10.4, abs=0.1)
    inside = green(frozen[0])[10:40, 62:72], green(silk[0])[10:40, 62:72]
    between = [np.abs(np.diff(patch, axis=0)).mean() / patch.mean() for patch in inside]
    assert between[1] < 0.25 * between[0]


def test_same_seed_and_frame_give_the_same_numbers(tmp_path: Path) -> None:
    one, two, other = (Rig(tmp_path / name, world(seed=seed)) for name, seed in (("one", 5), ("two", 5), ("other", 6)))
    first, again = one.shoot("1/60"), two.shoot("1/60")
    assert np.array_equal(first, again)
    assert not np.array_equal(first, one.shoot("1/60"))
    assert not np.array_equal(first, other.shoot("1/60"))
    assert np.array_equal(first, one.mosaic(one.body.card_files()[0]))


def test_dark_frame_by_the_body(tmp_path: Path) -> None:
    hot = SMALL.model_copy(update={"hot_share": 0.005})
    plain = Rig(tmp_path / "plain", world(sensor=hot, temperature_c=30.0))
    clean = Rig(tmp_path / "clean", world(sensor=hot, temperature_c=30.0, dark_frame_by_body=True))
    for rig in (plain, clean):
        rig.body.stage(SceneChange(capped=True))
    speckled, cleaned = (rig.shoot("30", iso="800") for rig in (plain, clean))
    assert np.count_nonzero(speckled > 2500) > 100
    assert np.count_nonzero(cleaned > 2500) < 10


def test_luminance_is_what_the_base_exposure_says() -> None:
    # L = H N²/(q t), H = 78/S · 2^-4: q 0.65 and the saturation-based speed of ISO 12232:2006; by hand.
    assert still_cd_m2(World(), 100.0) == pytest.approx(0.78 / 16 * 128 * 64 / 0.65, rel=1e-6)
