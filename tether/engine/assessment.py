"""Take in what a frame says: write it down, tell the person, and let the plan's leave decide what is done about it."""

from __future__ import annotations

from tether import wording as words
from tether.engine.judgement import FollowUp, follow_ups, with_expected
from tether.engine.run_state import Run
from tether.frames.asked import FAILS, FrameAnswer, is_finite
from tether.journal.readings import FrameReadings
from tether.journal.records import FrameRead, Said
from tether.light.acting import Acting
from tether.shot.made import Made

#: A frame has come out otherwise than foretold from so much on, and so many standard deviations [stops].
MISSED_STOPS, MISSED_TIMES = 1 / 6, 3.0


def take_in(run: Run, made: Made | None, frame: int, answer: FrameAnswer) -> None:
    """Take in what a frame says; `made` is how it was taken, None where that is not known any more.

    What can't be worked out costs that reading, with a sentence, and nothing else.
    """
    found, problem = _worked_out(run, made, answer)
    run.tell(FrameRead(frame=frame, readings=found, problem=problem, histogram=answer.histogram))
    if made is None or found is None:
        return
    try:
        for sentence in _follow(run, made, found):
            _say(run, frame, made.rung, sentence)
        for verdict in follow_ups(found, made, run.plan, run.frame_history):
            _act(run, made, frame, verdict)
        run.frame_history.take_in(found, run.plan.readings.sharpness_lost, proof=made.kind == "proof")
    except FAILS as error:
        _say(run, frame, made.rung, f"What it says can't be judged: {error}.")


def _worked_out(run: Run, made: Made | None, answer: FrameAnswer) -> tuple[FrameReadings | None, str | None]:
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


def _follow(run: Run, made: Made, readings: FrameReadings) -> list[str]:
    """Take in what a frame says of light and glass; return what is news of it.

    Nothing is learned from a frame that was not made as asked; nor from one that came out far otherwise and whose Exif
    does not tell how long it was open: it may have been open for another time.
    """
    rock, opened_s, aperture, iso = readings.rock, made.opened_s, made.asked.aperture, made.asked.iso
    if rock is None or rock.off_stops is None or opened_s is None or not made.as_asked:
        return []
    if aperture is None or iso is None:
        return []
    acting = Acting(filters=made.filters, aperture=aperture, iso=iso)
    foretold = run.following.foretold(acting, opened_s, made.open_s)
    if foretold is not None and not made.exif_tells:
        missed = rock.off_stops - foretold.stops
        if abs(missed) > max(MISSED_STOPS, MISSED_TIMES * foretold.doubt_stops):
            came_out = f"The rock came out {words.brighter(missed)} than expected: the light has changed"
            return [f"{came_out}, or it was not open as long as our commands say: its Exif does not tell."]
    run.following.saw(acting, opened_s, made.open_s, rock)
    return run.following.news(acting, opened_s + made.open_s)


def _act(run: Run, made: Made, frame: int, verdict: FollowUp) -> None:
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
    run.hand.retaken += 1
    run.steering.retake(darker=darker)
    _say(run, frame, rung, f"{verdict.sentence} It is taken {proposal}.")


def _say(run: Run, frame: int, rung: int | None, sentence: str) -> None:
    run.tell(Said(about="note", text=sentence, frame=frame, rung=rung, named=False))


def _may_take_again(run: Run, rung: int | None) -> bool:
    asked, hand = run.plan.readings, run.hand
    return asked.again == "take" and run.following.sure and rung == hand.rung and hand.retaken < asked.again_at_most
