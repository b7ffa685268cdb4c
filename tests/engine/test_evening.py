"""An evening that begins by the sun and runs into dusk, in measured light and in a rehearsal's own."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from math import log2
from pathlib import Path

import numpy as np
import pytest

from tests.data import rows
from tests.engine.rig import HONEST, SIX, SMALL, TEN, Worked
from tests.light.evenings import measured_evening
from tests.plan.plans import HEAD
from tether.body.simulated.world import World
from tether.clock import SteppedClock
from tether.journal.telling import read_outing
from tether.light.spot import Spot
from tether.light.sun import altitude
from tether.outing.world import world_of
from tether.plan.file import plan_from_text
from tether.service.rehearsal import Rehearsal
from tether.service.start_time import sun_start

SPOT = Spot(latitude=47.0, longitude=8.0)
NOON = datetime(2026, 10, 3, 11, 0, tzinfo=UTC)
PLAN = (
    HEAD
    + """
[place]
latitude = 47.0
longitude = 8.0
[base]
time = "1/60"
aperture = "f/8"
iso = 100
[rungs]
times = ["1/60", "1", "15", "1m", "2m"]
frames = 1
[limits]
aperture = ["f/4", "f/16"]
iso = [100, 3200]
[readings]
regions = "as proposed"
correct = "take"
[run]
dark_frames = "none"
"""
    + SIX
    + TEN
)


def measured(begins: datetime) -> tuple[tuple[float, float], ...]:
    """Return the light against its beginning: medians over a city by the sun's altitude (tests/data/README.md)."""
    altitudes, levels = measured_evening()
    stops = [
        float(np.interp(altitude(SPOT, begins + timedelta(minutes=minute)), altitudes, levels)) for minute in range(60)
    ]
    return tuple((60.0 * minute, level - stops[0]) for minute, level in enumerate(stops))


@dataclass(frozen=True)
class Evening:
    """A rehearsed evening, of which every rung came out as bright as promised."""

    begins: datetime
    worked: Worked

    @property
    def last(self) -> datetime:
        return datetime.fromisoformat(self.worked.frames[-1].opened_utc or "")


def evening(root: Path, **light: object) -> Evening:
    """Rehearse the plan from shortly after sunset on, and hold its rungs against the base, in their files."""
    begins = sun_start("sunset+2m", SPOT, NOON)
    world = World.model_validate({"sensor": SMALL, "filters": HONEST} | light)
    rehearsal = Rehearsal.of(plan_from_text(PLAN), root=root, world=world)
    world = world_of(rehearsal.ready.plan, world, begins)
    rehearsal = replace(rehearsal, clock=SteppedClock(start_utc=begins), world=world)
    done = rehearsal.run()
    assert done.outcome == "done"
    worked = Worked(done.outcome, done.folder, read_outing(done.folder), [], rehearsal)
    base = next(frame for frame in worked.frames if frame.kind == "base")
    against = worked.still_level(base)
    rungs = [frame for frame in worked.frames if frame.kind == "rung"]
    off = {frame.planned.time_label: (frame.way, log2(worked.still_level(frame) / against)) for frame in rungs}
    assert {way for way, _ in off.values()} == {"timed", "held"}
    assert all(abs(stops) < (0.12 if way == "held" else 0.12 + 1 / 6) for way, stops in off.values()), off
    return Evening(begins, worked)


def test_every_rung_is_as_bright_as_the_base_in_its_file(tmp_path: Path) -> None:
    begins = sun_start("sunset+2m", SPOT, NOON)
    assert abs(altitude(SPOT, begins - timedelta(minutes=2)) + 5 / 6) < 0.01  # a sunset, as almanacs count it: -50'
    light = measured(begins)
    found = evening(tmp_path, light=light)
    fallen = float(np.interp((found.last - begins).total_seconds(), *np.array(light).T))
    assert fallen < -1.0  # else this evening shows nothing


@pytest.mark.prove
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_in_a_rehearsals_own_dusk_with_haze_that_no_forecast_knows_rungs_are_as_bright_too(
    tmp_path: Path, seed: int
) -> None:
    found = evening(tmp_path, seed=seed)
    truth = found.worked.rehearsal.world
    assert truth.sun is not None
    assert truth.sun.base_utc == found.begins
    table = {float(row["altitude_deg"]): float(row["stops_rel_0deg"]) for row in rows("twilight_illuminance")}
    sinks = [
        float(np.interp(altitude(SPOT, at), sorted(table), sorted(table.values()))) for at in (found.begins, found.last)
    ]
    assert sinks[1] - sinks[0] < -1.5, "else this evening shows nothing"
    assert found.worked.notes().count("Simulated light: it follows the sun at this place, with drawn haze.") == 1
