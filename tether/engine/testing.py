"""Test exposures: what a stack of filters takes, told before a rung is made through it, and the light without it."""

from __future__ import annotations

from tether.engine.aim import acting, aim
from tether.engine.frame import make_extra
from tether.engine.run_state import Run
from tether.engine.transfer import Fetcher
from tether.plan.base import base_marks
from tether.plan.ladder import Choice, Rung
from tether.plan.proof import bare_at, proof_of
from tether.shot.shot import shot_of_proof

#: A bare frame comes before glass where the light is not known so well [stops, one standard deviation].
LIGHT_DOUBT_STOPS = 0.03
#: A long rung gets a test exposure of its own where it may come out so far off, a short one where all is open again
#: [stops, one standard deviation].
RUNG_DOUBT_STOPS, SHORT_DOUBT_STOPS = 0.05, 0.7


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
    """Take a test exposure where it is needed, and wait until it is read: its level sets the rung."""
    following = run.following
    proof = rung.proof
    if following.tells and rung.fitted:
        names = tuple(one.name for one in rung.fitted)
        choice = aim(run, rung, 0.0).choice
        needed = not following.knows(names) or _doubtful(run, rung, choice)
        proof = proof_of(run.plan, run.abilities, choice) if needed else None
    if proof is None or run.steering.skip:
        return
    if make_extra(run, fetcher, shot_of_proof(rung, proof)) is not None:
        fetcher.await_readings()


def _doubtful(run: Run, rung: Rung, choice: Choice) -> bool:
    """Say whether a rung made this way may come out too far off, by what is known now."""
    long = choice.time_s >= run.plan.run.proof_over.exact
    foretold = run.following.foretold(acting(rung, choice), run.now_s, 0.0)
    return foretold is not None and foretold.doubt_stops > (RUNG_DOUBT_STOPS if long else SHORT_DOUBT_STOPS)
