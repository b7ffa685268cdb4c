"""Take in what a frame says: write it down, tell the person, and let the plan's leave decide what is done about it."""

from __future__ import annotations

from tether.engine.corrections import Off
from tether.engine.exposure import Made
from tether.engine.judgement import Verdict, verdicts, with_expected
from tether.engine.run_state import STEER_STOPS, Run
from tether.frames.asked import FAILS, Answer, is_finite
from tether.journal.readings import FrameReadings
from tether.journal.records import FrameRead, Said


def take_in(run: Run, made: Made | None, frame: int, answer: Answer) -> None:
    """Take in what a frame says; `made` is how it was taken, None where that is not known any more.

    What can't be worked out costs that reading, with a sentence, and nothing else.
    """
    found, problem = _worked_out(run, made, answer)
    run.tell(FrameRead(frame=frame, readings=found, problem=problem))
    if made is None or found is None:
        return
    try:
        _judge(run, made, frame, found)
    except FAILS as error:
        _say(run, frame, made.rung, f"What it says can't be judged: {error}.")


def _worked_out(run: Run, made: Made | None, answer: Answer) -> tuple[FrameReadings | None, str | None]:
    """Return readings with what was expected beside them, and what could not be worked out, in sentences."""
    try:
        found = answer.frame
        if found is not None and made is not None:
            found = with_expected(found, made, run.plan, run.abilities.pitch_um)
        if is_finite(found):
            return found, answer.problem
        why = "a number is not finite"
    except FAILS as error:
        why = str(error)
    return None, " ".join(
        [*filter(None, [answer.problem]), f"What it says can't be held against what was expected: {why}."]
    )


def _judge(run: Run, made: Made, frame: int, readings: FrameReadings) -> None:
    off_stops = readings.off_stops
    news = off_stops is not None and run.corrections.note(made.filters, Off(stops=off_stops, frame=frame))
    for verdict in verdicts(readings, made, run.plan, run.said_before, news=news):
        _act(run, made, frame, verdict)
    run.said_before.take_in(readings, run.plan.readings.sharpness_lost)


def _act(run: Run, made: Made, frame: int, verdict: Verdict) -> None:
    """Say what a frame says, and take it again where the plan lets the run do so and its rung is still in hand."""
    rung = made.rung
    if verdict.what == "said" or made.kind != "rung":
        _say(run, frame, rung, verdict.sentence)
        return
    darker = verdict.what == "darker"
    proposal = "again, a third of a stop darker" if darker else "again"
    how = "“darker” (d), then “again” (a)" if darker else "“again” (a)"
    if not _may_take_again(run, rung):
        _say(run, frame, rung, f"{verdict.sentence} Proposed: {proposal}; say {how}.")
        return
    run.retaken += 1
    run.wishes.again += 1
    if darker:
        run.wishes.brighter_stops -= STEER_STOPS
    _say(run, frame, rung, f"{verdict.sentence} It is taken {proposal}.")


def _say(run: Run, frame: int, rung: int | None, sentence: str) -> None:
    run.tell(Said(about="note", text=sentence, frame=frame, rung=rung, named=False))


def _may_take_again(run: Run, rung: int | None) -> bool:
    asked = run.plan.readings
    return (
        asked.again == "take"
        and run.corrections.sure
        and rung == run.rung_in_hand
        and run.retaken < asked.again_at_most
    )
