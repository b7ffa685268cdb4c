"""What is left to work with: battery, card, disk; as the body and the machine tell it; and asking for more."""

from __future__ import annotations

from tether.body.protocol import SceneChange, Status
from tether.checks.host import disk_at
from tether.engine.recovery import MOST_ASKED, know_new_card, stage, with_care
from tether.engine.run_state import Run
from tether.engine.tasks import your_turn
from tether.journal.records import SuppliesSeen

BATTERY, CARD = "change the battery", "change the card"
#: What a simulated world is told when the person has done it.
_STAGED = {BATTERY: SceneChange(new_battery=True), CARD: SceneChange(new_card=True)}
#: How long a change is expected to take [s].
_TAKES_S = 60.0


def seen(status: Status, run: Run, rung: int) -> SuppliesSeen:
    """Return what is left before a rung, and how many frames are still to come from it on."""
    try:
        disk_bytes = disk_at(run.folder.path).free_bytes
    except OSError:
        disk_bytes = None
    frame_bytes = run.abilities.frame_bytes
    return SuppliesSeen(
        battery=status.battery,
        card_frames=status.card_frames_left,
        temperature_c=status.temperature_c,
        disk_bytes=disk_bytes,
        disk_frames=disk_bytes // frame_bytes if disk_bytes is not None and frame_bytes else None,
        to_come=len(run.ladder.exposures_from(rung)),
        battery_low=status.battery_low,
    )


def ask_for_supplies(run: Run, rung: int, frames: int) -> None:
    """Ask for a battery or a card before the body has to fail for want of one; what is answered is looked at again.

    Parameters
    ----------
    rung
        The rung that comes next.
    frames
        How many frames of it are still to be taken.

    Raises
    ------
    TetherError
        If the camera can't be asked.
    Stopped
        If the person stops the run instead.
    """
    status = _look(run, rung)
    for what in (BATTERY, CARD):
        status = _provided(run, rung, what, frames, status)


def ask_after_refusal(run: Run, rung: int | None, said: str) -> None:
    """Ask for the battery or the card for want of which a frame was refused; taking it again is how that is checked."""
    what = CARD if "card" in said else BATTERY
    if your_turn(run, what, said, rung=rung, takes_s=_TAKES_S):
        _done(run, what)


def _done(run: Run, what: str) -> None:
    """Tell a simulated world what the person did, and look what is on another card."""
    stage(run, _STAGED[what])
    if what == CARD:
        know_new_card(run)


def _look(run: Run, rung: int) -> Status:
    """Ask the body for its status, and tell what is left to work with."""
    status = with_care(run, run.camera.status, rung=rung)
    run.tell(seen(status, run, rung))
    return status


def _wanted(what: str, status: Status, frames: int) -> str | None:
    """Say why another battery or card is wanted; None: it is not."""
    if what == BATTERY:
        return status.battery_wanted
    left = status.card_frames_left
    if left is None or left >= frames:
        return None
    return f"the card has room for {left} frame{'' if left == 1 else 's'}, this rung needs {frames}"


def _provided(run: Run, rung: int, what: str, frames: int, status: Status) -> Status:
    """Ask for one thing until it is there, not for ever; return the status as it then is.

    What the person left as it was is not asked for again as long as the reason stays the same.
    """
    for _ in range(MOST_ASKED):
        why = _wanted(what, status, frames)
        if why is None:
            run.hand.left_as_it_is.pop(what, None)
            return status
        if run.hand.left_as_it_is.get(what) == why or not your_turn(run, what, why, rung=rung, takes_s=_TAKES_S):
            return status
        _done(run, what)
        status = _look(run, rung)
        if (still := _wanted(what, status, frames)) is not None:
            run.say("trouble", f"Nothing has changed: {still}.", rung=rung)
    if (why := _wanted(what, status, frames)) is not None:
        run.hand.left_as_it_is[what] = why
        run.say("note", f"Continuing without: {what}.", rung=rung)
    return status
