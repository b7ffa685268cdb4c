"""Rungs of many short frames are averaged by themselves: when, what is said, and that nothing waits for it."""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from tests.engine.rig import SIX, Worked, work, world
from tether.engine.analysis_queue import Reader
from tether.engine.averaging import Averages
from tether.engine.run_state import Run
from tether.files.exif import read_exif
from tether.files.raw import read_raw
from tether.frames.asked import AverageAnswer
from tether.frames.averaging import BLACK, WHITE
from tether.journal.records import LadderEnded, Record, RungBegun, RungEnded, Said
from tether.outing.folder import open_folder
from tether.plan.ladder import Rung
from tether.service.rehearsal import Rehearsal

HEAD = (
    'title = "A test"\nscale = "half"\ndarker_by = "nothing"\n[body]\nfile = "simulated-mirror"\n'
    '[lens]\nfocal_mm = 24\nwidest = "f/2.8"\nnarrowest = "f/22"\n'
)
#: Fifteen seconds are out of reach; four frames of four seconds stand for them. A sixtieth is one frame.
PLAN = (
    '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\nframes = 0\n[rungs]\ntimes = ["15", "1/60"]\nmany = "use"\n'
    'frames = 1\n[limits]\naperture = ["f/5.6", "f/11"]\niso = [100, 100]\n' + SIX + '[run]\ndark_frames = "none"\n'
)


def run(root: Path, when: str = "", **how: Any) -> Worked:
    return work(root, PLAN + (f'average = "{when}"\n' if when else ""), head=HEAD, **how)


def many(worked: Worked) -> Rung:
    (rung,) = [one for one in worked.rehearsal.ready.ladder.rungs if one.choice.way == "many"]
    return rung


def said(events: list[Record]) -> list[str]:
    return [one.text for one in events if isinstance(one, Said) and "averaged" in one.text]


def averages(worked: Worked) -> list[Path]:
    return sorted(worked.folder.glob("averages/*"))


def test_after_the_run_there_is_one_raw_file_that_is_the_mean(tmp_path: Path) -> None:
    worked = run(tmp_path)
    number = many(worked).number
    (mean,) = averages(worked)
    assert mean.name == f"a-test_L1_R{number:02d}_mean.dng"
    (sentence,) = said(worked.events)
    assert sentence.startswith(
        f"Rung {number} is averaged: averages/{mean.name}. 4 frames of 4.000 s: as bright as one"
    )
    of = [worked.folder / one.files[0].name for one in worked.frames if one.rung == number]
    each = np.mean([read_raw(path).mosaic.mean() - read_raw(path).black[0] for path in of]) / (
        read_raw(of[0]).white - read_raw(of[0]).black[0]
    )
    assert (read_raw(mean).mosaic.mean() - BLACK) / (WHITE - BLACK) == pytest.approx(each, rel=0.01)
    assert read_exif(mean).time_s == pytest.approx(16.0, rel=0.03)
    last = [type(one) for one in worked.events if isinstance(one, RungEnded | LadderEnded | Said)]
    assert last.index(LadderEnded) > max(at for at, one in enumerate(last) if one is RungEnded)
    assert worked.events.index(next(one for one in worked.events if isinstance(one, LadderEnded))) > next(
        at for at, one in enumerate(worked.events) if isinstance(one, Said) and one.text == sentence
    )


def test_between_rungs_it_is_begun_once_its_rung_is_done(tmp_path: Path) -> None:
    worked = run(tmp_path, "between rungs")
    number = many(worked).number
    at = next(at for at, one in enumerate(worked.events) if isinstance(one, Said) and "averaged" in one.text)
    before = [one for one in worked.events[:at] if isinstance(one, RungEnded | RungBegun)]
    assert isinstance(before[-1], RungEnded)
    assert before[-1].rung == number
    assert len(averages(worked)) == len(said(worked.events)) == 1, "and not again at the end"


def test_a_plan_may_leave_it(tmp_path: Path) -> None:
    worked = run(tmp_path, "no")
    assert (averages(worked), said(worked.events)) == ([], [])


@pytest.mark.parametrize("when", ["after the run", "between rungs"])
def test_one_that_fails_is_said_and_the_ladder_is_done_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    answer = AverageAnswer(problem="The disk is full.")
    monkeypatch.setattr("tether.report.averages.averaged", lambda *_: answer)
    worked = run(tmp_path, when)
    assert worked.outcome == "done"
    assert said(worked.events) == [f"Rung {many(worked).number} is not averaged. The disk is full."]


def test_a_ladder_that_is_resumed_averages_the_frames_of_both_runs(tmp_path: Path) -> None:
    stopped = run(tmp_path, outing=tmp_path / "evening", after=(2, 0.0, "stop after this frame"))
    assert (len([one for one in stopped.frames if one.rung == 2]), averages(stopped)) == (1, [])
    again = Rehearsal.of(stopped.rehearsal.ready.plan, root=tmp_path, outing=stopped.folder, world=world())
    events: list[Record] = []
    assert replace(again, ladder=1).run(events.append).outcome == "done"
    assert len(averages(stopped)) == 1
    assert "4 frames of 4.000 s" in said(events)[0]


# By a process of its own


class Stub:
    """What of a run averages need, with frames that another run took."""

    def __init__(self, worked: Worked) -> None:
        self.plan = SimpleNamespace(run=SimpleNamespace(average="between rungs"))
        self.folder = open_folder(worked.folder, "A test")
        self.ladder_number = 1
        self.reader = Reader(apart=True)
        self.said: list[tuple[str, str]] = []

    def say(self, about: str, text: str, rung: int | None = None) -> None:
        self.said.append((about, text))


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Worked:
    return run(tmp_path_factory.mktemp("averaged"), "no")


def begun(worked: Worked) -> tuple[Averages, Stub]:
    for path in averages(worked):
        path.unlink()
    stub = Stub(worked)
    found = Averages(cast("Run", stub))
    found.rung_done(many(worked))
    return found, stub


def waited_for(found: Averages, worked: Worked, stub: Stub) -> None:
    other = next(one for one in worked.rehearsal.ready.ladder.rungs if one.choice.way != "many")
    until_s = time.monotonic() + 60
    while not stub.said and time.monotonic() < until_s:
        found.rung_done(other)


@pytest.mark.prove
def test_it_is_made_beside_the_run_and_said_when_the_next_rung_is_done(worked: Worked) -> None:
    found, stub = begun(worked)
    assert stub.said == [], "nobody has waited for it"
    waited_for(found, worked, stub)
    ((about, text),) = stub.said
    assert (about, text.split(".")[0]) == (
        "note",
        f"Rung {many(worked).number} is averaged: averages/a-test_L1_R02_mean",
    )
    assert len(averages(worked)) == 1


def test_a_process_that_dies_is_said(worked: Worked, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "python").write_text("#!/bin/sh\nexit 1\n")
    (tmp_path / "python").chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))
    found, stub = begun(worked)
    waited_for(found, worked, stub)
    ((about, text),) = stub.said
    assert about == "trouble"
    assert text.endswith(f"gave no answer. What it said last is in {worked.folder / 'reader.log'}.")


def test_one_that_is_left_says_how_it_is_done_later(
    worked: Worked, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "python").write_text("#!/bin/sh\nexec sleep 600\n")
    (tmp_path / "python").chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))
    found, stub = begun(worked)
    found.give_up()
    how = f"tether average {worked.folder} --rung {many(worked).number} --to FILE.dng"
    assert stub.said == [("note", f"Rung {many(worked).number} is not averaged. Do so later: {how}")]
