"""The folder of what outlives a run: where it is, who may look into it, and logs that can't be kept."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tether.errors import SupplyError
from tether.files.state import data_folder, state_folder, words_of


def test_it_is_where_the_user_has_such_folders_and_theirs_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    folder = state_folder()
    assert folder == tmp_path / "state" / "tether"
    assert folder.stat().st_mode & 0o777 == 0o700
    assert state_folder() == folder


@pytest.mark.parametrize("given", ["", "not/absolute"])
def test_without_one_that_is_absolute_the_usual_one_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, given: str
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", given)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert state_folder() == tmp_path / ".local" / "state" / "tether"


def test_a_log_is_kept_there_and_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    for _ in range(2):
        path, log = words_of("page", "the page starts")
        with log:
            log.write(b"its words\n")
    assert path == tmp_path / "tether" / "page.log"
    assert path.read_text().count("the page starts") == path.read_text().count("its words") == 2


def test_where_none_can_be_kept_it_is_said_or_written_nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    with pytest.raises(SupplyError, match=rf"{tmp_path}/file/tether: cannot be made: not a directory\."):
        state_folder()
    path, log = words_of("page", "the page starts")
    with log:
        assert path is None
        assert log.name == os.devnull


@pytest.mark.parametrize(
    ("given", "expected"),
    [("{home}/own", "own/tether"), ("", ".local/share/tether"), ("not/absolute", ".local/share/tether")],
)
def test_what_is_gathered_lies_where_the_user_has_data_and_asking_where_makes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, given: str, expected: str
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", given.format(home=tmp_path))
    assert data_folder() == tmp_path / expected
    assert not list(tmp_path.iterdir())
