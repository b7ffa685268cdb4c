"""Rehearsed frames measured from their files: equal rungs are equally bright, planted differences come out."""

from __future__ import annotations

from itertools import pairwise
from math import log2
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.engine.rig import BASE, HONEST, SIX, TEN, Worked, work, world
from tests.journal.planned import rungs_of
from tether.journal.story import FrameStory

#: Held and timed rungs, bare and through two filters; exact values alone decide what they are worth.
EQUAL = (
    BASE
    + '[rungs]\ntimes = ["1/125", "1/8", "0.5", "4", "2m", "4m"]\n[limits]\naperture = ["f/8", "f/8"]\n'
    + "iso_stops = 3\n"
    + SIX
    + TEN
)


def off_stops(worked: Worked, kind: str = "rung") -> list[tuple[str, float]]:
    """Return for each rung's first frame how much brighter its still region is than planned, against the first one."""
    planned = {rung.rung: rung for rung in rungs_of(worked.ladder)}
    levels: dict[int, tuple[str, float]] = {}
    for frame in worked.frames:
        if frame.kind == kind and frame.rung is not None and frame.rung not in levels:
            rung = planned[frame.rung]
            wanted = rung.error_stops - rung.darker_by_stops
            levels[frame.rung] = (rung.wanted_label, log2(worked.still_level(frame)) - wanted)
    first = levels[min(levels)][1]
    return [(label, level - first) for label, level in levels.values()]


def test_equivalent_rungs_are_equally_bright_when_the_filters_are_known(tmp_path: Path) -> None:
    """Within 0.02 stop (held), from the DNG files, with the true strengths given to the planner."""
    truth = world(
        filters={
            "Calder 6": {"stops": 6.37, "cast_stops": (0, 0, 0)},
            "Calder 10": {"stops": 9.61, "cast_stops": (0, 0, 0)},
        }
    )
    known = EQUAL.replace("measured_stops = 6.0", "measured_stops = 6.37").replace(
        "measured_stops = 10.0", "measured_stops = 9.61"
    )
    worked = work(tmp_path, known, truth=truth)
    assert worked.outcome == "done"
    assert len(off_stops(worked)) == 6
    for label, off in off_stops(worked):
        assert off == pytest.approx(0, abs=0.02), label


def test_a_filter_that_is_off_comes_out_by_as_much(tmp_path: Path) -> None:
    """Calder 10 takes 0.4 stop more than it says: every rung through it is 0.4 stop darker, the others are not."""
    truth = world(filters=HONEST | {"Calder 10": {"stops": 10.4, "cast_stops": (0.0, 0.0, 0.0)}})
    worked = work(tmp_path, EQUAL, truth=truth)
    through = {rung.wanted_label: "Calder 10" in rung.filters for rung in rungs_of(worked.ladder)}
    assert any(through.values())
    assert not all(through.values())
    for label, off in off_stops(worked):
        assert off == pytest.approx(-0.4 if through[label] else 0, abs=0.02), label


def test_a_thirty_that_is_thirty_two_comes_out_by_as_much(tmp_path: Path) -> None:
    """The body file believes 30 s, the body holds 32 s: the frame is log2(32/30) = 0.093 stop brighter."""
    body = tmp_path / "thirty.toml"
    shipped = Path(__file__).parents[2] / "profiles" / "bodies" / "simulated.toml"
    text = shipped.read_text().replace('# means_s = { "30" = 30.0 }', 'means_s = { "30" = 30.0 }')
    assert "\nmeans_s" in text
    body.write_text(text)
    plan = BASE + '[rungs]\ntimes = ["1/125", "15", "30"]\n[limits]\ntime_off_stops = 0.2\niso_stops = 3\n' + SIX + TEN
    head = f'title = "Thirty"\ndarker_by = "nothing"\n[body]\nfile = "{body}"\n'
    lens = '[lens]\nfocal_mm = 24\nwidest = "f/2.8"\nnarrowest = "f/22"\n'
    worked = work(tmp_path, plan, truth=world(true_times_s={"30": 32.0}), head=head + lens)
    off = dict(off_stops(worked))
    assert off["15"] == pytest.approx(0, abs=0.02)
    assert off["30"] == pytest.approx(log2(32 / 30), abs=0.02)
    thirty = next(frame for frame in worked.frames if frame.planned.time_label == "30")
    assert thirty.planned.time_s == 30.0
    assert thirty.exif is not None
    assert thirty.exif.time_s == pytest.approx(32.0)


def test_the_bodys_own_delays_are_taken_into_account(tmp_path: Path) -> None:
    """A held frame gathers light for the time planned, not for the time between our commands."""
    truth = world(delay_jitter_s=0.0, open_delay_s=0.060, close_delay_s=0.045)
    worked = work(tmp_path, EQUAL, truth=truth)
    held = [frame for frame in worked.frames if frame.open_s.held is not None and frame.kind == "rung"]
    assert len(held) == 2
    for frame in held:
        assert frame.open_s.held == pytest.approx((frame.planned.time_s or 0) + 0.015, abs=1e-6)
        assert frame.exif is not None
        assert frame.exif.time_s == pytest.approx(frame.planned.time_s, abs=1e-4)


def test_water_is_smoothed_by_time_and_rocks_are_not(tmp_path: Path) -> None:
    """Texture of the water falls from rung to rung; the still region keeps its own."""
    from tether.body.simulated.rendering import scene_of

    worked = work(tmp_path, EQUAL)
    scene = scene_of(worked.rehearsal.world, worked.rehearsal.ready.abilities.pitch_um)
    by_time: dict[float, list[FrameStory]] = {}
    for frame in worked.frames:
        if frame.kind == "rung":
            by_time.setdefault(frame.planned.time_s or 0.0, []).append(frame)

    def texture_of(frame: FrameStory, mask: NDArray[np.bool_]) -> float:
        mosaic = worked.mosaic(frame)
        greens = np.zeros(mosaic.shape, dtype=bool)
        greens[0::2, 1::2] = True
        level = mosaic[mask & greens]
        return float(level.std() / level.mean())

    def texture(mask: NDArray[np.bool_]) -> list[float]:
        """Return it for each time, the mean of its frames: waves differ from frame to frame."""
        return [float(np.mean([texture_of(one, mask) for one in by_time[time_s]])) for time_s in sorted(by_time)]

    wet, still = texture(scene.wet), texture(scene.still)
    assert all(later < sooner * 1.02 for sooner, later in pairwise(wet))
    assert wet[-1] < 0.75 * wet[0]
    assert max(still) / min(still) < 1.05
