"""Ask the person for something, and wait: turns of the plan, the key for a frame, and trouble that needs hands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from tether.clock import to_ns
from tether.engine.run_state import Run
from tether.engine.steering import DoneTask
from tether.journal.records import KeyTurn, Turn, TurnState
from tether.plan.cautions import SEA_FIRST, SUN_OFF, sun_at
from tether.wording import span


def your_turn(
    run: Run,
    what: str,
    reason: str,
    *,
    rung: int | None,
    takes_s: float = 0.0,
    meanwhile: Callable[[], None] | None = None,
    fitted: list[str] | None = None,
    takes_off: bool = False,
    puts_on: tuple[str, ...] = (),
    at_most_s: float | None = None,
    unanswered: str = "",
    otherwise: str = "",
) -> bool:
    """Ask for something and wait until it is answered.

    Parameters
    ----------
    what, reason
        What to do, and why.
    takes_s
        How long it is expected to take; a rehearsal that answers by itself waits so long.
    meanwhile
        Done while the person is busy (frames are fetched).
    fitted
        What is on the lens afterwards, by name; None: it is not about filters.
    takes_off
        Whether a filter comes off.
    puts_on
        The filters that go on, by name: the person may say that they have not all of them, which is no answer.
    at_most_s
        How long is waited for an answer; None: as long as it takes.
    unanswered
        What comes where nobody answers by then, which is said with the reason; empty: the reason says it itself.
    otherwise
        What comes of it where the person leaves it out; empty: what is left of the rung is skipped.

    Returns
    -------
    bool
        True if it was answered, False if the person went on without ("skip" or "next") or did not answer in time.

    Raises
    ------
    Stopped
        If the person stops the run instead.
    """
    limit = []
    if at_most_s is not None and unanswered and not run.answer_for_me:
        limit = [f"Without an answer within {span(at_most_s)} {unanswered}"]
    turn = Turn(
        ladder=run.ladder_number,
        rung=rung,
        what=what,
        reason=". ".join((reason, *limit, *_care(run, takes_off=takes_off))),
        state="asked",
        fitted=fitted,
        otherwise=otherwise or ("" if rung is None else f"rung {rung} is skipped from here on"),
        light_stops_per_min=run.following.goes_stops_per_min(run.now_s),
        light_by_sun=run.following.goes_by_sun(run.now_s),
    )
    if run.steering.answered_ahead():
        _over(run, turn, "answered beforehand")
        return True
    run.steering.ask(puts_on)
    run.go("ready")
    run.go("your turn")
    run.tell(turn)
    run.hand.sea_told_ns = run.clock.now_ns()
    asked_ns = run.clock.now_ns()
    if meanwhile:
        meanwhile()
        run.go("your turn")
    how = _wait(
        run,
        asked_ns + to_ns(takes_s) if run.answer_for_me else None,
        None if at_most_s is None else asked_ns + to_ns(at_most_s),
    )
    run.go("ready")
    _over(run, turn, how)
    run.stop_if_asked()
    return how not in ("not done", "nobody answered")


def _care(run: Run, *, takes_off: bool) -> list[str]:
    """Return what to take care of at a task, in short."""
    sun = takes_off and sun_at(run.plan.place, run.clock.utc())
    return [text for text, applies in ((SUN_OFF, sun), (SEA_FIRST, run.plan.by_the_sea)) if applies]


def taken_back(run: Run, rung: int, task: DoneTask, lens: Sequence[str]) -> None:
    """Say that a task was not done after all: what is on the lens instead, and from which frame on nothing counts."""
    run.tell(
        Turn(
            ladder=run.ladder_number,
            rung=rung,
            what=task.what,
            reason="it was not done after all",
            state="taken back",
            fitted=list(lens),
            void_from=task.first_frame,
        )
    )


def _wait(run: Run, answered_by_ns: int | None, given_up_ns: int | None) -> TurnState:
    """Wait for the person; at the first moment it is answered for them, at the second it is left, if there are such."""
    steering = run.steering
    until_ns = given_up_ns if answered_by_ns is None else answered_by_ns
    while not steering.answered:
        if steering.interrupts or steering.skip or steering.missing:
            return "not done"
        if steering.answered_ahead():
            return "answered"
        run.take_quick_frames()
        if run.hear(until_ns) is None and until_ns is not None:
            return "nobody answered" if answered_by_ns is None else "answered for me"
    return "answered"


def _over(run: Run, turn: Turn, how: TurnState) -> None:
    run.steering.close_question()
    run.tell(replace(turn, state=how))


def wait_for_key(run: Run, rung: int, quiet_s: float, when_quiet: Callable[[], None]) -> bool:
    """Wait for the person's key for one frame; once they have been quiet for a while, use the time.

    Returns False if the rung is to be left ("skip", "next"). Raises Stopped.
    """
    steering = run.steering
    steering.ask()
    run.hand.answered_s = None
    run.go("waiting for your key")
    run.tell(KeyTurn(rung=rung, state="asked"))
    quiet_ns = run.clock.now_ns() + to_ns(quiet_s)
    used = False
    while not (steering.answered or steering.interrupts or steering.skip):
        if run.answer_for_me and used:
            steering.answer()
        elif steering.quick:
            run.take_quick_frames()
        elif run.hear(None if used else quiet_ns) is None:
            used = True
            when_quiet()
            run.go("waiting for your key")
    run.go("ready")
    answered = steering.answered
    steering.close_question()
    run.tell(KeyTurn(rung=rung, state="answered" if answered else "left"))
    run.stop_if_asked()
    return answered
