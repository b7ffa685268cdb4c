"""Test exposures: which are taken before a rung, by what is known of light and glass."""

from __future__ import annotations

from math import log2
from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.engine.followed import Followed
from tests.engine.small import small_run
from tests.plan.plans import TEN
from tether.engine import testing
from tether.engine.run_state import Run
from tether.engine.steering import Steering
from tether.engine.transfer import Fetcher
from tether.shot.shot import Shot

BASE = '[base]\ntime = "1/8"\naperture = "f/8"\niso = 100\n'
TEXT = BASE + '[rungs]\ntimes = ["1/8", "4", "2m"]\nframes = 1\n' + TEN
BARE, SHORT, LONG = 0, 1, 2


@pytest.fixture
def taken(monkeypatch: pytest.MonkeyPatch) -> list[Shot]:
    """Return the frames that are taken beside those of rungs."""
    shots: list[Shot] = []

    def take(_run: Run, _fetcher: Fetcher, shot: Shot) -> object:
        shots.append(shot)
        return object()

    monkeypatch.setattr(testing, "make_extra", take)
    return shots


def fetcher(waits: list[str] | None = None) -> Fetcher:
    return cast("Fetcher", SimpleNamespace(await_readings=lambda: None if waits is None else waits.append("read")))


def a_run(following: Followed, text: str = TEXT, **fields: Any) -> Run:
    return small_run(text, following=following, **fields)[0]


@pytest.mark.parametrize(
    ("which", "known", "doubt_stops", "tests"),
    [
        (SHORT, False, 0.01, 1),  # never seen through it
        (SHORT, True, 0.69, 0),
        (SHORT, True, 0.71, 1),
        (LONG, True, 0.049, 0),
        (LONG, True, 0.051, 1),
    ],
)
def test_a_stack_is_tested_where_it_was_never_read_or_the_rung_is_in_doubt(
    which: int, known: bool, doubt_stops: float, tests: int, taken: list[Shot]
) -> None:
    run, waits = a_run(Followed(known=known, doubt_stops=doubt_stops)), list[str]()
    testing.test(run, fetcher(waits), run.ladder.rungs[which])
    assert [(shot.kind, shot.filters) for shot in taken] == [("proof", ("Calder 10",))] * tests
    assert waits == ["read"] * tests, "its level sets the rung"


@pytest.mark.parametrize(("doubt_stops", "darker"), [(1.0, 0.0), (2.5, 1.5), (8.0, 3.0)])
def test_where_the_light_may_be_anything_it_is_made_darker(
    doubt_stops: float, darker: float, taken: list[Shot]
) -> None:
    """What is as far off as that burns out; what is three stops too dark can still be read."""
    for doubt in (0.9, doubt_stops):
        run = a_run(Followed(known=False, doubt_stops=doubt))
        testing.test(run, fetcher(), run.ladder.rungs[LONG])
    as_it_should, careful = taken[0], taken[1]
    assert log2(as_it_should.time_s / careful.time_s) == pytest.approx(darker, abs=0.2)


def test_one_of_which_nothing_could_be_read_is_taken_once_more_and_darker_where_the_light_may_be_anything(
    taken: list[Shot],
) -> None:
    for doubt, frames in ((0.9, 1), (8.0, 2)):
        taken.clear()
        run = a_run(Followed(known=False, doubt_stops=doubt))
        testing.test(run, fetcher(), run.ladder.rungs[LONG])
        assert len(taken) == frames
    assert log2(taken[0].time_s / taken[1].time_s) == pytest.approx(3, abs=0.2)


def test_a_rung_without_glass_has_none(taken: list[Shot]) -> None:
    run = a_run(Followed(known=False, doubt_stops=9.0))
    testing.test(run, fetcher(), run.ladder.rungs[BARE])
    assert taken == []


def test_where_nothing_is_told_the_plans_own_is_taken(taken: list[Shot]) -> None:
    run = a_run(Followed(tells=False))
    for rung in run.ladder.rungs:
        testing.test(run, fetcher(), rung)
    assert [shot.rung for shot in taken] == [rung.number for rung in run.ladder.rungs if rung.proof]
    assert taken


def test_a_rung_that_is_left_is_not_tested(taken: list[Shot]) -> None:
    run = a_run(Followed(known=False), steering=Steering(skip=True))
    testing.test(run, fetcher(), run.ladder.rungs[LONG])
    testing.before_glass(run, fetcher(), run.ladder.rungs[SHORT], ())
    assert taken == []


def first_bare(run: Run) -> Any:
    """Return the rung before which something is to be told without glass."""
    return next(rung for rung in run.ladder.rungs if rung.bare)


def test_without_glass_each_iso_is_told_once(taken: list[Shot]) -> None:
    run = a_run(Followed())
    rung = first_bare(run)
    isos = [one.iso.exact for one in rung.bare]
    testing.before_glass(run, fetcher(), rung, ())
    assert [(shot.kind, shot.iso.exact, shot.filters, shot.filter_stops) for shot in taken] == [
        ("proof", iso, (), 0.0) for iso in isos
    ]
    taken.clear()
    knows = a_run(Followed(isos=tuple(isos[1:])))
    testing.before_glass(knows, fetcher(), rung, ())
    assert [shot.iso.exact for shot in taken] == isos[:1]


def test_the_light_is_looked_at_once_more_before_glass_where_it_is_in_doubt(taken: list[Shot]) -> None:
    run = a_run(Followed(doubt_stops=0.031))
    isos = tuple(one.iso.exact for one in first_bare(run).bare)
    for doubt_stops, frames in ((0.029, 0), (0.031, 1)):
        taken.clear()
        testing.before_glass(a_run(Followed(doubt_stops=doubt_stops, isos=isos)), fetcher(), first_bare(run), ())
        assert [shot.iso.label for shot in taken] == ["100"] * frames, "at the base's own ISO"


def test_with_glass_on_already_or_none_to_come_nothing_is_told_without(taken: list[Shot]) -> None:
    run = a_run(Followed(doubt_stops=1.0))
    testing.before_glass(run, fetcher(), run.ladder.rungs[LONG], ("Calder 10",))
    testing.before_glass(run, fetcher(), run.ladder.rungs[BARE], ())
    blind = a_run(Followed(doubt_stops=1.0, tells=False))
    testing.before_glass(blind, fetcher(), blind.ladder.rungs[LONG], ())
    assert taken == []
