"""What to do when the camera says no: try again, reach it again, ask the person, or give up in a sentence."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import TypeVar

from tether.body.protocol import Fitted, SceneChange
from tether.engine.run_state import Run
from tether.engine.tasks import your_turn
from tether.errors import BusyError, CameraError, LostError, SupplyError, TetherError
from tether.exposure.filters import Filter
from tether.journal.records import CardListed

T = TypeVar("T")

#: Waits before trying a busy body again [s]: a dark frame of its own or a slow card may take long.
BUSY_WAITS_S = (0.5, 1.0, 2.0, 4.0, 8.0, 15.0, 30.0)
#: Waits before reaching for a lost camera again [s].
LOST_WAITS_S = (1.0, 2.0, 4.0, 8.0, 15.0, 30.0)
#: How often the person is asked about the same trouble before the rung is given up.
MOST_ASKED = 2


def with_care(run: Run, act: Callable[[], T], *, rung: int | None, busy_for_s: float = 0.0) -> T:
    """Do something with the camera, and do what can be done when it fails.

    Busy: wait and try again (longer where the body may be busy with a dark frame for `busy_for_s`). Refused: once
    more, then the error is the caller's. Lost: reach the camera again. Something missing (card, battery): ask.

    Raises
    ------
    CameraError
        If the body refuses twice.
    TetherError
        If nothing helped.
    Stopped
        If the person stops the run meanwhile.
    """
    asked = 0
    refused = False
    before = ""
    while True:
        try:
            return _patiently(run, act, busy_for_s)
        except CameraError as error:
            if refused:
                raise
            refused = True
            run.say("trouble", f"{error} It is tried once more.", rung=rung)
            run.pass_time(1.0)
        except (LostError, SupplyError, BusyError) as error:
            if isinstance(error, LostError) and _reached_again(run, error, rung):
                continue
            if before == str(error):
                run.say("trouble", "Nothing has changed since you were asked.", rung=rung)
            asked, before = asked + 1, str(error)
            if asked > MOST_ASKED or not _asked(run, error, rung):
                raise


def _patiently(run: Run, act: Callable[[], T], busy_for_s: float) -> T:
    waits = list(BUSY_WAITS_S)
    if busy_for_s:
        waits.append(busy_for_s)
    for wait_s in waits:
        try:
            return act()
        except BusyError:
            run.pass_time(wait_s)
    return act()


def _reached_again(run: Run, error: TetherError, rung: int | None) -> bool:
    """Wait for a lost camera to come back; True once it answers, with its shutter shut."""
    run.go("in trouble")
    run.say("trouble", f"{error} Trying to reach it again.", rung=rung)
    for wait_s in LOST_WAITS_S:
        run.pass_time(wait_s)
        try:
            run.camera.reach_again()
        except TetherError:
            continue
        run.go("ready")
        run.say("note", "The camera answers again; its shutter is shut.", rung=rung)
        return True
    run.go("ready")
    return False


def _asked(run: Run, error: TetherError, rung: int | None) -> bool:
    run.say("trouble", str(error), rung=rung)
    given_up = "the camera is given up, and what needs it is not done"
    answered = your_turn(run, "see to the camera", str(error), rung=rung, takes_s=60.0, otherwise=given_up)
    card = isinstance(error, SupplyError) and "card" in str(error)
    if answered and run.abilities.simulated:
        # A world that cannot be told yet is told when the same trouble is met again.
        with contextlib.suppress(TetherError):
            run.camera.stage(SceneChange(new_battery=True, new_card=card))
    if answered and card:
        know_new_card(run)
    return answered


def know_new_card(run: Run) -> None:
    """Forget names that are not on the card that is in now: another frame may get them, see :func:`known_files`."""
    with contextlib.suppress(TetherError):
        run.files.known &= {place for file in run.camera.card_files() for place in file.places}
        run.tell(CardListed(ladder=run.ladder_number, files=[list(place) for place in sorted(run.files.known)]))


def stage(run: Run, change: SceneChange) -> None:
    """Tell a simulated world what the person did at the tripod; a real one knows."""
    if run.abilities.simulated:
        with_care(run, lambda: run.camera.stage(change), rung=None)


def stage_filters(run: Run, fitted: tuple[Filter, ...]) -> None:
    """Put filters on the simulated lens, with those that are always on."""
    on_lens = (*run.ladder.always_on, *fitted)
    # A graduated filter holds back a sky that the simulated scene does not have.
    strengths = [(one.name, 0.0 if one.kind == "graduated" else one.nominal_stops) for one in on_lens]
    stage(run, SceneChange(fitted=tuple(Fitted(name=name, stops=stops) for name, stops in strengths)))
