"""Frames are read beside the run: their levels stand in the log, and what can't be read is told."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from tests.engine.rig import BASE, Worked, work, world
from tether.engine.analysis_queue import Reader
from tether.frames.asked import FrameAnswer, PictureAsked
from tether.frames.reading import read_frame
from tether.report.log import log_json

TWO = BASE + '[rungs]\ntimes = ["1/125", "1/60"]\nframes = 1\n[limits]\naperture_stops = 3\niso_stops = 3\n'


def all_read(reader: Reader) -> list[tuple[int, FrameAnswer]]:
    while reader.owes():
        time.sleep(0.01)  # the processes of it keep to no clock
    return reader.done()


def headroom(worked: Worked) -> list[float | None]:
    return [worked.said(frame.frame).headroom_stops for frame in worked.frames]


def test_every_frame_says_how_much_room_its_highlights_have(tmp_path: Path) -> None:
    """A world a stop darker leaves a stop more, but for what noise makes of the brightest."""
    bright, dark = (
        work(tmp_path / str(stops), TWO, truth=world(base_level_stops=-4.0 - stops)) for stops in (0.0, 1.0)
    )
    for more, less in zip(headroom(dark), headroom(bright), strict=True):
        assert more is not None
        assert less is not None
        assert more - less == pytest.approx(1.0, abs=0.1)


def test_what_burns_out_is_in_the_log(tmp_path: Path) -> None:
    burnt = work(tmp_path, TWO, truth=world(base_level_stops=-0.1))
    frame = log_json(burnt.told)["ladders"][0]["frames"][0]
    assert frame["readings"]["headroom_stops"] is None
    assert frame["readings"]["clipped_share"] > 0.001
    assert set(frame["readings"]["channels"]) == {"R", "G", "B"}


def test_frames_are_read_in_order_in_processes_of_their_own(tmp_path: Path) -> None:
    worked = work(tmp_path / "worked", TWO)
    paths = [worked.folder / frame.files[0].name for frame in worked.frames]
    reader = Reader(apart=True)
    for number, path in enumerate([*paths, tmp_path / "missing.dng"]):
        reader.read(number, path)
    read = all_read(reader)
    assert [number for number, _ in read] == [0, 1, 2]
    assert [readings for _, readings in read[:2]] == [read_frame(path) for path in paths]
    assert "missing.dng" in str(read[2][1].problem)
    assert reader.done() == []
    cells, picture = ("w" * 36 + "r" * 36,) * 48, tmp_path / "regions.jpg"
    assert reader.at_once(PictureAsked(path=paths[0], cells=cells, into=picture)).problem is None
    assert picture.read_bytes().startswith(b"\xff\xd8"), "a JPEG, drawn by such a process too"


def test_a_reader_that_crashes_leaves_its_last_words_and_says_where(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    crashing = tmp_path / "python"
    crashing.write_text(f"#!/bin/sh\necho the last words >&2\nexec {sys.executable} -c 'import os; os.abort()'\n")
    crashing.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(crashing))
    reader = Reader(apart=True, words=tmp_path / "reader.log")
    for number in (1, 2):
        reader.read(number, tmp_path / f"{number}.dng")
    problems = [str(answer.problem) for _, answer in all_read(reader)]
    assert (
        problems
        == [
            (
                "The frame could not be read: the process that reads was ended (Aborted)."
                f" What it said last is in {tmp_path / 'reader.log'}."
            )
        ]
        * 2
    )
    said = (tmp_path / "reader.log").read_text()
    assert said.count("the last words\n") == 2
    assert said.index("a process reads 1.dng") < said.index("the last words") < said.index("a process reads 2.dng")


def test_a_run_s_reader_leaves_its_last_words_in_the_outing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[Reader] = []

    def kept(**how: Any) -> Reader:
        made.append(Reader(**how))
        return made[-1]

    monkeypatch.setattr("tether.service.setup.Reader", kept)
    worked = work(tmp_path, TWO)
    assert [reader.words for reader in made] == [worked.folder / "reader.log"]


def test_dark_frames_are_not_read(tmp_path: Path) -> None:
    dark = BASE + '[rungs]\ntimes = ["8"]\nframes = 1\n[limits]\niso_stops = 3\naperture_stops = 3\n[run]\n'
    worked = work(
        tmp_path, dark + 'dark_frames = "at the end"\n[[filter]]\nname = "C"\nstops = 8\nmeasured_stops = 8.0\n'
    )
    kinds = {frame.kind: bool(frame.readings) for frame in worked.frames}
    assert kinds["rung"]
    assert not kinds["dark"]


def test_a_frame_that_takes_too_long_to_be_read_is_given_up_and_the_next_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    silent = [sys.executable, "-c", "import signal; signal.pause()"]
    begun = [subprocess.Popen(silent, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    left = iter(begun)
    monkeypatch.setattr(Reader, "_begun", lambda _reader, _asked: next(left))
    monkeypatch.setattr("tether.engine.analysis_queue.LAST_S", 0.0)
    reader = Reader(apart=True)
    reader.read(1, tmp_path / "1.dng")
    reader.read(2, tmp_path / "2.dng")
    assert reader.left() == 1, "the first was given up when the second was to be begun"
    assert [(frame, answer.frame, bool(answer.problem)) for frame, answer in reader.done()] == [
        (1, None, True),
        (2, None, True),
    ]
    assert reader.left() == 0
    assert [process.poll() for process in begun] == [-signal.SIGKILL] * 2


def test_frames_that_are_left_unread_leave_no_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", "import signal; signal.pause()"], stdout=subprocess.PIPE, text=True
    )
    monkeypatch.setattr(Reader, "_begun", lambda _reader, _asked: process)
    reader = Reader(apart=True)
    for number in (1, 2, 3):
        reader.read(number, tmp_path / f"{number}.dng")
    assert reader.left() == 3
    reader.give_up()
    assert (reader.left(), reader.owes(), reader.done()) == (0, False, [])
    assert process.returncode == -signal.SIGKILL
