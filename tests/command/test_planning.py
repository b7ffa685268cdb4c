"""New plans: what is asked for, what is taken as given, and what is refused before anything is written."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from tests.command.written import written
from tether.command import planning
from tether.command.planning import write_plan
from tether.errors import PlanError
from tether.light.spot import Spot


def asked(said: str, *words: str) -> tuple[dict[str, object], tuple[str, ...], list[str]]:
    """Have a command ask for what was not given; return the answers, the filters and the questions that were asked."""
    found: list[tuple[dict[str, object], tuple[str, ...]]] = []

    @click.command()
    @click.option("--title", default="An outing")
    @click.option("--base-time", default="1/60")
    @click.option("--base-aperture", default="f/8")
    @click.option("--base-iso", default=100)
    @click.option("--focal-mm", default=35.0)
    @click.option("--shortest", default="1/60")
    @click.option("--longest", default="4m")
    @click.option("--filter", "filters", multiple=True)
    def new(filters: tuple[str, ...], **answers: object) -> None:
        found.append(planning._asked(click.get_current_context(), answers, filters))

    done = CliRunner().invoke(new, list(words), input=said)
    assert done.exit_code == 0, done.output
    ((answers, filters),) = found
    questions = [question for question in (*planning._QUESTIONS.values(), "Filters on hand") if question in done.output]
    return answers, filters, questions


def test_all_is_asked_for_and_an_empty_answer_keeps_the_default() -> None:
    answers, filters, questions = asked("Weir\n\n\n200\n\n\n\nCalder 6=6 , Calder 10=10,\n")
    assert (answers["title"], answers["base_time"], answers["base_iso"]) == ("Weir", "1/60", 200)
    assert filters == ("Calder 6=6", "Calder 10=10")
    assert len(questions) == 8


def test_what_was_given_is_not_asked_for_also_where_it_is_the_default() -> None:
    answers, filters, questions = asked("\n" * 5, "--title", "Weir", "--base-iso", "100", "--filter", "Orme 2=2")
    assert (answers["title"], answers["base_iso"], answers["focal_mm"]) == ("Weir", 100, 35.0)
    assert filters == ("Orme 2=2",)
    assert questions == [
        "Time of the base exposure",
        "Its aperture",
        "Focal length in mm",
        "Shortest rung",
        "Longest rung",
    ]


def test_no_filters_are_none() -> None:
    assert asked("\n" * 8)[1] == ()


def test_a_place_is_read_or_the_form_is_told() -> None:
    assert planning._spot(None) is None
    assert planning._spot("64.1,-21.9") == Spot(latitude=64.1, longitude=-21.9)
    with pytest.raises(PlanError, match="--place Rome: this is not a place; write latitude,longitude in degrees"):
        planning._spot("Rome")


def test_a_file_that_is_there_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "weir.toml"
    path.write_text("mine")
    with pytest.raises(PlanError, match="there already and is left as it is"):
        write_plan(path, None, ())
    assert path.read_text() == "mine"


def test_a_plan_is_taken_from_the_last_ladder_of_an_outing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    outing, path = written(tmp_path / "outing"), tmp_path / "again.toml"
    write_plan(path, outing, ())
    assert path.read_text() == 'title = "Weir"\n'
    said = capsys.readouterr().err
    assert "The plan is taken as it was; it has mistakes now:" in said, "one of an earlier release may have some"
    assert "tether ladder" in said


def test_an_outing_without_a_ladder_has_no_plan_to_take(tmp_path: Path) -> None:
    outing = written(tmp_path / "outing", [])
    with pytest.raises(PlanError, match="this outing has no ladder whose plan could be taken"):
        write_plan(tmp_path / "again.toml", outing, ())
    assert not (tmp_path / "again.toml").exists()


def test_a_place_where_nothing_can_be_written_is_told(tmp_path: Path) -> None:
    outing = written(tmp_path / "outing")
    with pytest.raises(PlanError, match=r"x\.toml: cannot be written: no such file or directory"):
        write_plan(tmp_path / "nowhere" / "x.toml", outing, ())
