"""Outings as release 0.1 kept them: read as that release read them, and the one that was killed is gone on with."""

from __future__ import annotations

import asyncio
import json
import queue
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from PIL import Image

from tests.desk.rig import at_desk
from tests.faults.harness import end_all
from tether.command.commands import tether
from tether.journal.telling import read_outing
from tether.outing.job import read_job
from tether.plan.file import plan_from_text
from tether.report.log import log_json
from tether.service.launch import start_guard
from tether.service.rehearsal import Rehearsal

KEPT = Path(__file__).parents[1] / "data" / "outings-0.1"
KILLED = "killed-in-a-hold"
BOTH = pytest.mark.parametrize("name", ["finished", KILLED])


def outing(name: str, root: Path) -> Path:
    """Return a copy of an outing of before."""
    return shutil.copytree(KEPT / name, root / name)


def without_unknowns(data: Any) -> Any:
    """Return JSON data without what is null: a name that was left out before may be there, and not be known."""
    if isinstance(data, dict):
        return {name: without_unknowns(one) for name, one in data.items() if one is not None}
    return [without_unknowns(one) for one in data] if isinstance(data, list) else data


@BOTH
def test_its_log_is_what_the_release_that_wrote_it_told(name: str, tmp_path: Path) -> None:
    """The log beside it was written by that release."""
    told = json.loads(json.dumps(log_json(read_outing(outing(name, tmp_path)))))
    before = json.loads((KEPT / f"{name}.log.json").read_text())
    for log in (told, before):
        for split in (split for ladder in log["ladders"] for split in ladder["audit"]):
            # What is the light and what the filters is told by another estimator since; its sum is the same.
            split["light_stops"] = round(split["light_stops"] + split.pop("rest_stops"), 6)
            del split["uncertainty_stops"]
            split.pop("rest_uncertainty_stops", None)
    assert without_unknowns(told) == without_unknowns(before)


@BOTH
def test_reading_it_changes_nothing(name: str, tmp_path: Path) -> None:
    folder = outing(name, tmp_path)
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    read_outing(folder)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


@BOTH
def test_log_and_sheet_show_it(name: str, tmp_path: Path) -> None:
    folder, sheet = outing(name, tmp_path), tmp_path / "sheet.jpg"
    log = CliRunner().invoke(tether, ["log", str(folder)])
    assert log.exit_code == 0, log.output
    assert "Ladder 1: A test" in log.output
    made = CliRunner().invoke(tether, ["sheet", str(folder), "--to", str(sheet)])
    assert made.exit_code == 0, made.output
    with Image.open(sheet) as picture:
        assert picture.size[0] > 100


@BOTH
def test_the_desk_shows_it(name: str, tmp_path: Path) -> None:
    async def shown() -> None:
        async with at_desk(outing(name, tmp_path), (120, 50)) as rig:
            await rig.press("6")
            await rig.shows("Ladder 1: A test")

    asyncio.run(shown())


def test_the_one_that_was_killed_in_a_hold_is_gone_on_with(tmp_path: Path) -> None:
    """Rungs 1 and 2 were done; the hold of rung 3 was ended by the camera process, and its frame is on the card."""
    folder = outing(KILLED, tmp_path)
    job = read_job(folder)
    plan = plan_from_text(job.plan_text)
    again = Rehearsal.of(plan, outing=folder, world=job.world)
    done = replace(again, ladder=job.ladder).run(box=queue.SimpleQueue())
    told = read_outing(folder)
    (ladder,) = told.ladders
    assert done.outcome == ladder.outcome == "done"
    assert [(one.rung, one.outcome) for one in ladder.rungs] == [(1, "done"), (2, "done"), (3, "done")]
    assert [(one.frame, one.kind, one.rung, one.outcome, len(one.files)) for one in ladder.frames] == [
        (1, "base", None, "made", 1),
        (2, "base", None, "made", 1),
        (3, "rung", 1, "made", 1),
        (4, "rung", 2, "made", 1),
        (5, "proof", 3, "made", 1),
        (6, "rung", 3, "made", 1),
        (7, "base", None, "made", 1),
    ]
    assert "The run ended while this frame was being made." in ladder.frames[5].notes[0]
    assert not told.open_intents
    assert [run.end for run in told.runs] == ["broke off", "ended"]


@pytest.mark.prove
def test_a_run_of_its_own_goes_on_with_it_by_the_stamps_of_the_camera_process(tmp_path: Path) -> None:
    """The stamps tell of 119.899 s between the two commands: 14085881818957 less 13965982436077 ns."""
    folder = outing(KILLED, tmp_path)
    guard = start_guard(folder)
    try:
        assert guard.wait(100.0) == 0
    finally:
        end_all(folder)
    (ladder,) = read_outing(folder).ladders
    assert ladder.outcome == "done"
    assert ladder.frames[5].open_s.held == pytest.approx(119.899, abs=0.001)
