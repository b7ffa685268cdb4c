"""`tether desk`: the desk in the terminal. Its library is loaded when it is opened, for that takes a while."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

from tether.command.common import say_left, talk
from tether.control.registry import find, running
from tether.control.ringing import ringer_of
from tether.editor.messages import Start
from tether.errors import PlanError
from tether.journal.store import JOURNAL_NAME


def open_desk(
    plan_or_outing: Path | None,
    simulated: bool,
    pace: float | str | None,
    world: Path | None,
    under: Path,
    port: str,
    ring_by: str | None,
    answer_key: str | None,
) -> None:
    """Open the desk on a plan, or attached to the run of an outing."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):  # the screen is drawn on standard error
        raise PlanError("tether desk: this needs a terminal; elsewhere, use: tether watch")
    if isinstance(pace, str):
        raise PlanError(f"--pace {pace}: nobody could look on; at the desk, write a number.")
    ringer = ringer_of(ring_by)
    plan = plan_or_outing if plan_or_outing is not None and plan_or_outing.is_file() else None
    simulated = simulated or pace is not None or world is not None
    if simulated and plan is None:
        raise PlanError("--simulated, --pace and --world are of a plan: tether desk PLAN --simulated")
    folder = None if plan else _meant(plan_or_outing, under)
    start = (
        None
        if plan is None
        else Start(
            path=str(plan),
            simulated=simulated,
            world=str(world) if world else None,
            port=port,
            pace=pace or 1.0,
            under=str(under),
        )
    )
    from tether.desk.answer_key import named_key
    from tether.desk.app import Desk

    app = Desk(
        folder,
        start=start,
        sure=partial(_read, plan),
        answer_key=named_key(answer_key) if answer_key else None,
        ringer=ringer,
    )
    app.run()
    app.draft.wait()
    if app.refused is not None:
        raise app.refused
    if app.runs and app.sight.outing is not None:
        say_left("You have left the desk; the run continues. Come back:", "desk", app.sight.outing, talk())


def _read(plan: Path | None) -> None:
    """Read the plan that is named, if one is. Raises PlanError for its mistakes."""
    if plan is not None:
        from tether.plan.file import read_plan  # it takes a while, and the first screen is there by then

        read_plan(plan)


def _meant(outing: Path | None, under: Path) -> Path | None:
    """Return the folder of the outing that is meant; None: whichever begins to run.

    Raises
    ------
    PlanError
        If none is called so, or several run and none is named.
    """
    if outing is not None and (outing / JOURNAL_NAME).exists():
        return outing
    if outing is not None or running():
        return find(outing).outing
    return last_outing(under)


def last_outing(under: Path) -> Path | None:
    """Return the outing in a folder whose journal was written last; None where there is none."""
    journals = under.glob(f"*/{JOURNAL_NAME}")
    return max((one.parent for one in journals), key=lambda one: (one / JOURNAL_NAME).stat().st_mtime, default=None)
