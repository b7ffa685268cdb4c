"""How well the audit of a ladder tells light and filters apart: ``python -m tests.bench.audit_split [N]``.

Whole ladders on the simulated body, small frames: light that falls or rises by up to 0.1 stop/min and wanders by up to
0.05 stop beside that, filters off by up to a tenth of what they say, leaves and water moving. What is found of each
frame is held against what the world really did. Figures of simulation.
"""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from tests.engine.rig import work, world
from tether.body.simulated.world import World
from tether.journal.story import FrameStory
from tether.report.audit import audit

GOAL_STOPS = 0.03
NAMES = ("Calder 6", "Calder 10")
PLAN = """
[base]
time = "1/125"
aperture = "f/8"
iso = 100
[rungs]
from = "1/125"
to = "4m"
frames = 1
[limits]
aperture = ["f/8", "f/8"]
iso = [100, 800]
"""
FILTERS = "".join(f'[[filter]]\nname = "{name}"\nstops = {name.split()[1]}\n' for name in NAMES)


def drawn(seed: int) -> World:
    """Return a world outside of what the audit assumes."""
    rng = np.random.default_rng(seed)
    return world(
        seed=seed,
        stops_per_minute=rng.uniform(-0.1, 0.1),
        clouds={"stops": rng.uniform(0, 0.05), "period_s": rng.uniform(120, 900)},
        filters={
            name: {"stops": float(name.split()[1]) * rng.uniform(0.9, 1.1), "cast_stops": (-0.1, 0.0, 0.1)}
            for name in NAMES
        },
    )


def off_by(seed: int, folder: Path) -> list[tuple[float, float]]:
    """Return how far off the rest of each frame is from what its filters really take, and its uncertainty [stops]."""
    truth = drawn(seed)
    ladder = work(folder, PLAN + FILTERS, truth=truth).ladder
    frames = {frame.frame: frame for frame in ladder.frames}
    return [
        (split.rest_stops - _true_rest(frames[split.frame], truth), split.rest_uncertainty_stops)
        for split in audit(ladder)
    ]


def _true_rest(frame: FrameStory, truth: World) -> float:
    true = sum(truth.filters[name].stops or 0.0 for name in frame.filters)
    return frame.filter_stops - true


def main(count: int) -> None:
    """Print how well it does."""
    with TemporaryDirectory() as folder:
        found = [one for seed in range(count) for one in off_by(seed, Path(folder) / str(seed))]
    off, uncertainty = np.abs(np.array(found)).T
    print(f"{count} ladders, {len(off)} frames, the rest against what the filters really take (simulation)")
    print(f"  rms {np.sqrt(np.mean(off**2)):.4f} stop, 95 % within {np.quantile(off, 0.95):.4f}, most {off.max():.4f}")
    print(f"  within {GOAL_STOPS} stop: {np.mean(off <= GOAL_STOPS):.1%}")
    print(f"  within ± twice the standard uncertainty given: {np.mean(off <= 2 * uncertainty):.1%}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
