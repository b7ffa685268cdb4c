"""Test exposures: what a stack of filters takes, told before a rung is made through it, and the light without it.

One of them is the quick frame that the person wants: as bright as the ladder, through what is on the lens, by ISO where
long. It is read as the others are: it tells of light and glass, and counts for no rung.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tether.engine.aim import acting, aim
from tether.engine.frame import make_extra
from tether.engine.run_state import Run
from tether.engine.settings import why_not_set
from tether.engine.transfer import Fetcher
from tether.plan.base import base_marks
from tether.plan.ladder import Proof, Rung
from tether.plan.proof import bare_at, proof_of, quick_of
from tether.shot.shot import Shot, shot_of_base, shot_of_proof

#: A bare frame comes before glass where the light is not known so well [stops, one standard deviation].
LIGHT_DOUBT_STOPS = 0.03
#: A long rung gets a test exposure of its own where it may come out so far off, a short one where all is open again
#: [stops, one standard deviation].
RUNG_DOUBT_STOPS, SHORT_DOUBT_STOPS = 0.05, 0.7
#: From so much doubt on a test exposure is made darker by what is beyond it, at most by so much [stops].
CAREFUL_FROM_STOPS, CAREFUL_STOPS = 1.0, 3.0


def before_glass(run: Run, fetcher: Fetcher, rung: Rung, fitted: tuple[str, ...]) -> None:
    """Take what is to be told without glass while there is none: the light now, and the step of the test's ISO."""
    marks = base_marks(run.plan, run.abilities)
    if fitted or not rung.fitted or run.steering.skip or marks is None or not run.following.tells:
        return
    fetcher.await_readings()
    now = run.following.light(run.now_s)
    wanted = [one for one in rung.bare if one.iso.exact not in run.following.known_isos()]
    if now is not None and now.doubt_stops > LIGHT_DOUBT_STOPS:
        light = bare_at(run.plan, run.abilities, marks[2])
        wanted += [light] if light else []
    for one in wanted:
        make_extra(run, fetcher, shot_of_proof(rung, one, bare=True))


def test(run: Run, fetcher: Fetcher, rung: Rung) -> None:
    """Take a test exposure where it is needed, and wait until it is read: its level sets the rung.

    Where the light may be anything by now it is made darker than it should be, which can be read too; and once more,
    darker still, where nothing could be read of it.
    """
    following = run.following
    if not (following.tells and rung.fitted):
        _take(run, fetcher, rung, rung.proof)
        return
    choice = aim(run, rung, 0.0).choice
    foretold = following.foretold(acting(rung, choice), run.now_s, 0.0)
    doubt = 0.0 if foretold is None else foretold.doubt_stops
    bound = RUNG_DOUBT_STOPS if choice.time_s >= run.plan.run.proof_over.exact else SHORT_DOUBT_STOPS
    if following.knows(tuple(one.name for one in rung.fitted)) and doubt <= bound:
        return
    darker, read = min(max(doubt - CAREFUL_FROM_STOPS, 0.0), CAREFUL_STOPS), len(following.seen)
    _take(run, fetcher, rung, _darker(run, rung, darker))
    if darker and len(following.seen) == read:
        _take(run, fetcher, rung, _darker(run, rung, darker + CAREFUL_STOPS))


def _take(run: Run, fetcher: Fetcher, rung: Rung, proof: Proof | None) -> None:
    if proof is not None and not run.steering.skip and make_extra(run, fetcher, shot_of_proof(rung, proof)) is not None:
        fetcher.await_readings()


def _darker(run: Run, rung: Rung, stops: float) -> Proof | None:
    return proof_of(run.plan, run.abilities, aim(run, rung, 0.0).choice, stops)


def take_quick(run: Run, fetcher: Fetcher, rungs: Sequence[Rung], fitted: Sequence[str]) -> None:
    """Take a quick frame, and leave the body set and the state as they were.

    Parameters
    ----------
    rungs
        The rungs of the ladder; one that is made otherwise than planned comes first.
    fitted
        What is on the lens, by name.
    """
    before, state = run.hand.set_for, run.hand.state
    shot = _quick_shot(run, rungs, fitted)
    if shot is None:
        run.say("note", "No quick frame: how bright it is through what is on the lens is not known.")
        return
    run.go("ready")
    make_extra(run, fetcher, shot, stops=False)
    if before is not None and (wrong := why_not_set(run, before)):
        run.hand.set_for = None
        run.say("trouble", f"After the quick frame the body was not set back: {'; '.join(wrong)}.", rung=before.rung)
    run.go(state)


def _quick_shot(run: Run, rungs: Sequence[Rung], fitted: Sequence[str]) -> Shot | None:
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
