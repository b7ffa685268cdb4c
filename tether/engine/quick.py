"""A quick frame when the person wants one: as bright as the ladder, through what is on the lens, by ISO where long.

It is a test exposure, so it is read as one: it tells of light and glass, and counts for no rung.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tether.engine.aim import aim
from tether.engine.frame import make_extra
from tether.engine.run_state import Run
from tether.engine.settings import why_not_set
from tether.engine.transfer import Fetcher
from tether.plan.ladder import Rung
from tether.plan.proof import quick_of
from tether.shot.shot import Shot, shot_of_base, shot_of_proof


def take_quick(run: Run, fetcher: Fetcher, rungs: Sequence[Rung], fitted: Sequence[str]) -> None:
    """Take one, and leave the body set and the state as they were.

    Parameters
    ----------
    rungs
        The rungs of the ladder; one that is made otherwise than planned comes first.
    fitted
        What is on the lens, by name.
    """
    before, state = run.hand.set_for, run.hand.state
    shot = _shot(run, rungs, fitted)
    if shot is None:
        run.say("note", "No quick frame: how bright it is through what is on the lens is not known.")
        return
    run.go("ready")
    make_extra(run, fetcher, shot, stops=False)
    if before is not None and (wrong := why_not_set(run, before)):
        run.hand.set_for = None
        run.say("trouble", f"After the quick frame the body was not set back: {'; '.join(wrong)}.", rung=before.rung)
    run.go(state)


def _shot(run: Run, rungs: Sequence[Rung], fitted: Sequence[str]) -> Shot | None:
    names = tuple(fitted)
    through = [one for one in rungs if tuple(each.name for each in one.fitted) == names]
    if not names:
        base = shot_of_base(run.plan, run.abilities)
        return None if base is None else replace(base, kind="proof", rung=run.hand.rung)
    rung = next((one for one in through if one.number == run.hand.rung), through[0] if through else None)
    if rung is None:
        return None
    choice = aim(run, rung, run.steering.brighter_stops).choice
    return shot_of_proof(rung, quick_of(run.plan, run.abilities, choice))
