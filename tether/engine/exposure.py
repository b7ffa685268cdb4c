"""Make one exposure: intent, order to the camera, steering while it is open, outcome."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tether.body.protocol import Changed, Ended, Failed, Opened, Order, ShutterRecord
from tether.checks.host_clocks import ClockReading, between, slept_sentence, stepped_sentence
from tether.clock import to_ns, to_s
from tether.engine.in_hand import OpenFrame
from tether.engine.run_state import Run
from tether.errors import TetherError
from tether.exposure.agreement import times_agree
from tether.exposure.labels import time_label, with_unit
from tether.journal.records import (
    EXPOSED,
    CloseMoved,
    ExposeIntent,
    ExposeOutcome,
    FrameOpened,
    FrameOutcome,
)
from tether.plan.takes import body_dark_s
from tether.shot.comparison import by_commands_s, wanted_of
from tether.shot.made import Made
from tether.shot.shot import Shot

#: A close that was moved by more than this was moved by the person [s].
CHANGED_S = 0.001
#: What of a shutter's record is told as it is.
_CALLS = ("open_called_ns", "open_returned_ns", "close_called_ns", "close_returned_ns")
_OF_OPENING = (*_CALLS, "realtime", "closed_by", "body_said_s")
#: What resuming makes of it is for :mod:`tether.journal.history` to say.
_CUT_SHORT = "Closed early to end the run: this frame is kept and does not count; resumed, the ladder makes it again."


@dataclass(frozen=True, kw_only=True)
class Exposed:
    """One exposure that is over.

    Attributes
    ----------
    made
        What its file is held against, after what the person changed.
    busy
        Whether the body would not begin.
    lacks
        Whether it would not for want of battery or card.
    opening
        What is known of it from our side of the cable.
    """

    made: Made
    outcome: FrameOutcome
    problem: str | None
    busy: bool = False
    lacks: bool = False
    opening: ShutterRecord | None = None

    @property
    def is_expected(self) -> bool:
        """Whether a frame of it may be expected on the card."""
        return self.outcome in EXPOSED


def expose(run: Run, shot: Shot, planned: Shot) -> Exposed:
    """Make one exposure and return how it went; never raises for what the camera does.

    Parameters
    ----------
    shot
        The frame as it is asked of the body.
    planned
        The frame as the ladder has it (for the journal).
    """
    frame = run.hand.number_frame()
    order = Order(
        frame=frame,
        way=shot.way,
        command_s=shot.between_commands_s(run.abilities),
        busy_after_s=body_dark_s(run.plan, shot.time_s),
    )
    run.tell(
        ExposeIntent(
            frame=frame,
            ladder=run.ladder_number,
            rung=shot.rung,
            kind=shot.kind,
            way=shot.way,
            planned=planned.applied,
            asked=shot.applied,
            open_s=shot.time_s,
            filters=list(shot.filters),
            filter_stops=shot.filter_stops,
        )
    )
    run.go("opening")
    run.hand.open = OpenFrame(frame=frame, held=shot.way == "held", command_s=order.command_s)
    began = run.look()
    try:
        run.camera.begin(order)
    except TetherError as error:
        ended: Ended | Failed | None = Failed(frame=frame, kind=error.kind, sentences=error.sentences, opening=None)
    else:
        ended = _follow(run, shot, order)
    run.hand.open = None
    run.go("ready")
    exposed = _over(run, shot, order, ended)
    _watch_clocks(run, began, shot, frame)
    return exposed


def _watch_clocks(run: Run, began: ClockReading, shot: Shot, frame: int) -> None:
    """Mark a frame during which the machine slept, and say where the wall clock was set: labels only."""
    passed = between(began, run.look())
    slept, stepped = slept_sentence(passed), stepped_sentence(passed)
    if slept:
        run.say("trouble", slept, frame=frame, rung=shot.rung)
    if stepped:
        run.say("note", stepped, frame=frame, rung=shot.rung)


def _follow(run: Run, shot: Shot, order: Order) -> Ended | Failed | None:
    """Follow the exposure to its end; None when the camera has not said a word long after it should have."""
    opened_ns = run.clock.now_ns()
    overdue_ns = opened_ns + to_ns(order.command_s + run.patience_s)
    while True:
        item = run.hear(overdue_ns)
        if item is None:
            return None
        if isinstance(item, Ended | Failed) and item.frame == order.frame:
            return item
        if isinstance(item, Opened) and item.frame == order.frame:
            opened_ns = item.at_ns
            run.go("open")
            run.tell(
                FrameOpened(
                    frame=order.frame,
                    rung=shot.rung,
                    kind=shot.kind,
                    way=shot.way,
                    open_s=shot.time_s,
                    at_ns=item.at_ns,
                    closes_at_ns=item.closes_at_ns,
                )
            )
        if isinstance(item, Changed) and item.frame == order.frame:
            overdue_ns = item.closes_at_ns + to_ns(run.patience_s)
            if run.hand.open:
                run.hand.open.command_s = to_s(item.closes_at_ns - opened_ns)
            run.tell(CloseMoved(frame=order.frame, closes_at_ns=item.closes_at_ns))


def _over(run: Run, shot: Shot, order: Order, ended: Ended | Failed | None) -> Exposed:
    opening = None if ended is None else ended.opening
    commands_s = by_commands_s(shot, order, ended.opening) if isinstance(ended, Ended) else None
    outcome, problem = _judged(run, shot, order, ended)
    # As asked, changed by what the person said while it was open.
    wanted_s = shot.time_s if opening is None else shot.time_s + opening.asked_s - order.command_s
    if outcome == "closed early" and commands_s is not None:
        wanted_s = commands_s
    made = Made(
        frame=order.frame,
        kind=shot.kind,
        rung=shot.rung,
        wanted=wanted_of(shot, run.abilities, wanted_s, commands_s),
        filters=shot.filters,
        filter_stops=shot.filter_stops,
        opened_s=None if opening is None else to_s(opening.open_called_ns),
        answered_s=0.0 if opening is None else to_s(opening.open_returned_ns - opening.open_called_ns),
    )
    held_s = opening.held_s if opening is not None and commands_s is not None else None
    record_outcome(run, made, outcome, held_s, opening, problem)
    failed = ended if isinstance(ended, Failed) else None
    return Exposed(
        made=made,
        outcome=outcome,
        problem=problem,
        busy=failed is not None and failed.kind == "busy" and failed.opening is None,
        lacks=failed is not None and failed.kind == "supply",
        opening=opening,
    )


def record_outcome(
    run: Run,
    of: Made | ExposeIntent,
    outcome: FrameOutcome,
    held_s: float | None,
    opening: ShutterRecord | None,
    note: str | None,
) -> None:
    """Tell how an exposure ended; what is learned later is told anew."""
    told: dict[str, Any] = {name: getattr(opening, name, None) for name in _OF_OPENING}
    run.tell(
        ExposeOutcome(
            frame=of.frame,
            rung=of.rung,
            kind=of.kind,
            outcome=outcome,
            held_s=held_s,
            opened_utc=_utc_of(run, opening.open_called_ns) if opening else None,
            closed_utc=_utc_of(run, opening.close_called_ns) if opening else None,
            note=note,
            **told,
        )
    )


def _judged(run: Run, shot: Shot, order: Order, ended: Ended | Failed | None) -> tuple[FrameOutcome, str | None]:
    if ended is None:
        return (
            "lost",
            f"The camera has not said a word {run.patience_s:.0f} s after the exposure should have been over.",
        )
    if isinstance(ended, Failed):
        return ("lost" if ended.kind == "lost" else "failed"), " ".join(ended.sentences)
    if run.steering.stop == "drop everything":
        return "dropped", "The person dropped everything; the frame stays on the card."
    opening = ended.opening
    if shot.way == "held" and opening.closed_by == "person":
        cut_short = run.steering.stop is not None and not times_agree(opening.held_s, shot.time_s)
        return "closed early", _CUT_SHORT if cut_short else None
    if shot.way == "held" and not times_agree(opening.held_s, opening.asked_s):
        return "made, differs", held_otherwise(opening)
    changed = abs(opening.asked_s - order.command_s) > CHANGED_S
    return "made", f"While it was open it was asked to be {opening.asked_s:.1f} s." if changed else None


def held_otherwise(opening: ShutterRecord) -> str:
    """Say that a shutter was held for another time than asked, and why, as far as that shows."""
    held, asked = (with_unit(time_label(time_s)) for time_s in (opening.held_s, opening.asked_s))
    said = f"Between opening and closing lay {held}, not {asked}"
    if opening.closed_by == "camera process":
        return f"{said}: the camera process was told to end and closed the shutter first."
    late_s = to_s(opening.open_returned_ns - opening.open_called_ns)
    return (
        f"{said}: the camera took {late_s:.1f} s to answer the command that opens. Its Exif tells how long it was open."
    )


def _utc_of(run: Run, at_ns: int) -> str:
    return run.clock.utc_of(at_ns).isoformat(timespec="milliseconds")
