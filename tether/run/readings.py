"""Take in what a frame says: write it down, tell the person, and let the plan's leave decide what is done about it."""

from __future__ import annotations

from tether.frames.reading import PROBLEM, Readings
from tether.journal.records import FrameRead
from tether.run.context import STEER_STOPS, Run
from tether.run.correcting import Off
from tether.run.events import FrameSays
from tether.run.exposing import Made
from tether.run.judging import Verdict, verdicts, with_expected


def take_in(run: Run, made: Made | None, frame: int, readings: Readings) -> None:
    """Take in what a frame says; `made` is how it was taken, None where that is not known any more."""
    if PROBLEM in readings:
        run.record(FrameRead(frame=frame, readings={}, problem=readings[PROBLEM]))
        return
    if made is None:
        run.record(FrameRead(frame=frame, readings=readings))
        return
    readings = with_expected(readings, made.shot, made.exposed, run.plan.base)
    run.record(FrameRead(frame=frame, readings=readings))
    run.emit(_event(frame, made, readings))
    rock = readings.get("rock")
    if rock and made.shot.kind in ("proof", "rung"):
        run.corrections.note(made.shot.filters, Off(stops=rock["off_stops"], frame=frame))
    for verdict in verdicts(readings, made.shot, run.plan, run.stands_px):
        _act(run, made, frame, verdict)
    still = readings.get("still")
    if still:
        run.stands_px.append((still["right_px"], still["down_px"]))


def _event(frame: int, made: Made, readings: Readings) -> FrameSays:
    rock, water, still = (readings.get(name) or {} for name in ("rock", "water", "still"))
    return FrameSays(
        frame=frame,
        rung=made.shot.rung,
        headroom_stops=readings["headroom_stops"],
        clipped_share=readings["clipped_share"],
        water_headroom_stops=water.get("headroom_stops"),
        water_clipped_share=water.get("clipped_share"),
        off_stops=rock.get("off_stops"),
        right_px=still.get("right_px"),
        down_px=still.get("down_px"),
        sharpness_lost=still.get("sharpness_lost"),
    )


def _act(run: Run, made: Made, frame: int, verdict: Verdict) -> None:
    """Say what a frame says, and take it again where the plan lets the run do so and its rung is still in hand."""
    rung = made.shot.rung
    if verdict.what == "said" or made.shot.kind != "rung":
        run.say("note", f"Frame {frame}: {verdict.sentence}", frame=frame, rung=rung)
        return
    darker = verdict.what == "darker"
    proposal = "again, a third of a stop darker" if darker else "again"
    if not _may_take_again(run, rung):
        run.say("note", f"Frame {frame}: {verdict.sentence} Proposed: {proposal}.", frame=frame, rung=rung)
        return
    run.retaken += 1
    run.wishes.again += 1
    if darker:
        run.wishes.brighter_stops -= STEER_STOPS
    run.say("note", f"Frame {frame}: {verdict.sentence} It is taken {proposal}.", frame=frame, rung=rung)


def _may_take_again(run: Run, rung: int | None) -> bool:
    asked = run.plan.readings
    return (
        asked.again == "take"
        and run.corrections.sure
        and rung == run.rung_in_hand
        and run.retaken < asked.again_at_most
    )
