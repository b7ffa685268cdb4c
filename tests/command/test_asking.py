"""What a new plan is made from: each answer is checked as it is given, right ones are kept and said back."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from tether.command.asking import _QUESTIONS, answered
from tether.command.commands import new as command
from tether.errors import PlanError
from tether.plan.new import NewFilter

MEASURED = """
[[filter]]
name = "Calder 6"
stops = 6.21
uncertainty_stops = 0.03
measured_on = 2026-10-02
with_body = "A body"
simulated = {simulated}
"""


class Sitting:
    """What was asked, said and answered."""

    def __init__(self, said: str, *words: str, asking: bool = True) -> None:
        self.answers: dict[str, object] = {}
        self.filters: list[NewFilter] = []

        def kept(filters: tuple[str, ...], file: Path, like: Path | None, place: str | None, **given: object) -> None:
            self.answers, self.filters = answered(click.get_current_context(), given, filters, asking=asking)

        done = CliRunner().invoke(
            click.Command("new", params=command.params, callback=kept), ["plan.toml", *words], input=said
        )
        self.error = done.exception
        self.output = done.output

    @property
    def questions(self) -> list[str]:
        every = (*_QUESTIONS.values(), "Filters on hand")
        return [question for question in every if question in self.output]


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """No filters measured before; returns the folder where they would be."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    return tmp_path / "tether"


def test_all_is_asked_for_and_an_empty_answer_keeps_the_default() -> None:
    person = Sitting("Weir\n\n\n200\n\n\n\nCalder 6=6 , ND1000,\n\n")
    assert person.error is None
    assert (person.answers["title"], person.answers["base_time"], person.answers["base_iso"]) == (
        "Weir",
        "1/125",
        "200",
    )
    assert person.answers["focal_mm"] == 24.0
    assert [one.name for one in person.filters] == ["Calder 6", "ND1000"]
    assert len(person.questions) == 8


def test_an_answer_that_makes_no_sense_is_asked_again_and_right_ones_are_kept() -> None:
    person = Sitting("Weir\nsoon\n1/125s\n\n\n28kg\n28mm\n\n1/1000\n2 min\n\n")
    assert person.error is None
    kept = [person.answers[name] for name in ("title", "base_time", "focal_mm", "longest")]
    assert kept == ["Weir", "1/125s", 28.0, "2 min"]
    for sentence in (
        "“soon” cannot be read as an exposure time; forms that would do: 1/125,",
        "“28kg” cannot be read as a focal length; forms that would do: 28mm,",
        "The longest rung, 1/1000 s, must be longer than the shortest, 1/500 s.",
    ):
        assert sentence in person.output.replace("\n", " ")
    assert person.output.count("What is the outing called") == 1
    assert person.output.count("Time of the base exposure") == 2
    for said in ("  1/125 s\n", "  28 mm\n", "  2:00 min\n"):
        assert said in person.output


def test_of_several_filters_the_wrong_one_alone_is_asked_again() -> None:
    person = Sitting("\n" * 7 + "ND8, grey, 1000x\nd0.9\n\n")
    assert [one.name for one in person.filters] == ["ND8", "ND1000", "ND 0.9"]
    assert "“grey” cannot be read as the strength of a filter" in person.output
    for said in ("ND8: factor 8, 3 stops", "ND1000: factor 1000, 9.97 stops", "ND 0.9: density 0.9, 2.99 stops"):
        assert said in person.output


def test_a_number_alone_is_asked_about_and_what_it_was_not_meant_for_is_left_out() -> None:
    person = Sitting("\n" * 7 + "1000, 8\n\nn\nND8\n\n")
    assert [one.name for one in person.filters] == ["ND1000", "ND8"]
    assert "1000 is taken for a factor, ND1000." in person.output
    assert "8 is taken for stops; if it is a factor, write ND8." in person.output


def test_two_filters_may_not_have_one_name() -> None:
    person = Sitting("\n" * 7 + "ND8, ND8\nSecond = ND8\n\n")
    assert [one.name for one in person.filters] == ["ND8", "Second"]
    assert "There is a filter called ND8 already" in person.output


@pytest.mark.parametrize("simulated", [True, False])
def test_a_measured_filter_goes_by_its_name_if_it_was_measured_on_such_a_body(config: Path, simulated: bool) -> None:
    config.mkdir()
    (config / "filters.toml").write_text(MEASURED.format(simulated=str(simulated).lower()))
    person = Sitting("\n" * 7 + "calder 6\n\n")
    assert [one.strength.stops for one in person.filters] == ([6.21] if simulated else [])
    assert ("Calder 6: 6.21 stops, as measured" in person.output) is simulated


def test_what_was_given_is_not_asked_for_also_where_it_is_the_default() -> None:
    person = Sitting("\n" * 5, "--title", "Weir", "--iso", "100", "--filter", "Orme 2=2")
    assert (person.answers["title"], person.answers["base_iso"]) == ("Weir", "100")
    assert [one.name for one in person.filters] == ["Orme 2"]
    assert person.questions == [
        "Time of the base exposure",
        "Its aperture",
        "Focal length",
        "Shortest rung",
        "Longest rung",
    ]


def test_a_rung_given_as_an_option_holds_for_the_other_that_is_asked_for() -> None:
    person = Sitting("\n" * 5 + "10m\n1/60\n\n", "--longest", "2m")
    assert person.answers["shortest"] == "1/60"
    assert "The shortest rung, 10:00 min, must be shorter than the longest, 2:00 min." in person.output


def test_no_filters_are_none() -> None:
    assert Sitting("\n" * 8).filters == []


def test_options_are_read_in_the_same_units_and_what_was_taken_for_what_is_said() -> None:
    person = Sitting("", "--focal", "28mm", "--time", "1/60s", "--filter", "1000", "--filter", "CPL", asking=False)
    assert (person.answers["focal_mm"], person.answers["base_time"]) == (28.0, "1/60s")
    assert [(one.name, one.strength.kind) for one in person.filters] == [("ND1000", "nd"), ("polariser", "always on")]
    assert "1000 is taken for a factor, ND1000." in person.output
    assert "A polariser is taken for 1.5 stops" in person.output


def test_all_options_that_make_no_sense_are_told_at_once() -> None:
    person = Sitting("", "--focal", "28kg", "--time", "soon", "--filter", "grey", "--filter", "ND1", asking=False)
    assert isinstance(person.error, PlanError)
    assert [one.split(": ")[0] for one in person.error.sentences] == [
        "--time soon",
        "--focal 28kg",
        '--filter "grey"',
        '--filter "ND1"',
    ]
