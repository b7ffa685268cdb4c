"""A run that goes on: what is said to it, and what is shown and returned once it is over."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.command.written import written
from tests.journal.shown import ladder_ended
from tether.body.protocol import Finding
from tether.command import attached
from tether.command.attached import end_of_watching, say_words, show_end, stop_run
from tether.control.commands import Verb
from tether.errors import PlanError
from tether.journal.records import LadderOutcome
from tether.service import finish, scheduler

OUTING = Path("/outings/weir")


@pytest.fixture
def said(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str | None, Verb]]:
    """What was said to which outing's run; starts of `OUTING` are planned where a test says so."""
    said: list[tuple[str | None, Verb]] = []

    def say_to(whose: str | None, verb: Verb) -> str:
        said.append((whose, verb))
        return "It was heard."

    monkeypatch.setattr(attached, "find", lambda outing: SimpleNamespace(socket=outing))
    monkeypatch.setattr(attached, "say_to", say_to)
    monkeypatch.setattr(scheduler, "planned", list)
    return said


# Saying


def test_words_are_said_as_the_verb_that_they_are(
    said: list[tuple[str | None, Verb]], capsys: pytest.CaptureFixture[str]
) -> None:
    say_words(("Stop", "now", "AND", "keep"), "weir")
    assert said == [("weir", "stop now and keep")]
    assert capsys.readouterr().err == "It was heard.\n"


def test_what_is_no_word_is_told_with_those_there_are(said: list[tuple[str | None, Verb]]) -> None:
    with pytest.raises(PlanError, match='"fly away" is not known; a run understands: answer, answer ahead, take back'):
        say_words(("fly", "away"), None)
    assert said == []


@pytest.mark.parametrize(
    ("now", "drop", "verb"),
    [
        (False, False, "stop after this frame"),
        (True, False, "stop now and keep"),
        (False, True, "drop everything"),
    ],
)
def test_stopping_is_gentle_unless_more_is_asked_for(
    said: list[tuple[str | None, Verb]], now: bool, drop: bool, verb: Verb
) -> None:
    stop_run(None, now, drop)
    assert said == [(None, verb)]


def test_keeping_and_dropping_at_once_is_refused(said: list[tuple[str | None, Verb]]) -> None:
    with pytest.raises(PlanError, match="give one of them"):
        stop_run(None, True, True)
    assert said == []


def test_a_planned_start_is_called_off_and_nothing_is_said_to_a_run(
    said: list[tuple[str | None, Verb]], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    called_off: list[Path] = []
    monkeypatch.setattr(scheduler, "planned", lambda: [SimpleNamespace(outing=OUTING, until_utc=None)])
    monkeypatch.setattr(scheduler, "cancel", called_off.append)
    stop_run(str(OUTING), False, False)
    assert called_off == [OUTING]
    assert said == []
    assert f"The planned start of {OUTING} is called off." in capsys.readouterr().err
    stop_run("/outings/other", False, False)
    assert said == [("/outings/other", "stop after this frame")]


# The end


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    shown: list[Path] = []
    monkeypatch.setattr(attached, "show_end", shown.append)
    return shown


def test_leaving_a_run_that_goes_on_shows_nothing_and_is_no_failure(shown: list[Path]) -> None:
    end_of_watching(OUTING, started=True, over=None)
    assert shown == []


def code_of(outing: Path, **how: Any) -> Any:
    with pytest.raises(SystemExit) as ended:
        end_of_watching(outing, **how)
    return ended.value.code


@pytest.mark.parametrize(
    ("outcome", "trouble", "code"),
    [("done", None, 0), ("failed", "camera", 3), ("failed", "plan", 2), ("failed", None, 4)],
)
def test_the_log_is_shown_and_the_outcome_is_the_exit_code(
    shown: list[Path], outcome: LadderOutcome, trouble: str | None, code: int
) -> None:
    assert code_of(OUTING, started=True, over=ladder_ended(outcome, trouble=trouble)) == code
    assert shown == [OUTING]


def test_of_a_run_that_was_not_begun_the_journal_tells_the_outcome(shown: list[Path], tmp_path: Path) -> None:
    outing = written(tmp_path / "outing")
    assert code_of(outing, started=False, over=None) == 1, "it was done in part"
    assert shown == [outing]


def test_at_the_end_it_says_where_all_is_and_what_is_still_to_be_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    missing = Finding(what="frames", verdict="stop", sentence="One is missing.")
    monkeypatch.setattr(finish, "read_ended", lambda outing: outing)
    monkeypatch.setattr(finish, "told_by_journal", lambda _ended: (missing,))
    outing = written(tmp_path / "outing")
    show_end(outing)
    said = capsys.readouterr().out
    assert f"Frames, previews and the log are in {outing}\n" in said
    assert f"Read the log again with:  tether log {outing}\n" in said
    assert "One is missing." in said
    assert f"tether finish {outing}\n" in said
    show_end(written(tmp_path / "empty", []))
    assert "tether finish" not in capsys.readouterr().out, "where no ladder was begun there is nothing to finish"
