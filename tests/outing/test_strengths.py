"""Strengths of filters: which measurement counts, and what a plan like an earlier one takes of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from tests.command.written import written
from tests.journal.outings import told, weir
from tests.plan.plans import HEAD
from tether.journal.records import LadderStarted
from tether.journal.story import LadderStory
from tether.outing import strengths as module
from tether.outing.strengths import plan_like, strengths
from tether.plan.file import plan_from_text
from tether.plan.measured import MeasuredFilter

LADDER = told(weir()).ladders[0]
PLAN = (
    HEAD + '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1"]\n'
    '[[filter]]\nname = "Calder 6"\nstops = 6\n'
)


def six(stops: float, doubt_stops: float, day: int, *, simulated: bool = True) -> MeasuredFilter:
    return MeasuredFilter(
        name="Calder 6",
        stops=stops,
        uncertainty_stops=doubt_stops,
        measured_on=date(2026, 10, day),
        with_body="A body",
        simulated=simulated,
    )


@pytest.fixture
def by_frames(monkeypatch: pytest.MonkeyPatch) -> list[MeasuredFilter]:
    """What the frames of every ladder tell."""
    found: list[MeasuredFilter] = []

    def tell(_ladder: LadderStory) -> tuple[MeasuredFilter, ...]:
        return tuple(found)

    monkeypatch.setattr(module, "filters_told", tell)
    return found


def own_file(monkeypatch: pytest.MonkeyPatch, *filters: MeasuredFilter) -> None:
    monkeypatch.setattr(module, "measured_filters", lambda: filters)


def test_the_least_doubtful_counts_and_of_two_alike_the_newer(
    by_frames: list[MeasuredFilter], monkeypatch: pytest.MonkeyPatch
) -> None:
    own_file(monkeypatch, six(5.9, 0.1, 1))
    by_frames[:] = [six(5.8, 0.2, 9)]
    assert strengths([("weir", LADDER)])["Calder 6", True].how == "by tether measure"
    by_frames[:] = [six(5.8, 0.1, 9)]
    found = strengths([("weir", LADDER)])["Calder 6", True]
    assert (found.how, found.found.stops) == ("in weir", 5.8)


def test_what_a_simulated_body_told_is_apart_from_what_a_camera_did(
    by_frames: list[MeasuredFilter], monkeypatch: pytest.MonkeyPatch
) -> None:
    own_file(monkeypatch, six(5.9, 0.1, 1, simulated=False))
    by_frames[:] = [six(5.5, 0.01, 9)]
    assert {key: one.found.stops for key, one in strengths([("weir", LADDER)]).items()} == {
        ("Calder 6", False): 5.9,
        ("Calder 6", True): 5.5,
    }


@pytest.mark.parametrize(("simulated", "taken"), [(True, 5.8), (False, 6.0)])
def test_a_plan_like_an_outing_takes_what_was_told_of_its_own_kind_of_body(
    tmp_path: Path, by_frames: list[MeasuredFilter], simulated: bool, taken: float
) -> None:
    """The plan is for the simulated body: what a camera told of the filter is not for it."""
    records = [replace(one, plan_text=PLAN) if isinstance(one, LadderStarted) else one for one in weir()]
    outing = written(tmp_path / "2026-10-03_weir", records)
    by_frames[:] = [six(5.8, 0.1, 3, simulated=simulated)]
    like = plan_like(outing)
    assert plan_from_text(like.text).filters[0].stops == taken
    assert bool(like.sentences) is simulated
    assert ("# on 2026-10-03, in 2026-10-03_weir" in like.text) is simulated
