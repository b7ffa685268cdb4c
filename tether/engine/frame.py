"""Make one frame and see that its file is awaited, whatever the camera does meanwhile."""

from __future__ import annotations

from tether.body.hold import open_between
from tether.body.protocol import Ended, ShutterRecord
from tether.clock import to_ns, to_s
from tether.engine.exposure import Exposed, expose, record_outcome
from tether.engine.recovery import BUSY_WAITS_S, with_care
from tether.engine.run_state import Run
from tether.engine.settings import why_not_set
from tether.engine.supplies import ask_after_refusal
from tether.engine.transfer import LATE_S, WRITING_S, Fetcher
from tether.journal.records import Said
from tether.plan.takes import body_dark_s
from tether.shot.made import Made
from tether.shot.shot import Shot


def make(run: Run, fetcher: Fetcher, shot: Shot, planned: Shot, *, at_once: bool = False) -> Made | None:
    """Expose one frame.

    Parameters
    ----------
    shot, planned
        The frame as it is asked of the body, and as the ladder has it.
    at_once
        Do not wait for its file: another frame follows at once.

    Returns
    -------
    Made or None
        None if no frame was made, or none that is known to be as asked; the camera is reached again then, its shutter
        shut.

    Raises
    ------
    Stopped
        If the person drops everything.
    TetherError
        If the camera cannot be reached again.
    """
    exposed = _exposed(run, shot, planned)
    if exposed.outcome == "dropped":
        run.stop_if_asked()
    made = exposed.made
    if not exposed.is_expected:
        if _made_all_the_same(run, fetcher, made, exposed, shot):
            return made
        if exposed.lacks and exposed.problem:
            ask_after_refusal(run, shot.rung, exposed.problem)
        return None
    run.files.owe(made)
    if not at_once:
        fetcher.collect(shot.rung)
    return made


def make_extra(run: Run, fetcher: Fetcher, shot: Shot, *, stops: bool = True) -> Made | None:
    """Take a frame that is not a rung's own and bring it home; None, and a word about it, where that can't be.

    Without it the ladder is still worth working. Raises as :func:`make` does; without `stops`, what was said meanwhile
    is left for later.
    """
    if wrong := why_not_set(run, shot):
        run.say("note", f"No {shot.kind} frame: {'; '.join(wrong)}.", rung=shot.rung)
        return None
    made = make(run, fetcher, shot, shot)
    if stops:
        run.stop_if_asked()
    fetcher.drain()
    return made


def _exposed(run: Run, shot: Shot, planned: Shot) -> Exposed:
    """Expose; a body that is still busy with the frame before is waited for."""
    for wait_s in BUSY_WAITS_S:
        exposed = expose(run, shot, planned)
        if not exposed.busy:
            return exposed
        run.pass_time(wait_s)
    return expose(run, shot, planned)


def _made_all_the_same(run: Run, fetcher: Fetcher, made: Made, exposed: Exposed, shot: Shot) -> bool:
    """Reach the camera again, shutter shut; say whether the frame is on the card and as asked all the same.

    Its end is uncertain, so it is its Exif that says how long it was open; that is held against what was asked.
    """
    with_care(run, run.camera.reach_again, rung=made.rung)
    opening = _late_end(run, made.frame) or exposed.opening
    if opening is not None and opening.way == "timed":
        wait_out(run, opening.open_called_ns + to_ns(opening.asked_s + body_dark_s(run.plan, shot.time_s)), made)
    fetcher.expect_perhaps(made, LATE_S if opening is None else WRITING_S)
    fetcher.drain()
    good = run.files.good(made.frame)
    note = f"The end was uncertain: {open_between(opening)}." if opening else ""
    if good:
        note = f"{note} It is on the card and its Exif is as asked.".strip()
        record_outcome(run, made, "made", None, opening, note)
    elif note:
        run.tell(Said(about="note", text=note, frame=made.frame, rung=made.rung, named=False))
    return good


def wait_out(run: Run, free_at_ns: int, made: Made) -> None:
    """Wait until a body that was lost can't be exposing any more; a stop is heard, and the frame is not cut short."""
    left_s = to_s(free_at_ns - run.clock.now_ns())
    if left_s <= 0:
        return
    sentence = (
        f"The camera may be exposing frame {made.frame} for another {left_s:.0f} s by itself; that is waited for."
    )
    run.say("note", sentence, frame=made.frame, rung=made.rung)
    while run.clock.now_ns() < free_at_ns and not run.steering.stop:
        run.hear(free_at_ns)


def _late_end(run: Run, frame: int) -> ShutterRecord | None:
    """Return what is known of a shutter that was closed only when the camera was reached again: an interval."""
    opening = None
    while (item := run.hear(run.clock.now_ns())) is not None:
        if isinstance(item, Ended) and item.frame == frame:
            opening = item.opening
    return opening
