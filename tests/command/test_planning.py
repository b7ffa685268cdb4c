"""New plans: what they are taken from, and what is refused before anything is written."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command.written import written
from tether.command.planning import write_plan
from tether.errors import PlanError


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
