"""The light of the simulated world: clouds beside a steady fall, light that leaks in, knocks and softness."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.body.simulated.rig import Rig, world
from tether.body.simulated.light import wander_stops


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
