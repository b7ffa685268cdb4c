"""The light of the simulated world: by the sun, clouds beside a steady fall, light that leaks in, knocks, softness."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import log2
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.body.simulated.rig import Rig, world
from tests.data import rows
from tether.body.simulated.card import Spell
from tether.body.simulated.light import light_s, wander_stops
from tether.clock import SteppedClock

#: Stops against the sun on the horizon, by its altitude, as published (tests/data/README.md).
TABLE = {float(row["altitude_deg"]): float(row["stops_rel_0deg"]) for row in rows("twilight_illuminance")}
#: When the sun passes an altitude at a place, worked out by another program (tests/data/README.md).
EVENINGS = {
    place: {float(row["altitude_deg"]): row for row in rows("twilight_rates") if row["place"] == place}
    for place in ("equator, equinox", "51.5 N 0 E, December solstice", "65 N, 15 February")
}


def sun(evening: dict[float, dict[str, str]], **changes: float) -> dict[str, Any]:
    """Return the sun of an evening, the base right as the sun sets."""
    row = evening[-0.8333]
    where = {"latitude": float(row["lat_deg"]), "longitude": float(row["lon_deg"])}
    return {"sun": where | {"base_utc": row["utc"]} | changes}


def passes(evening: dict[float, dict[str, str]], altitude: float) -> datetime:
    return datetime.fromisoformat(evening[altitude]["utc"])


def stops_at(utc: datetime, truth: dict[str, Any], open_s: float = 0.01) -> float:
    """Return the light's mean over an opening, long after the world began [stops]."""
    spell = Spell(start_s=7e4, end_s=7e4 + open_s, fitted=(), capped=False, knock_px=(0, 0), start_utc=utc)
    return log2(light_s(spell, world(**truth)) / open_s)


@pytest.mark.parametrize("evening", EVENINGS.values(), ids=EVENINGS.keys())
def test_frames_are_as_bright_as_the_published_twilight_table_says_at_that_time_and_place(
    evening: dict[float, dict[str, str]], tmp_path: Path
) -> None:
    """Read from the files: 1/60 s as the sun sets, three stops more at -3 degrees, seven more at -6."""
    rig = Rig(tmp_path, world(**sun(evening)), SteppedClock(start_utc=passes(evening, -0.8333)))
    levels = []
    for altitude, time in ((-0.8333, "1/60"), (-3.0, "1/8"), (-6.0, "2")):
        rig.wait((passes(evening, altitude) - rig.clock.utc()).total_seconds())
        levels.append(rig.still_stops(rig.shoot(time)))
    (kept,) = rig.openings("light")
    assert (kept["sun"]["base_utc"], kept["sun"]["late_s"]) == (evening[-0.8333]["utc"], 0.0), "the truth is kept"
    assert levels[0] == pytest.approx(-4.0, abs=0.02)
    assert levels[1] - levels[0] == pytest.approx(TABLE[-3.0] - TABLE[-0.8333] + 3, abs=0.04)
    assert levels[2] - levels[0] == pytest.approx(TABLE[-6.0] - TABLE[-0.8333] + 7, abs=0.04)


def test_light_that_is_late_is_that_of_before_and_its_pace_is_of_stops() -> None:
    evening = EVENINGS["equator, equinox"]
    late_s = (passes(evening, -6.0) - passes(evening, -3.0)).total_seconds()
    late = {"sun": sun(evening)["sun"] | {"base_utc": passes(evening, -6.0), "late_s": late_s, "pace": 0.5}}
    assert stops_at(passes(evening, -6.0), late) == pytest.approx(0.0, abs=0.001)
    then = passes(evening, -9.0)
    assert stops_at(then, late) == pytest.approx((TABLE[-6.0] - TABLE[-3.0]) / 2, abs=0.03), "as long after, at 12 min"


def test_a_long_opening_gathers_the_light_of_all_its_minutes() -> None:
    """Eight minutes about -6 degrees, at 0.41 stop/min: the mean of 2^(-0.41 t) from -4 to 4 minutes."""
    evening = EVENINGS["equator, equinox"]
    rate = float(evening[-6.0]["stops_per_min"])
    minutes = (np.arange(1000) + 0.5) / 125 - 4
    wanted = log2(np.exp2(-rate * minutes).mean()) + TABLE[-6.0] - TABLE[-0.8333]
    found = stops_at(passes(evening, -6.0) - timedelta(minutes=4), sun(evening), open_s=480.0)
    assert found == pytest.approx(wanted, abs=0.05)


def test_at_night_the_light_stays_as_it_was_at_the_end_of_twilight() -> None:
    evening = EVENINGS["equator, equinox"]
    night = datetime(2024, 3, 20, 23, 0, tzinfo=UTC)
    assert stops_at(night, sun(evening)) == pytest.approx(TABLE[-18.0] - TABLE[-0.8333], abs=0.02)


def test_clouds_stay_within_what_they_may(tmp_path: Path) -> None:
    truth = world(clouds={"stops": 0.4, "period_s": 60}, seed=3)
    wander = wander_stops(np.arange(0, 600, 0.5), truth)
    assert 0.2 < np.abs(wander).max() <= 0.4
    rig, steady = Rig(tmp_path / "a", truth), Rig(tmp_path / "b", world(seed=3))
    levels = []
    for _ in range(4):
        rig.wait(15)
        at_s = rig.clock.now_ns() / 1e9
        levels.append((rig.still_stops(rig.shoot("1/60")), float(wander_stops(np.array([at_s]), truth)[0])))
    base = steady.still_stops(steady.shoot("1/60"))
    for level, wandered in levels:
        assert level - base == pytest.approx(wandered, abs=0.01)


def test_a_leak_is_worst_at_the_lower_edge_and_grows_with_time(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(leak_e_s=20_000.0, base_level_stops=-14.0))
    short, long = (rig.shoot(time).astype(float) - 512 for time in ("1/4", "1"))
    assert long.mean() == pytest.approx(4 * short.mean(), rel=0.05)
    assert long[-20:].mean() > 2 * long[:20].mean()


def test_a_knock_and_softness_begin_with_their_frame(tmp_path: Path) -> None:
    truth = world(knocks=[{"before_frame": 2, "right_px": 4.0}, {"before_frame": 3, "soft_px": 2.0}], seed=2)
    rig = Rig(tmp_path, truth)
    first, second, third = (rig.shoot("1/60")[1::2, 0::2].astype(float) for _ in range(3))
    assert np.abs(np.roll(first, 2, axis=1) - second)[:, 10:40].mean() < np.abs(first - second)[:, 10:40].mean()
    assert np.diff(third, axis=1).std() < 0.8 * np.diff(second, axis=1).std()
