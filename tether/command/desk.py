"""`tether desk`: the desk in the terminal. Its library is loaded when it is opened, for that takes a while."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from tether.command.common import talk
from tether.errors import PlanError
from tether.journal.store import JOURNAL_NAME
from tether.run.running import find, running

#: Where outings are made, unless another folder is given.
_UNDER = Path("outings")


@click.command()
@click.argument("outing", required=False)
def desk(outing: str | None) -> None:
    """Open the desk: attach to the run of OUTING, or the only one that is going on.

    Where none runs, the log of OUTING, or of the last outing under ./outings, is shown. Leaving the desk leaves the run
    alone.
    """
    if not (sys.stdin.isatty() and sys.stderr.isatty()):  # the screen is drawn on standard error
        raise PlanError("tether desk: this needs a terminal; elsewhere, use: tether watch")
    folder = _meant(outing)
    from tether.desk.app import Desk

    app = Desk(folder)
    app.run()
    if app.sight.state in ("attached", "lost"):
        left = app.sight.outing
        talk().print(f"You have left the desk; the run goes on. Come back: tether desk {left}", soft_wrap=True)
        talk().print(f"Stop it: tether stop {left}", soft_wrap=True)


def _meant(outing: str | None) -> Path | None:
    """Return the folder of the outing that is meant; None: whichever begins to run.

    Raises
    ------
    PlanError
        If none is called so, or several run and none is named.
    """
    if outing is not None and (Path(outing) / JOURNAL_NAME).exists():
        return Path(outing)
    if outing is not None or running():
        return find(outing).outing
    return last_outing(_UNDER)


def last_outing(under: Path) -> Path | None:
    """Return the outing in a folder whose journal was written last; None where there is none."""
    journals = under.glob(f"*/{JOURNAL_NAME}")
    return max((one.parent for one in journals), key=lambda one: (one / JOURNAL_NAME).stat().st_mtime, default=None)
