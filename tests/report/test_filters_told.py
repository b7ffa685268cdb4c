"""How strong filters were, by a ladder's frames alone: found where they can tell, and nothing where they can't."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from tests.engine.rig import BASE, HONEST, SIX, TEN, work, world
from tests.journal.outings import told, weir
from tests.report.printing import printed
from tether.journal.story import LadderStory
from tether.report.audit_view import AuditView
from tether.report.filters_told import filters_told


@pytest.fixture(scope="module")
def ladder(tmp_path_factory: pytest.TempPathFactory) -> LadderStory:
    """A ladder through filters of 10.3 and 5.8 stops that are said to be of 10 and 6, in light that falls."""
    off = {**HONEST, "Calder 10": {"stops": 10.3, "cast_stops": (0, 0, 0)}, "Calder 6": {"stops": 5.8}}
    text = BASE.replace("frames = 0", "frames = 2") + '[rungs]\nfrom = "1/125"\nto = "2m"\nframes = 1\n' + TEN + SIX
    folder: Path = tmp_path_factory.mktemp("told")
    return work(folder, text, truth=world(filters=off, stops_per_minute=0.04)).ladder


def test_filters_are_found_as_strong_as_they_are_within_their_doubt(ladder: LadderStory) -> None:
    found = {one.name: one for one in filters_told(ladder)}
    for name, true in (("Calder 10", 10.3), ("Calder 6", 5.8)):
        assert found[name].stops == pytest.approx(true, abs=0.05)
        assert abs(found[name].stops - true) <= found[name].uncertainty_stops <= 0.3
        assert (found[name].simulated, found[name].with_body) == (True, "Simulated body")


def test_the_audit_says_once_what_each_takes_by_all_frames(ladder: LadderStory) -> None:
    """Notes of rungs say what was thought when they were made; this is what is written on a filter."""
    page = printed(AuditView(replace(told(weir()), ladders=(ladder,))), 100)
    found = {
        line.split()[1]: line.split()
        for line in page.splitlines()
        if line.lstrip().startswith("Calder") and "takes" in line
    }
    assert {name: float(line[3]) for name, line in found.items()} == pytest.approx({"10": 10.3, "6": 5.8}, abs=0.05)


def test_they_have_the_day_of_the_ladders_first_frame(ladder: LadderStory) -> None:
    opened = datetime.fromisoformat(ladder.frames[0].opened_utc or "").astimezone()
    assert {one.measured_on for one in filters_told(ladder)} == {opened.date()}


def test_nothing_is_told_where_what_was_taken_to_stand_still_does_not(ladder: LadderStory) -> None:
    assert ladder.regions is not None
    assert filters_told(replace(ladder, regions=replace(ladder.regions, source="refused"))) == ()
    assert filters_told(replace(ladder, regions=None)) == ()


def test_nothing_is_told_by_frames_that_were_not_read() -> None:
    assert filters_told(told(weir()).ladders[0]) == ()
    assert filters_told(told(weir()[:2]).ladders[0]) == ()
