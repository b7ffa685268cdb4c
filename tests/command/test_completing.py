"""What a Tab completes: plans, outings and bodies by name, and words to a run one after the other."""

from __future__ import annotations

from pathlib import Path

import pytest

from tether.command.completing import _JOURNAL, _OUTINGS, named, words_after
from tether.command.options import OUTINGS
from tether.control.commands import WORDS
from tether.journal.store import JOURNAL_NAME


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.chdir(tmp_path)
    for name in ("evening", "outings/weir", "config"):
        (tmp_path / name).mkdir(parents=True)
    for name in ("evening", "outings/weir"):
        (tmp_path / name / JOURNAL_NAME).touch()
    (tmp_path / "weird.toml").touch()
    return tmp_path


def test_plans_are_names_and_files_that_are_there() -> None:
    assert named(("plans",), "wei") == ["weir", "weird.toml"]
    assert "demo" in named(("plans",), "")


def test_outings_are_folders_with_a_journal_here_and_where_they_are_made() -> None:
    assert named(("outings",), "") == ["evening", "outings/weir"]
    assert named(("plans", "outings"), "e") == ["evening"]
    assert (_JOURNAL, _OUTINGS) == (JOURNAL_NAME, OUTINGS)


def test_bodies_are_those_that_are_shown() -> None:
    assert named(("bodies",), "canon-eos-r6") == ["canon-eos-r6", "canon-eos-r6-mark-ii"]


@pytest.mark.parametrize(
    ("before", "begun", "words"),
    [
        ((), "br", ["brighter"]),
        ((), "st", ["stop"]),
        (("stop",), "", ["after", "now"]),
        (("Stop", "after"), "t", ["this"]),
        (("stop", "after", "this"), "", ["frame"]),
        (("answer",), "", ["ahead"]),
        (("brighter",), "", []),
        (("fly",), "", []),
        ((), "i", ["I"]),
    ],
)
def test_words_follow_those_that_are_there(before: tuple[str, ...], begun: str, words: list[str]) -> None:
    assert words_after(before, begun) == words


def test_every_word_can_be_said_by_tabs_alone() -> None:
    for word in WORDS:
        parts = word.verb.split()
        for at, part in enumerate(parts):
            assert part in words_after(parts[:at], part[:1])
