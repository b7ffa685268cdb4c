"""A face that comes too late for a run that is over is told so at once, from the journal."""

from __future__ import annotations

import io
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console

from tests.engine.rig import BASE
from tests.journal.planned import a_ladder
from tests.plan.plans import HEAD
from tether.command.watching import _Person, _watched
from tether.control.registry import Running
from tether.journal.records import Kept, LadderEnded, LadderStarted, RunFailed
from tether.journal.store import open_journal
from tether.service.launch import give_plan


def over(tmp_path: Path, *records: Kept) -> tuple[LadderEnded | None, str]:
    """Watch a run that left these records, whose guard has ended, and at whose socket nobody answers."""
    plan = tmp_path / "plan.toml"
    plan.write_text(HEAD + BASE + '[rungs]\ntimes = ["1/125"]\n')
    outing = give_plan(plan, pace=1.0, root=tmp_path, outing=tmp_path / "here").outing
    with closing(open_journal(outing)) as journal:
        for number, record in enumerate(records):
            journal.add(record, utc=datetime.now(UTC), mono_ns=number)
    guard = subprocess.Popen([sys.executable, "-c", ""])
    try:
        run = Running(outing=outing, title="x", pids={"guard": guard.pid}, socket=tmp_path / "nobody")
        while not run.is_over:
            pass
        said = io.StringIO()
        return _watched(run, _Person(), Console(file=said, width=200)), said.getvalue()
    finally:
        guard.wait()


def test_a_run_that_was_not_begun_says_why(tmp_path: Path) -> None:
    ended, said = over(
        tmp_path, RunFailed(ladder=1, trouble="camera", text="Not begun; nothing was exposed.\nfocus: Set it to MF.")
    )
    assert ended is not None
    assert (ended.outcome, ended.trouble) == ("failed", "camera")
    assert "Set it to MF." in said


def test_a_ladder_that_was_done_is_told_as_done(tmp_path: Path) -> None:
    begun = LadderStarted(ladder=1, title="x", plan_text="", planned=a_ladder())
    ended, said = over(tmp_path, begun, LadderEnded(ladder=1, outcome="done", note=None))
    assert ended is not None
    assert ended.outcome == "done"
    assert "done" in said
