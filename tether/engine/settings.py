"""Set the body for a frame, believe only what it reads back, and solve around what it will not take."""

from __future__ import annotations

from collections.abc import Callable

from tether.body.protocol import ReadBack
from tether.engine.recovery import with_care
from tether.engine.run_state import Run
from tether.errors import CameraError, TetherError
from tether.exposure.marks import nearest
from tether.exposure.stops import aperture_stops, iso_stops
from tether.journal.records import Applied, ApplyIntent, ApplyOutcome
from tether.plan.again import SAME_SETTING_STOPS, solve_again
from tether.plan.choices import allowed_apertures, allowed_isos
from tether.plan.ladder import Choice, Rung
from tether.shot.comparison import applied_of, other_values
from tether.shot.shot import Shot, shot_of_rung

#: How often a rung is solved again around values the body took instead.
MOST_SOLVED = 3


def apply(run: Run, shot: Shot) -> list[str]:
    """Send the settings of a frame, and once more if the body reads back another value.

    Returns
    -------
    list of str
        What is still otherwise than asked, in sentences; empty if all is as asked.

    Raises
    ------
    TetherError
        If the body refuses, or cannot be reached.
    """
    return other_values(shot, _applied(run, shot))


def why_not_set(run: Run, shot: Shot) -> list[str]:
    """Set the body for a frame and return to "ready"; in sentences why it is not set so, where it is not."""
    run.go("setting")
    try:
        wrong = apply(run, shot)
    except CameraError as error:
        wrong = [str(error)]
    run.go("ready")
    return wrong


def _applied(run: Run, shot: Shot) -> ReadBack:
    read = _send(run, shot)
    return _send(run, shot) if other_values(shot, read) else read


def _send(run: Run, shot: Shot) -> ReadBack:
    frame = run.hand.next_frame
    run.tell(ApplyIntent(frame=frame, asked=shot.applied, rung=shot.rung))
    try:
        read = with_care(run, lambda: run.camera.apply(shot.settings), rung=shot.rung, busy_for_s=_busy_for_s(run))
    except TetherError as error:
        run.tell(ApplyOutcome(frame=frame, read_back=None, problem=str(error)))
        raise
    run.tell(ApplyOutcome(frame=frame, read_back=applied_of(read)))
    run.hand.set_for = shot
    return read


def _busy_for_s(run: Run) -> float:
    """How long the body may be busy with its own dark frame at the longest [s]."""
    if run.plan.run.dark_frames != "by the body":
        return 0.0
    return max((rung.choice.time_s for rung in run.ladder.rungs), default=0.0)


def set_for_rung(run: Run, rung: Rung, choice: Choice, brighter_stops: float = 0.0) -> tuple[Shot, str]:
    """Set the body for a rung, solving around what it takes instead as far as the limits of the plan allow.

    `brighter_stops` is how much brighter than planned `choice` already is. Returns what it is set for, and what was
    solved around, in words; empty: all is as planned.

    Raises
    ------
    CameraError
        If the body refuses a value, or takes one that cannot be solved around.
    TetherError
        If the camera cannot be reached.
    """
    run.go("setting")
    around: list[str] = []
    for _ in range(MOST_SOLVED):
        shot = shot_of_rung(rung, choice)
        read = _applied(run, shot)
        wrong = other_values(shot, read)
        if not wrong:
            run.go("ready")
            return shot, "; ".join(around)
        solved = _solved_around(run, rung, choice, brighter_stops, shot, applied_of(read))
        if solved is None:
            break
        around += wrong
        run.say("note", f"The body took another value: {'; '.join(wrong)}. The rest is solved again.", rung=rung.number)
        choice = solved
    run.go("ready")
    raise CameraError(f"The body does not take what this rung needs: {'; '.join(wrong)}.")


def _solved_around(run: Run, rung: Rung, choice: Choice, brighter: float, shot: Shot, read: Applied) -> Choice | None:
    """Return the rung solved again from what the body took, or None where that lies outside the plan's limits."""
    if read.time_label != shot.time_label and (shot.way == "held" or read.time_s is None):
        return None
    aperture = _taken(read.aperture, shot.aperture.exact, aperture_stops)
    iso = _taken(read.iso, shot.iso.exact, iso_stops)
    apertures = [mark.exact for mark in allowed_apertures(run.plan, run.abilities)]
    isos = [mark.exact for mark in allowed_isos(run.plan, run.abilities)]
    if aperture is not None and not apertures[0] * 0.99 <= aperture <= apertures[-1] * 1.01:
        return None
    if iso is not None and not isos[0] * 0.99 <= iso <= isos[-1] * 1.01:
        return None
    wanted = rung.wanted
    if read.time_s is not None and shot.way == "timed" and read.time_label != shot.time_label:
        wanted = nearest(run.abilities.times, read.time_s)
    again = choice if not brighter else rung.choice
    return solve_again(run.plan, run.abilities, again, wanted, brighter_by_stops=brighter, aperture=aperture, iso=iso)


def _taken(read: float | None, asked: float, difference: Callable[[float, float], float]) -> float | None:
    """Return the value read where it is another than the one asked for."""
    if read is None or abs(difference(read, asked)) <= SAME_SETTING_STOPS:
        return None
    return read
