"""The course of an evening as a face asks for it: by a process, and nothing where there is none."""

from __future__ import annotations

from pathlib import Path

from tests.journal.outings import ladder_started, run_started, write_outing
from tests.report.test_audit import base
from tests.report.test_evening import bare
from tether.files.state import state_folder
from tether.journal.telling import read_outing
from tether.report.evening import evening_of
from tether.report.evening_asked import ask_evening


def test_what_comes_back_is_what_was_worked_out(tmp_path: Path) -> None:
    write_outing(tmp_path, [run_started(), ladder_started(), *base(), *bare(2, -0.5)])
    assert ask_evening(tmp_path, "desk") == evening_of(read_outing(tmp_path))


def test_without_a_ladder_or_a_journal_there_is_none_and_why_is_kept(tmp_path: Path) -> None:
    (tmp_path / "begun").mkdir()
    write_outing(tmp_path / "begun", [run_started()])
    assert ask_evening(tmp_path / "begun", "desk") is None
    assert ask_evening(tmp_path / "none", "desk") is None
    assert str(tmp_path / "none") in (state_folder() / "desk.log").read_text()
