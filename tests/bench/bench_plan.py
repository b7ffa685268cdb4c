"""How long planning takes: 40 rungs, 16 stacks, third-stop lists. Run by `make bench`.

Goal: under 100 ms.
"""

from __future__ import annotations

import statistics
import time
from pathlib import Path

from tether.body.bodyfile import load_body_file
from tether.exposure.filters import stacks
from tether.plan.file import plan_from_text
from tether.plan.planner import make_ladder

RUNS = 20
TEXT = """
title = "Forty rungs"
[body]
file = "simulated"
[lens]
focal_mm = 24
widest = "f/2.8"
narrowest = "f/22"
[base]
time = "1/60"
aperture = "f/8"
iso = 100
[rungs]
from = "1/2000"
to = "4m"
step_stops = 0.487
many = "never"
[limits]
aperture = ["f/2.8", "f/22"]
iso = [100, 25600]
"""


def main() -> None:
    """Plan the ladder many times and print how long it took."""
    filters = "".join(f'[[filter]]\nname = "{stops}"\nstops = {stops}\n' for stops in (1, 3, 6, 10))
    filters += '[[filter]]\nname = "alone"\nstops = 15\nstacks_with = []\n'
    plan = plan_from_text(TEXT + filters, Path("forty.toml"))
    abilities = load_body_file("simulated").abilities(plan.lens.widest.exact, plan.lens.narrowest.exact)
    count = len(stacks(plan.filters))
    took = []
    for _ in range(RUNS):
        began = time.perf_counter()
        ladder = make_ladder(plan, abilities)
        took.append((time.perf_counter() - began) * 1000)
    print(
        f"planning {len(ladder.rungs)} rungs over {count} stacks: median {statistics.median(took):.0f} ms, "
        f"longest {max(took):.0f} ms of {RUNS} (goal: under 100 ms)"
    )


if __name__ == "__main__":
    main()
