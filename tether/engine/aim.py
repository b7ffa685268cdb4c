"""What a rung is really made with, solved when it is used: as bright as promised, whatever light and glass do."""

from __future__ import annotations

from dataclasses import replace

from tether import wording as words
from tether.engine.run_state import Run
from tether.engine.tasks import your_turn
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.light.acting import Acting
from tether.plan.aiming import Aim, Aiming
from tether.plan.choices import make_space
from tether.plan.correcting import correct
from tether.plan.ladder import Choice, Rung

#: Less than this is not worth another setting, nor another time of a held rung [stops].
LEAST_STOPS, LEAST_HELD_STOPS = 0.04, 0.005
#: From so much on it is said that a rung is made otherwise than planned, and what could not be made [stops].
MADE_STOPS, TOLD_STOPS = 0.1, 1 / 6
#: A cause counts from so much on [stops].
CAUSE_STOPS = 0.03
#: Once the person was asked about a correction, they are asked again when it has grown by so much [stops].
ASKED_EACH_STOPS = 1.0
#: So long an answer is waited for [s]; then it is made, as the plan says.
ASKED_FOR_S = 60.0


def aim(run: Run, rung: Rung, steered_stops: float, opens_s: float | None = None) -> Aim:
    """Return how a rung is made; as planned where the limits leave no setting at all.

    Parameters
    ----------
    steered_stops
        How much brighter than planned it is wanted, light and glass apart [stops].
    opens_s
        When it opens, by the run's clock [s]; None: now.
    """
    opens_s = run.now_s if opens_s is None else opens_s
    return Aiming(
        space=make_space(run.plan, run.abilities, (rung.choice.stack,)),
        choice=rung.choice,
        wanted_stops=lambda choice: follow_stops(run, rung, choice, opens_s),
        at_most_stops=min(run.plan.readings.correct_at_most_stops, run.following.at_most_stops),
        steered_stops=steered_stops,
        known_isos=run.following.known_isos(),
    ).aim()


def follow_stops(run: Run, rung: Rung, choice: Choice, opens_s: float) -> float:
    """Return how much brighter than planned a rung made this way should be, for light and glass [stops]."""
    if not run.following.tells or run.plan.readings.correct != "take":
        return 0.0
    foretold = run.following.foretold(acting(rung, choice), opens_s, choice.time_s)
    least = LEAST_HELD_STOPS if choice.way == "held" else LEAST_STOPS
    return -foretold.stops if foretold is not None and abs(foretold.stops) >= least else 0.0


def acting(rung: Rung, choice: Choice) -> Acting:
    """Return what of a rung made this way decides how bright it comes out, beside the light."""
    names = tuple(one.name for one in rung.fitted)
    return Acting(filters=names, aperture=choice.aperture.exact, iso=choice.iso.exact)


def changed_stops(choice: Choice, planned: Choice) -> tuple[float, float, float]:
    """Return how much brighter settings are than those planned, by time, aperture and ISO [stops]."""
    return (
        time_stops(choice.time_s, planned.time_s),
        aperture_stops(choice.aperture.exact, planned.aperture.exact),
        iso_stops(choice.iso.exact, planned.iso.exact),
    )


def tell(run: Run, rung: Rung, found: Aim) -> None:
    """Say how a rung is made otherwise than planned for light and glass, why, and what is left of it."""
    changed = changed_stops(found.choice, rung.choice)
    if found.followed_stops and abs(sum(changed)) >= MADE_STOPS:
        how = words.settings_changed(*changed)
        said = f"{how[:1].upper()}{how[1:]} than planned, since {causes(run, rung)}."
        run.say("note", said, rung=rung.number)
    if abs(found.left_stops) >= TOLD_STOPS:
        said = f"It comes out {words.brighter(-found.left_stops)} than promised: {_why_left(run, rung, found)}."
        run.say("note", said, rung=rung.number)


def propose(run: Run, rung: Rung) -> None:
    """Say what would be made otherwise, where the plan only has that said."""
    if run.plan.readings.correct != "say" or not run.following.tells:
        return
    opens_s = run.now_s
    foretold = run.following.foretold(acting(rung, rung.choice), opens_s, rung.choice.time_s)
    if foretold is not None and abs(foretold.stops) >= TOLD_STOPS:
        how = "“brighter” (b)" if foretold.stops < 0 else "“darker” (d)"
        said = f"It will come out {words.brighter(foretold.stops)} than promised: {causes(run, rung)}."
        run.say("note", f"{said} Proposed: {how}.", rung=rung.number)


def causes(run: Run, rung: Rung) -> str:
    """Say what makes a rung come out otherwise: the light, and what its filters really take."""
    following = run.following
    light = following.light(run.now_s)
    glass = following.glass_stops([one.name for one in rung.fitted])
    said = []
    if light is not None and abs(light.stops) >= CAUSE_STOPS:
        is_or = "is expected to be" if abs(following.unseen_stops(run.now_s)) >= CAUSE_STOPS else "is"
        said.append(f"the light {is_or} {words.brighter(light.stops)} than at the base")
    if abs(glass) >= CAUSE_STOPS:
        takes = sum(one.stops for one in rung.fitted)
        said.append(f"{' + '.join(one.name for one in rung.fitted)} takes {takes - glass:.2f} stops, not {takes:.2f}")
    return " and ".join(said) or "light and settings go a little otherwise"


def _why_left(run: Run, rung: Rung, found: Aim) -> str:
    """Say why a rung is not made as bright as promised, and what would do."""
    followed = abs(found.followed_stops)
    if followed >= run.following.at_most_stops:
        return f"you let it be corrected by {followed:.2f} stop and no more"
    if followed >= run.plan.readings.correct_at_most_stops:
        return f"the plan lets it be corrected by {followed:.2f} stop and no more (readings.correct_at_most_stops)"
    free = run.plan.limits.model_copy(update={"iso": None, "iso_stops": None})
    space = make_space(replace(run.plan, limits=free), run.abilities, (rung.choice.stack,))
    again = correct(space, rung.choice, found.followed_stops)
    if again is not None and abs(again.left_stops) < TOLD_STOPS:
        return f"the limits leave no more. ISO {again.choice.iso.label} would do"
    fewer = ". Fewer stops of filters would do" if found.left_stops > 0 and rung.fitted else ""
    return f"the limits leave no more{fewer}"


def consent(run: Run, rung: Rung, found: Aim) -> bool:
    """Ask the person once the whole correction goes far; return False where it is not to go so far.

    Without an answer it is made, as the plan says; where nobody is to be asked, too.
    """
    total, following = abs(found.followed_stops), run.following
    if total <= following.agreed_stops or run.answer_for_me:
        return True
    light = f"{abs(found.followed_stops):.2f} stop {'more' if found.followed_stops > 0 else 'less'} light than planned"
    what = f"give rung {rung.number} {light}, or leave that (skip)"
    otherwise = f"it is corrected by {following.agreed_stops:.2f} stop and no more"
    your_turn(
        run,
        what,
        causes(run, rung),
        rung=rung.number,
        at_most_s=ASKED_FOR_S,
        unanswered="it is given",
        otherwise=otherwise,
    )
    if run.steering.skipped():
        following.at_most_stops = following.agreed_stops
        return False
    following.agreed_stops = total + ASKED_EACH_STOPS
    return True
