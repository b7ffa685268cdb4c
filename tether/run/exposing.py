"""Make one exposure: intent, order to the camera, steering while it is open, outcome."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from tether.body.protocol import Changed, Ended, Failed, Opened, Opening, Order
from tether.clock import to_ns, to_s
from tether.errors import TetherError
from tether.journal.records import ExposeIntent, ExposeOutcome, FrameOutcome
from tether.run.context import OpenFrame, Run
from tether.run.events import CloseMoved, FrameOpened, FrameOver
from tether.run.moments import Mark, between, slept_sentence, stepped_sentence
from tether.run.shots import Shot

#: A close that was moved by more than this was moved by the person [s].
CHANGED_S = 0.001


@dataclass(frozen=True, kw_only=True)
class Exposed:
    """One exposure that is over.

    `open_s` is how long it gathered light as far as our commands tell [s]; `busy` says that the body would not begin,
    `lacks` that it would not for want of battery or card; `opening` is what is known of it from our side of the cable.
    """

    frame: int
    outcome: FrameOutcome
    open_s: float
    problem: str | None
    busy: bool = False
    lacks: bool = False
    opening: Opening | None = None

    @property
    def made(self) -> bool:
        """Whether a frame of it may be expected on the card."""
        return self.outcome in ("made", "closed early")


@dataclass(frozen=True, kw_only=True)
class Made:
    """A frame that was exposed and whose file is awaited or waiting on the card."""

    exposed: Exposed
    shot: Shot


def expose(run: Run, shot: Shot, planned: Shot) -> Exposed:
    """Make one exposure and return how it went; never raises for what the camera does.

    Parameters
    ----------
    shot
        The frame as it is asked of the body.
    planned
        The frame as the ladder has it (for the journal).
    """
    frame = run.next_frame
    run.next_frame += 1
    order = Order(frame=frame, way=shot.way, open_s=shot.between_commands_s(run.abilities))
    run.record(
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
    run.open = OpenFrame(frame=frame, held=shot.way == "held", open_s=order.open_s)
    began = run.look()
    try:
        run.camera.begin(order)
    except TetherError as error:
        ended: Ended | Failed | None = Failed(frame=frame, kind=error.kind, sentences=error.sentences, opening=None)
    else:
        ended = _follow(run, shot, order)
    run.open = None
    run.go("ready")
    exposed = _over(run, shot, order, ended)
    _watch_clocks(run, began, shot, frame)
    return exposed


def _watch_clocks(run: Run, began: Mark, shot: Shot, frame: int) -> None:
    """Mark a frame during which the machine slept, and say where the wall clock was set: labels only."""
    passed = between(began, run.look())
    slept, stepped = slept_sentence(passed, frame_open=True), stepped_sentence(passed)
    if slept:
        run.say("trouble", slept, frame=frame, rung=shot.rung)
    if stepped:
        run.say("note", stepped, frame=frame, rung=shot.rung)


def _follow(run: Run, shot: Shot, order: Order) -> Ended | Failed | None:
    """Follow the exposure to its end; None when the camera has not said a word long after it should have."""
    opened_ns = run.clock.now_ns()
    overdue_ns = opened_ns + to_ns(order.open_s + run.patience_s)
    while True:
        item = run.hear(overdue_ns)
        if item is None:
            return None
        if isinstance(item, Ended | Failed) and item.frame == order.frame:
            return item
        if isinstance(item, Opened) and item.frame == order.frame:
            opened_ns = item.at_ns
            run.go("open")
            run.emit(
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
            if run.open:
                run.open.open_s = to_s(item.closes_at_ns - opened_ns)
            run.emit(CloseMoved(frame=order.frame, closes_at_ns=item.closes_at_ns))


def _over(run: Run, shot: Shot, order: Order, ended: Ended | Failed | None) -> Exposed:
    opening = None if ended is None else ended.opening
    outcome, problem = _judged(run, shot, order, ended)
    certain = opening is not None and shot.way == "held" and opening.closed_by != "lost"
    held_s = opening.held_s if opening is not None and certain else None
    record_outcome(run, order.frame, outcome, held_s, opening, problem)
    run.emit(FrameOver(frame=order.frame, rung=shot.rung, kind=shot.kind, outcome=outcome, held_s=held_s))
    return Exposed(
        frame=order.frame,
        outcome=outcome,
        open_s=gathered_s(shot, order, opening),
        problem=problem,
        busy=isinstance(ended, Failed) and ended.kind == "busy" and ended.opening is None,
        lacks=isinstance(ended, Failed) and ended.kind == "supply",
        opening=opening,
    )


def record_outcome(
    run: Run, frame: int, outcome: FrameOutcome, held_s: float | None, opening: Opening | None, note: str | None
) -> None:
    """Write down how an exposure ended; what is learned later is written down anew."""
    run.record(
        ExposeOutcome(
            frame=frame,
            outcome=outcome,
            held_s=held_s,
            realtime=opening.realtime if opening else None,
            closed_by=opening.closed_by if opening else None,
            open_called_ns=opening.open_called_ns if opening else None,
            open_returned_ns=opening.open_returned_ns if opening else None,
            close_called_ns=opening.close_called_ns if opening else None,
            close_returned_ns=opening.close_returned_ns if opening else None,
            opened_utc=utc_of(run, opening.open_called_ns) if opening else None,
            closed_utc=utc_of(run, opening.close_called_ns) if opening else None,
            note=note,
            body_said_s=opening.body_said_s if opening else None,
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
    if run.wishes.stop == "drop everything":
        return "dropped", "The person dropped everything; the frame stays on the card."
    if shot.way == "held" and ended.opening.closed_by == "person":
        return "closed early", None
    changed = abs(ended.opening.asked_s - order.open_s) > CHANGED_S
    return "made", f"While it was open it was asked to be {ended.opening.asked_s:.1f} s." if changed else None


def gathered_s(shot: Shot, order: Order, opening: Opening | None) -> float:
    """Return the time light was gathered [s]: as held between commands, less the body's delays as far as known."""
    if opening is None or shot.way == "timed":
        return shot.time_s
    return max(opening.held_s - (order.open_s - shot.time_s), 0.0)


def utc_of(run: Run, at_ns: int) -> str:
    """Return the wall time of a moment, for labels: the wall clock now, less the time gone by since."""
    moment: datetime = run.clock.utc() - timedelta(seconds=to_s(run.clock.now_ns() - at_ns))
    return moment.isoformat(timespec="milliseconds")
