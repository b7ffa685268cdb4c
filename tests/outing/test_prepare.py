"""A plan made ready: its body file, its ladder, and filters as they were measured."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from tests.plan.plans import BASE, HEAD, plan_of
from tether.errors import PlanError
from tether.outing.memory import Remembered, forget_all, memory_path, remember
from tether.outing.prepare import filters_path, measured_filters, prepare
from tether.plan.file import Plan
from tether.plan.learned import Case, Figure, Learned, What
from tether.plan.measured import MeasuredFilter

TEXT = BASE + '[rungs]\ntimes = ["4m"]\n[[filter]]\nname = "Calder 10"\nstops = 10\n'
TEN = MeasuredFilter(
    name="Calder 10", stops=9.5, uncertainty_stops=0.02, measured_on=date(2026, 11, 25), with_body="", simulated=True
)


def test_a_filter_as_measured_is_reckoned_with_and_said_among_the_cautions() -> None:
    by_label, measured = prepare(plan_of(TEXT), filters=()), prepare(plan_of(TEXT), filters=[TEN])
    assert [ready.ladder.rungs[0].choice.filter_stops for ready in (by_label, measured)] == [10.0, 9.5]
    assert [ready.filters for ready in (by_label, measured)] == [(), (TEN,)]
    said = [one for one in measured.ladder.notes if one.startswith("Calder 10: measured 9.50")]
    assert len(said) == 1
    assert measured.ladder.notes[-1] == said[0]


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return where the user's own measured filters are kept."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    filters_path().parent.mkdir(parents=True)
    return filters_path()


def test_without_a_word_the_users_own_file_counts(own: Path) -> None:
    assert measured_filters() == ()
    own.write_text(
        '[[filter]]\nname = "Calder 10"\nstops = 9.5\nuncertainty_stops = 0.02\nmeasured_on = 2026-11-25\n'
        'with_body = ""\nsimulated = true\n'
    )
    assert prepare(plan_of(TEXT)).ladder.rungs[0].choice.filter_stops == 9.5
    assert prepare(plan_of(TEXT), filters=()).ladder.rungs[0].choice.filter_stops == 10.0


def test_a_file_of_measured_filters_that_cannot_be_read_is_told(own: Path) -> None:
    own.write_bytes(b"\xff\xfe")
    with pytest.raises(PlanError, match="must be a text file in TOML"):
        measured_filters()


def test_a_plan_may_be_given_as_its_path_and_other_ways_are_given_as_asked(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(HEAD + TEXT)
    ready = prepare(path, others=2, filters=())
    assert ready.plan.path == path
    assert ready.abilities.simulated
    assert ready.ladder.rungs[0].others
    assert not prepare(path, filters=()).ladder.rungs[0].others


# What earlier outings tell

REAL = HEAD.replace('"simulated"', '"canon-eos-r5"')
LONG = BASE + '[rungs]\ntimes = ["1/125", "4m"]\n[[filter]]\nname = "Calder 10"\nstops = 10\nmeasured_stops = 10\n'
BODY = "Canon EOS R5"


@pytest.fixture
def memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty memory, and where it will be."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return memory_path()


def learned(*told: tuple[What, str, float]) -> None:
    """Remember three outings, each of which told of these."""
    begun = datetime(2026, 10, 3, tzinfo=UTC)
    outings = [Remembered(mark=mark, folder=Path(f"/{mark}"), title=mark, begun_utc=begun) for mark in "abc"]
    cases = [Case(outing=one.mark, what=what, of=of, value=value) for one in outings for what, of, value in told]
    remember(*outings, told=cases)


def real(more: str = "") -> Plan:
    return plan_of(LONG + more, REAL)


def test_what_was_learned_is_counted_in_the_forecast_and_said(memory: Path) -> None:
    """One filter goes on (41 s, not 60) and comes off at the end (20 s, not 30); each frame takes 2.5 s to copy."""
    before = prepare(real(), filters=()).ladder
    assert (before.learned, before.forecast.changes_s) == ((), 60 + 30)
    learned(("filter change", "screwed", 41.0), ("filter change", "off", 20.0), ("copying", BODY, 2.5))
    after = prepare(real(), filters=()).ladder
    assert after.forecast.changes_s == before.forecast.changes_s - 19 - 10
    assert math.isclose(after.forecast.fetching_s, 2.5 * len(after.exposures))
    assert after.learned == (
        "From 3 outings: 41 s to screw a filter on.",
        "From 3 outings: 20 s to take a filter off.",
        "From 3 outings: 2.5 s to copy a frame.",
    )


def test_a_filters_own_time_in_the_plan_comes_first_and_nothing_is_said_then(memory: Path) -> None:
    learned(("filter change", "screwed", 41.0))
    text = LONG + "swap_s = 25\n"
    ladder = prepare(plan_of(text, REAL), filters=()).ladder
    assert (ladder.turns[0].takes_s, ladder.learned) == (25.0, ())


def test_a_plan_for_the_simulated_body_is_as_ever(memory: Path) -> None:
    before = prepare(plan_of(LONG), filters=())
    learned(("filter change", "screwed", 41.0), ("copying", before.abilities.name, 9.0))
    assert prepare(plan_of(LONG), filters=()).ladder == before.ladder


@pytest.mark.parametrize("way", ["plan", "forgotten", "given"])
def test_what_was_learned_can_be_left_out(memory: Path, way: str) -> None:
    before = prepare(real(), filters=()).ladder
    learned(("filter change", "screwed", 41.0))
    plan = real("[run]\nlearned = false\n") if way == "plan" else real()
    if way == "forgotten":
        forget_all()
    ladder = prepare(plan, filters=(), learned=Learned() if way == "given" else None).ladder
    assert (ladder.forecast, ladder.learned, ladder.turns) == (before.forecast, (), before.turns)


def test_without_a_memory_nothing_is_made_and_the_ladder_is_as_without_all_of_this(memory: Path) -> None:
    ladder = prepare(real(), filters=(), begins=datetime(2026, 10, 3, tzinfo=UTC)).ladder
    as_ever = prepare(real(), filters=(), begins=datetime(2026, 10, 3, tzinfo=UTC), learned=Learned()).ladder
    assert ladder == as_ever
    assert not memory.parent.exists()


def test_a_memory_that_cannot_be_read_is_said_and_nothing_of_it_counted(memory: Path) -> None:
    learned(("filter change", "screwed", 41.0))
    memory.write_bytes(b"no database " * 200)
    ladder = prepare(real(), filters=()).ladder
    assert ladder.learned == ()
    assert ladder.notes[-1].startswith("What earlier outings tell is not counted. ")
    assert ladder.notes[-1].endswith("delete it: tether outings --forget")


def test_what_is_given_counts_whatever_is_remembered_by_now(memory: Path) -> None:
    learned(("filter change", "screwed", 41.0))
    then = Learned(screwed_s=Figure(value=50.0, outings=2))
    ready = prepare(real(), filters=(), learned=then)
    assert (ready.plan.learned, ready.ladder.turns[0].takes_s) == (then, 50.0)


def test_a_base_at_an_extended_iso_is_counted_as_the_bodys_own_lowest() -> None:
    """The raw file is the same, so the ladder is: it was read as light that falls by 0.66 stop where ISO was raised."""
    at_64, at_100 = (prepare(plan_of(TEXT.replace("iso = 100", f"iso = {iso}")), filters=()) for iso in (64, 100))
    assert at_64.plan.base.iso.label == "100"
    assert at_64.ladder.rungs == at_100.ladder.rungs
    said = (
        "The base's ISO 64 is an extended one on this body: its raw file is as bright as at ISO 100, and clips as soon."
    )
    assert [note for note in at_64.ladder.notes if note.startswith(said)]
    assert not [note for note in at_100.ladder.notes if "extended" in note]
