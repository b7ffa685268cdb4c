"""What a new plan is made from: each answer is checked as it is given, right ones are kept and said back."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from tether.command.asking import _QUESTIONS, answered
from tether.command.commands import new as command
from tether.errors import PlanError
from tether.light.spot import Spot
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

        def kept(filters: tuple[str, ...], file: Path, like: Path | None, **given: object) -> None:
            self.answers, self.filters = answered(click.get_current_context(), given, filters, asking=asking)

        done = CliRunner().invoke(
            click.Command("new", params=command.params, callback=kept), ["plan.toml", *words], input=said
        )
        self.error = done.exception
        self.output = done.output

    @property
    def questions(self) -> list[str]:
        every = (*_QUESTIONS.values(), "Filters on hand")
        asked = self.output.partition("The plan:")[0]
        return [question for question in every if question in asked]


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """No filters measured before; returns the folder where they would be."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    return tmp_path / "tether"


def test_all_is_asked_for_and_an_empty_answer_keeps_the_default() -> None:
    person = Sitting("Weir\n" + "\n" * 7 + "200\n\n\nCalder 6=6 , ND1000,\n\n\n")
    assert person.error is None
    assert (person.answers["title"], person.answers["base_time"], person.answers["base_iso"]) == (
        "Weir",
        "1/125",
        "200",
    )
    assert (person.answers["focal_mm"], person.answers["spot"], person.answers["body"]) == (24.0, None, "simulated")
    assert (person.answers["widest"], person.answers["narrowest"]) == ("f/2.8", "f/22")
    assert [one.name for one in person.filters] == ["Calder 6", "ND1000"]
    assert len(person.questions) == 12


def test_an_answer_that_makes_no_sense_is_asked_again_and_right_ones_are_kept() -> None:
    person = Sitting("Weir\n\n\n28kg\n28mm\n\n\nsoon\n1/125s\n\n\n\n1/1000\n2 min\n\n\n")
    assert person.error is None
    kept = [person.answers[name] for name in ("title", "base_time", "focal_mm", "longest")]
    assert kept == ["Weir", "1/125s", 28.0, "2 min"]
    for sentence in (
        "“soon” cannot be read as an exposure time; forms that would do: 1/125,",
        "“28kg” cannot be read as a focal length; forms that would do: 28mm,",
        "The longest rung, 1/1000 s, must be longer than the shortest, 1/500 s.",
    ):
        assert sentence in person.output.replace("\n", " ")
    questions = person.output.partition("The plan:")[0]
    assert questions.count("What is the outing called") == 1
    assert questions.count("Time of the base exposure") == 2
    for said in ("  1/125 s\n", "  28 mm\n", "  2:00 min\n"):
        assert said in person.output


def test_of_several_filters_the_wrong_one_alone_is_asked_again() -> None:
    person = Sitting("\n" * 11 + "ND8, grey, 1000x\nd0.9\n\n\n")
    assert [one.name for one in person.filters] == ["ND8", "ND1000", "ND 0.9"]
    assert "“grey” cannot be read as the strength of a filter" in person.output
    for said in ("ND8: factor 8, 3 stops", "ND1000: factor 1000, 9.97 stops", "ND 0.9: density 0.9, 2.99 stops"):
        assert said in person.output


def test_a_number_alone_is_asked_about_and_what_it_was_not_meant_for_is_left_out() -> None:
    person = Sitting("\n" * 11 + "1000, 8\n\nn\nND8\n\n\n")
    assert [one.name for one in person.filters] == ["ND1000", "ND8"]
    assert "1000 is taken for a factor, ND1000." in person.output
    assert "8 is taken for stops; if it is a factor, write ND8." in person.output


def test_two_filters_may_not_have_one_name() -> None:
    person = Sitting("\n" * 11 + "ND8, ND8\nSecond = ND8\n\n\n")
    assert [one.name for one in person.filters] == ["ND8", "Second"]
    assert "There is a filter called ND8 already" in person.output


@pytest.mark.parametrize("simulated", [True, False])
def test_a_measured_filter_goes_by_its_name_if_it_was_measured_on_such_a_body(config: Path, simulated: bool) -> None:
    config.mkdir()
    (config / "filters.toml").write_text(MEASURED.format(simulated=str(simulated).lower()))
    person = Sitting("\n" * 11 + "calder 6\n\n\n")
    assert [one.strength.stops for one in person.filters] == ([6.21] if simulated else [])
    assert ("Calder 6: 6.21 stops, as measured" in person.output) is simulated


def test_what_was_given_is_not_asked_for_also_where_it_is_the_default() -> None:
    person = Sitting("\n" * 10, "--title", "Weir", "--iso", "100", "--filter", "Orme 2=2")
    assert (person.answers["title"], person.answers["base_iso"]) == ("Weir", "100")
    assert [one.name for one in person.filters] == ["Orme 2"]
    assert person.questions == [question for name, question in _QUESTIONS.items() if name not in ("title", "base_iso")]


