"""Sidecars at the end of a ladder, where the plan asks for them."""

from __future__ import annotations

from tether.engine.run_state import Run
from tether.errors import TetherError
from tether.journal.telling import tell


def hand_over(run: Run) -> None:
    """Write sidecars beside the outing's raw files if the plan wants them, and say so; what goes wrong is said too."""
    if not run.plan.run.sidecars:
        return
    from tether.report.choices import read_choices  # loads what most runs do without
    from tether.report.sidecars import write_sidecars

    folder = run.folder.path
    told = tell(run.journal.entries(), name=folder.resolve().name, running=True)
    try:
        written = write_sidecars(folder, told, read_choices(folder))
    except TetherError as error:
        run.say("trouble", f"No sidecars were written. {error}")
        return
    for problem in written.problems:
        run.say("trouble", problem)
    run.say("note", " ".join((written.summary, *written.stayed)))
