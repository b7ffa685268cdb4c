"""Other filters than planned, proposed before the planned ones go on: where the light leaves those no way."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tether.engine.aim import ASKED_EACH_STOPS, TOLD_STOPS, acting, aim, causes
from tether.engine.run_state import Run
from tether.exposure.filters import change_s
from tether.exposure.labels import time_label, with_unit
from tether.light.acting import Acting
from tether.plan.aiming import Aim
from tether.plan.ladder import Rung
from tether.plan.path import Stack, touched
from tether.plan.refit import refitted
from tether.plan.words import in_stops, stack_name

#: Light that still moves by more than this until the rung opens is spoken of as light to come [stops].
SOON_STOPS = 1 / 6


@dataclass(frozen=True, kw_only=True)
class Refit:
    """A rung through other filters than planned: how it is made, how far it is corrected in all, and why, in words."""

    rung: Rung
    corrected_stops: float
    why: str


def refit(run: Run, rung: Rung, on_lens: Stack) -> Refit | None:
    """Return a rung through other filters on hand, where what is known leaves no way with those planned; else None.

    What the plan only has said ("say") is worked out all the same, for it to be said.
    """
    if run.plan.readings.correct == "off" or not run.following.tells:
        return None
    run = replace(run, plan=replace(run.plan, readings=run.plan.readings.model_copy(update={"correct": "take"})))
    opens_s = _opens_s(run, rung.fitted, on_lens)
    planned = _aimed(run, rung, opens_s)
    foretold = run.following.foretold(acting(rung, planned.choice), opens_s, planned.choice.time_s)
    # It can be made as promised, but for what is not known so well.
    if foretold is None or abs(planned.left_stops) <= max(TOLD_STOPS, foretold.doubt_stops):
        return None
    made = _made_through(run, rung, on_lens)
    if made is None:
        return None
    other, found = made
    because = _causes(run, rung, _opens_s(run, other.fitted, on_lens))
    instead = f"with {stack_name(other.fitted)} instead of {stack_name(rung.fitted)}"
    why = f"{because}: {instead} this rung comes out as promised at {with_unit(time_label(found.choice.time_s))}."
    return Refit(rung=other, corrected_stops=abs(found.followed_stops), why=why)


def stays(run: Run, rung: Rung, on_lens: Stack) -> Rung | None:
    """Return a rung through what is on the lens, not as planned; None where that can't be, or nothing is followed.

    For a rung that was begun so: its frames are made through one stack.
    """
    if run.plan.readings.correct != "take" or not run.following.tells:
        return None
    made = _made_through(run, rung, on_lens, only_on_lens=True)
    return made and made[0]


def beside(rung: Rung, refit: Rung) -> Rung:
    """Return a frame of a bracket through the filters and at the aperture that its rung is made with now."""
    now = refit.choice
    choice = replace(rung.choice, stack=now.stack, filter_stops=now.filter_stops, aperture=now.aperture)
    return replace(rung, choice=choice, fitted=refit.fitted, proof=rung.proof if refit.fitted else None)


def agreed(run: Run, found: Refit) -> None:
    """Remember that the person let a rung be corrected so far: they were asked about its filters."""
    following = run.following
    following.agreed_stops = max(following.agreed_stops, found.corrected_stops + ASKED_EACH_STOPS)


def refused(run: Run) -> None:
    """Remember that the person keeps to the filters planned, and lets nothing be corrected beyond what was agreed."""
    run.steering.skipped()
    run.following.at_most_stops = run.following.agreed_stops


def _opens_s(run: Run, fitted: Stack, on_lens: Stack) -> float:
    """Return when a rung can open once other filters are on the lens, by the run's clock [s]."""
    off, on = touched(on_lens, fitted)
    settles_s = run.plan.run.settle_s if off or on else 0.0
    return run.now_s + change_s(off, on) + settles_s


def _aimed(run: Run, rung: Rung, opens_s: float) -> Aim:
    return aim(run, rung, run.steering.brighter_stops, opens_s)


def _made_through(
    run: Run,
    rung: Rung,
    on_lens: Stack,
    *,
    only_on_lens: bool = False,
) -> tuple[Rung, Aim] | None:
    """Return the best of the other ways that comes out as promised, and how it is made."""
    settings = rung.choice

    def dimmer(fitted: Stack) -> float:
        through = Acting(
            filters=tuple(one.name for one in fitted), aperture=settings.aperture.exact, iso=settings.iso.exact
        )
        foretold = run.following.foretold(through, _opens_s(run, fitted, on_lens), rung.wanted.exact)
        return run.steering.brighter_stops - (0.0 if foretold is None else foretold.stops)

    others = refitted(run.plan, run.abilities, rung, on_lens, dimmer, only_on_lens=only_on_lens)
    for other in others:
        found = _aimed(run, other, _opens_s(run, other.fitted, on_lens))
        if abs(found.left_stops) < TOLD_STOPS:
            return other, found
    return None


def _causes(run: Run, rung: Rung, opens_s: float) -> str:
    """Say what leaves a rung no way with its filters, as the beginning of a sentence."""
    now, then = run.following.light(run.now_s), run.following.light(opens_s)
    glass = run.following.glass_stops([one.name for one in rung.fitted])
    if now is None or then is None or abs(then.stops) < max(abs(glass), TOLD_STOPS):
        said = causes(run, rung)
        return said[:1].upper() + said[1:]
    moved = f"{'fallen' if then.stops < 0 else 'risen'} by {in_stops(abs(then.stops))}"
    soon = abs(then.stops - now.stops) > SOON_STOPS
    return f"By then the light will have {moved}" if soon else f"The light has {moved}"
