"""A face's side of the draft process: it is begun anew where it falls over, and what was not saved stays."""

from __future__ import annotations

import os
import signal
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests.editor.rig import Kept
from tether.editor.messages import (
    Drafted,
    Save,
    SetRegion,
    Start,
    WishAnswer,
)
from tether.files.state import state_folder


def test_a_process_that_falls_over_is_begun_anew_with_what_was_not_saved(kept: Kept, start: Start) -> None:
    assert kept.until(Drafted).saved
    kept.keeper.wish(SetRegion(what="rock", box=(0.0, 0.0, 0.5, 0.5)))
    edited = kept.until(Drafted)
    assert kept.until(WishAnswer).ok
    process = kept.keeper._process
    assert process is not None
    os.kill(process.pid, signal.SIGKILL)
    gone = kept.until(WishAnswer)
    assert not gone.ok
    assert "Nothing of the plan is lost" in gone.sentence
    kept.keeper.wish(Save())
    again = kept.until(Drafted)
    assert replace(again, edits=edited.edits) == edited
    assert kept.until(WishAnswer).ok
    assert "[[region]]" in Path(start.path).read_text()


def test_a_process_that_crashes_says_where_its_last_words_are(kept: Kept) -> None:
    kept.until(Drafted)
    process = kept.keeper._process
    assert process is not None
    os.kill(process.pid, signal.SIGSEGV)
    sentence = kept.until(WishAnswer).sentence
    words = state_folder() / "draft.log"
    assert sentence.endswith(f"What it said last is in {words}.")
    assert "Fatal Python error: Segmentation fault" in words.read_text()


def test_a_process_that_crashes_before_it_has_told_anything_is_said_too(
    start: Start, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "executable", "/bin/false")
    kept = Kept(start)
    kept.keeper.open()
    assert "has ended unexpectedly" in kept.until(WishAnswer).sentence


def test_a_plan_that_cannot_be_opened_is_said_once(start: Start) -> None:
    kept = Kept(replace(start, path=start.path + ".none"))
    kept.keeper.open()
    answer = kept.until(WishAnswer)
    assert not answer.ok
    assert "cannot be read" in answer.sentence
    kept.keeper.close()