def test_a_rung_given_as_an_option_holds_for_the_other_that_is_asked_for() -> None:
    person = Sitting("\n" * 9 + "10m\n1/60\n\n\n", "--longest", "2m")
    assert person.answers["shortest"] == "1/60"
    assert "The shortest rung, 10:00 min, must be shorter than the longest, 2:00 min." in person.output


def test_no_filters_are_none() -> None:
    person = Sitting("\n" * 13)
    assert (person.error, person.filters) == (None, [])
    assert "  No filters\n" in person.output


def test_back_asks_the_question_before_again_with_what_was_answered() -> None:
    """A slip at the aperture: back from the ISO, another aperture, and all after it as before."""
    person = Sitting("\n" * 7 + "f4\nback\nf/8\n\n\n\n\n\n")
    assert person.error is None
    assert person.answers["base_aperture"] == "f/8"
    assert person.output.count("Its aperture [f4]: ") == 1
    assert "“back” goes back one answer" in person.output


def test_back_at_the_first_question_asks_it_again_and_a_rung_gone_back_to_is_not_held_to_the_other() -> None:
    person = Sitting("back\nWeir\n" + "\n" * 8 + "1/500\n4m\nback\nback\n5m\n10m\n\n\n")
    assert person.error is None
    answers = [person.answers[name] for name in ("title", "shortest", "longest")]
    assert answers == ["Weir", "5m", "10m"], "4m, as it was before, is no reason to refuse 5m"


def test_back_among_filters_leaves_out_the_last_one_and_then_asks_the_question_before() -> None:
    person = Sitting("\n" * 11 + "ND8\nback\nback\n8m\nND64\n\n\n")
    assert person.error is None
    assert [one.name for one in person.filters] == ["ND64"]
    assert person.answers["longest"] == "8m"
    assert "  ND8 is left out again.\n" in person.output


def test_all_that_the_plan_is_made_from_is_shown_and_can_be_mended_or_left() -> None:
    begun = "Weir\n64.1,-21.9\n" + "\n" * 9 + "Orme 6 = ND64\n\n"
    person = Sitting(begun + "maybe\nback\nND8\n\nyes\n")
    assert person.error is None
    shown = person.output.rpartition("The plan:")[2]
    for line in (
        "What is the outing called: Weir",
        "Where it is, as latitude,longitude in degrees: 64.1, -21.9",
        "Body file: simulated",
        "Its widest aperture: f/2.8",
        "Its ISO: ISO 100",
        "Filter Orme 6: factor 64, 6 stops",
        "Filter ND8: factor 8, 3 stops",
    ):
        assert f"  {line}\n" in shown
    assert person.answers["spot"] == Spot(latitude=64.1, longitude=-21.9)
    assert str(Sitting(begun + "no\n").error) == "Nothing is written."


def test_a_base_that_the_body_has_no_value_for_is_said_before_anything_is_written() -> None:
    person = Sitting("\n" * 8 + "110\n\n\n\n\n")
    assert person.answers["base_iso"] == "110"
    said = " ".join(person.output.partition("The plan:")[2].split())
    assert "The base: Simulated body has no ISO 110 of its own, the nearest is ISO 100. Write it" in said


def test_a_polariser_that_was_not_meant_so_is_said_to_be_left_out_and_why_it_stays_on() -> None:
    person = Sitting("\n" * 11 + "polariser\nn\n\n\n")
    assert person.filters == []
    said = " ".join(person.output.split())
    assert "polariser is left out of the plan; name it again as you mean it, or leave it at that." in said
    assert "A polariser stays on for the whole ladder: on for some rungs only, it would change their light." in said


def test_a_place_and_a_body_that_are_none_are_asked_again() -> None:
    person = Sitting("\nReykjavik\n95,0\n64.1,-21.9\nno such body\n\n" + "\n" * 10)
    assert person.error is None
    said = " ".join(person.output.split())
    assert "“Reykjavik” is not a place; write latitude,longitude in degrees" in said
    assert "latitude goes from -90 to 90 degrees" in said
    assert said.count("Body file") == 3
    assert person.answers["body"] == "simulated"


def test_options_are_read_in_the_same_units_and_what_was_taken_for_what_is_said() -> None:
    person = Sitting("", "--focal", "28mm", "--time", "1/60s", "--filter", "1000", "--filter", "CPL", asking=False)
    assert (person.answers["focal_mm"], person.answers["base_time"]) == (28.0, "1/60s")
    assert [(one.name, one.strength.kind) for one in person.filters] == [("ND1000", "nd"), ("polariser", "always on")]
    assert "1000 is taken for a factor, ND1000." in person.output
    assert "A polariser is taken for 1.5 stops" in person.output


def test_all_options_that_make_no_sense_are_told_at_once() -> None:
    person = Sitting(
        "", "--focal", "28kg", "--time", "soon", "--filter", "grey", "--filter", "ND1", "--place", "Rome", asking=False
    )
    assert isinstance(person.error, PlanError)
    assert [one.split(": ")[0] for one in person.error.sentences] == [
        "--place Rome",
        "--focal 28kg",
        "--time soon",
        '--filter "grey"',
        '--filter "ND1"',
    ]
