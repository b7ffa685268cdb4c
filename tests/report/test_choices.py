"""Choices: what was said of a frame comes back, whatever else stands in the file; a bad file is left as it is."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tether.errors import PlanError, SupplyError
from tether.report import choices
from tether.report.choices import CHOICES_NAME, LONGEST_NOTE, Choice, choose, read_choices


def test_nothing_chosen_is_nothing(tmp_path: Path) -> None:
    assert read_choices(tmp_path) == {}
    assert not (tmp_path / CHOICES_NAME).exists()


def test_choices_come_back_and_change_one_by_one(tmp_path: Path) -> None:
    choose(tmp_path, 7, Choice(verdict="keep", note="the thread beside the stone"))
    choose(tmp_path, 12, Choice(verdict="no"))
    choose(tmp_path, 7, Choice(verdict="maybe", note="the thread beside the stone"))
    assert read_choices(tmp_path) == {
        7: Choice(verdict="maybe", note="the thread beside the stone"),
        12: Choice(verdict="no"),
    }
    choose(tmp_path, 12, Choice())
    assert set(read_choices(tmp_path)) == {7}


@given(st.text())
def test_any_note_comes_back_as_one_line(note: str) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        choose(Path(folder), 3, Choice(note=note))
        kept = read_choices(Path(folder)).get(3, Choice()).note
    assert kept == " ".join(note.split())[:LONGEST_NOTE].encode(errors="replace").decode()


def test_what_is_written_by_hand_stays(tmp_path: Path) -> None:
    path = tmp_path / CHOICES_NAME
    path.write_text('# by hand\nschema = "tether-choices/1"\n[frame.3]\nchoice = "keep"  # the one\nstars = 4\n')
    choose(tmp_path, 3, Choice(verdict="no"))
    choose(tmp_path, 4, Choice(verdict="keep"))
    text = path.read_text()
    assert "# by hand" in text
    assert "stars = 4" in text
    assert "# the one" in text
    assert read_choices(tmp_path)[3].verdict == "no"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[frame.3\n", "not valid TOML"),
        ('schema = "tether-choices/2"\n', "tether-choices/1"),
        ("frame = 3\n", "such as"),
        ("[frame]\n3 = 4\n", "such as"),
        ('[frame.3]\nchoice = "perhaps"\n', "allowed: keep, maybe, no"),
        ("[frame.x]\n", "running number"),
        ("[frame.3]\nnote = 4\n", "not text"),
    ],
)
def test_a_file_that_is_not_understood_is_said_and_left(tmp_path: Path, text: str, sentence: str) -> None:
    path = tmp_path / CHOICES_NAME
    path.write_text(text)
    for do in (lambda: read_choices(tmp_path), lambda: choose(tmp_path, 3, Choice(verdict="keep"))):
        with pytest.raises(PlanError, match=sentence) as error:
            do()
        assert str(path) in str(error.value)
    assert path.read_text() == text


def test_a_full_disk_leaves_the_old_choices(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    choose(tmp_path, 3, Choice(verdict="keep"))

    def full(*_: object) -> None:
        raise SupplyError("The disk is full.")

    monkeypatch.setattr(choices, "safe_write", full)
    with pytest.raises(SupplyError):
        choose(tmp_path, 3, Choice(verdict="no"))
    assert read_choices(tmp_path)[3].verdict == "keep"
