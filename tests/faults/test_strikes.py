"""Strikes at every process at moments of a held rung: the run heals, nothing is lost, nothing is taken twice."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.faults.harness import MOMENTS, TARGETS, Strike, strike

#: A different handful can be drawn with another seed; `make faults` strikes everywhere.
SEED = 20261125
DRAWN = 6


def drawn() -> list[Strike]:
    """Return a handful of strikes: SIGKILL, which heals quickly, at moments drawn for each process."""
    rng = random.Random(SEED)
    return [
        Strike(targets=(target,), sent="SIGKILL", moment=moment)
        for target in TARGETS
        for moment in rng.sample(MOMENTS, DRAWN // len(TARGETS))
    ]


@pytest.mark.prove
@pytest.mark.timeout(240)
@pytest.mark.parametrize("what", drawn(), ids=str)
def test_a_struck_run_heals(tmp_path: Path, what: Strike) -> None:
    assert strike(tmp_path, what).problems(in_time="camera process" not in what.targets) == []
