"""Strikes at every process at moments of a held rung: the run heals, nothing is lost, nothing is taken twice."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.faults import killed
from tests.faults.harness import MOMENTS, SIGNALS, TARGETS, Strike, strike
from tether.body.connection import Connection

#: A different handful can be drawn with another seed; `make faults` strikes everywhere.
SEED = 20261125
DRAWN = 6


def drawn() -> list[Strike]:
    """Return a handful of strikes: SIGKILL, which heals quickly, at moments drawn for each process."""
    rng = random.Random(SEED)
    return [
        Strike(target=target, sent="SIGKILL", moment=moment)
        for target in TARGETS
        for moment in rng.sample(MOMENTS, DRAWN // len(TARGETS))
    ]


@pytest.mark.prove
@pytest.mark.timeout(240)
@pytest.mark.parametrize("what", drawn(), ids=str)
def test_a_struck_run_heals(tmp_path: Path, what: Strike) -> None:
    assert strike(tmp_path, what).problems() == []


@pytest.mark.faults
@pytest.mark.timeout(600)
@pytest.mark.parametrize(
    "what",
    [Strike(target=one, sent=sent, moment=moment) for one in TARGETS for sent in SIGNALS for moment in MOMENTS],
    ids=str,
)
def test_a_run_struck_anywhere_heals(tmp_path: Path, what: Strike) -> None:
    assert strike(tmp_path, what).problems() == []


@pytest.mark.faults
@pytest.mark.timeout(600)
@pytest.mark.parametrize("part", [0.3, 0.97], ids=["early in the hold", "late in the hold"])
@pytest.mark.parametrize("first", killed.FIRST)
@pytest.mark.parametrize("reach", killed.CONNECTIONS, ids=killed.name_of)
def test_a_shutter_that_both_left_open_shuts_in_time(
    tmp_path: Path, reach: Connection, first: killed.First, part: float
) -> None:
    came = killed.kill_both(tmp_path, reach, part=part, first=first)
    assert came.late_s <= killed.LATE_S
    assert came.outcome == "done"
    # A run that still saw its camera process die has written that down instead.
    said = " ".join(came.notes)
    assert "It was open for between" in said or (first == "camera process" and "ended unexpectedly" in said)
