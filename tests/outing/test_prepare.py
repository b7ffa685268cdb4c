"""A plan made ready: its body file, its ladder, and filters as they were measured."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tests.plan.plans import BASE, HEAD, plan_of
from tether.errors import PlanError
from tether.outing.prepare import filters_path, measured_filters, prepare
from tether.plan.measured import MeasuredFilter

TEXT = BASE + '[rungs]\ntimes = ["4m"]\n[[filter]]\nname = "Calder 10"\nstops = 10\n'
TEN = MeasuredFilter(
    name="Calder 10", stops=9.5, uncertainty_stops=0.02, measured_on=date(2026, 11, 25), with_body="", simulated=True
)


def test_a_filter_as_measured_is_reckoned_with_and_said_among_the_cautions() -> None:
    by_label, measured = prepare(plan_of(TEXT), filters=()), prepare(plan_of(TEXT), filters=[TEN])
    assert [ready.ladder.rungs[0].choice.filter_stops for ready in (by_label, measured)] == [10.0, 9.5]
    assert [ready.filters for ready in (by_label, measured)] == [(), (TEN,)]
    said = [one for one in measured.ladder.cautions if one.startswith("Calder 10: measured 9.50")]
    assert len(said) == 1
    assert measured.ladder.cautions[-1] == said[0]


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
