"""The engine: works a ladder through, rung by rung, and leaves the truth in the journal.

Order of a rung: turns, proof, set, read back, expose, fetch and judge the first frame before another is opened.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta

from tether.body.hold import open_between
from tether.body.protocol import Ended, Stage
from tether.errors import CameraError, TetherError
from tether.exposure.labels import with_unit
from tether.journal.records import LadderEnded, LadderOutcome, LadderStarted, RungEnded, RungOutcome
from tether.plan.again import solve_again
from tether.plan.as_json import ladder_json
from tether.plan.ladder import Choice, Rung, Turn
from tether.run.asking import wait_for_key, your_turn
from tether.run.context import Run, Stopped
from tether.run.events import LadderBegun, LadderOver, RungBegun, RungOver
from tether.run.exposing import expose
from tether.run.fetching import Fetcher, Made, seen_files
from tether.run.setting import Ready, apply, set_for_rung
from tether.run.shots import Shot, shot_of_dark, shot_of_proof, shot_of_rung
from tether.run.trouble import with_care

#: After a frame on the person's key they must be quiet so long before frames are fetched [s].
QUIET_S = 3.0
#: How often a frame that failed, or was taken with wrong settings, is taken again.
MOST_RETAKEN = 2
_STOP_OUTCOMES: dict[str, LadderOutcome] = {
    "stop after this frame": "stopped after a frame",
    "stop now and keep": "closed and kept",
    "drop everything": "dropped",
}


@dataclass
class _Tally:
    """What came of a rung so far."""

    made: int = 0
    differs: int = 0
    failed: int = 0
    note: str | None = None

    def outcome(self, wanted: int, skipped: bool) -> RungOutcome:
        if not self.made:
            return "skipped" if skipped else "failed"
        if self.made < wanted:
            return "done in part"
        return "done, differs" if self.differs or self.note else "done"


class Engine:
    """Works one ladder through on one camera."""

    def __init__(self, run: Run) -> None:
        self.run = run
        self.fetcher = Fetcher(run)

    def work(self) -> LadderOutcome:
        """Work the ladder to its end and return how it ended; every ending is in the journal as what it was."""
        run = self.run
        planned = ladder_json(run.ladder)
        if not run.done:
            run.record(
                LadderStarted(
                    ladder=run.ladder_number, title=run.ladder.title, plan_text=run.plan.text, planned=planned
                )
            )
        run.emit(LadderBegun(planned=planned))
        note = None
        try:
            run.seen |= with_care(run, lambda: seen_files(run.journal, run.camera), rung=None)
            outcome = self._rungs()
        except Stopped as stopped:
            outcome = _STOP_OUTCOMES[stopped.verb]
        except TetherError as error:
            outcome, note = "failed", str(error)
            run.say("trouble", note)
        self._finish(fetch=outcome != "dropped")
        run.record(LadderEnded(ladder=run.ladder_number, outcome=outcome, note=note))
        run.journal.settle()
        run.go("ended")
        run.emit(LadderOver(outcome=outcome, note=note))
        return outcome

    def _finish(self, *, fetch: bool) -> None:
        """Bring home what is left; trouble here ends nothing that has not ended."""
        run = self.run
        run.wishes.stop = None
        if not fetch:
            return
        try:
            self.fetcher.look_again()
            self.fetcher.drain()
        except (TetherError, Stopped) as error:
            run.say("trouble", f"{error} What is left stays on the card.")

    def _rungs(self) -> LadderOutcome:
        run = self.run
        if run.done:
            run.stage_filters(())
        complete = True
        fitted_turns: list[Turn] = []
        for rung in run.ladder.rungs:
            turns = [*fitted_turns, *run.ladder.turns_before(rung.number)]
            if rung.number in run.done:
                fitted_turns = _still_due(turns)
                continue
            fitted_turns = []
            outcome = self._rung(rung, turns)
            complete = complete and outcome in ("done", "done, differs")
        self._darks()
        self.fetcher.look_again()
        self.fetcher.drain()
        return "done" if complete and not self.fetcher.awaited else "done in part"

    # One rung ----------------------------------------------------------------------------------------------------

    def _rung(self, rung: Rung, turns: list[Turn]) -> RungOutcome:
        run = self.run
        run.wishes.skip = run.wishes.hurry = False
        run.wishes.again = 0
        run.emit(RungBegun(rung=rung.number, label=with_unit(rung.wanted.label), frames=rung.frames))
        late = self._too_late(rung)
        tally = _Tally(note=late)
        try:
            outcome = "left out" if late else self._worked(rung, turns, tally)
        except Stopped as stopped:
            self._rung_over(rung, "dropped" if stopped.verb == "drop everything" else "stopped", tally.note)
            raise
        except TetherError as error:
            self._rung_over(rung, "done in part" if tally.made else "failed", str(error))
            raise
        self._rung_over(rung, outcome, tally.note)
        return outcome

    def _rung_over(self, rung: Rung, outcome: RungOutcome, note: str | None) -> None:
        run = self.run
        run.record(RungEnded(ladder=run.ladder_number, rung=rung.number, outcome=outcome, note=note))
        run.journal.settle()
        run.emit(RungOver(rung=rung.number, outcome=outcome, note=note))

    def _worked(self, rung: Rung, turns: list[Turn], tally: _Tally) -> RungOutcome:
        run = self.run
        for turn in turns:
            self._turn(turn, rung.number)
        self.fetcher.look_again()
        self.fetcher.drain()
        self._supplies(rung)
        if rung.proof and not run.wishes.skip:
            self._extra(shot_of_proof(rung, rung.proof))
        self._frames(rung, tally)
        return tally.outcome(rung.frames, run.wishes.skip)

    def _turn(self, turn: Turn, rung: int | None) -> None:
        run = self.run
        if run.wishes.skip:
            return
        your_turn(run, turn.what, turn.reason, rung=rung, takes_s=turn.takes_s, meanwhile=self._drain_quietly)
        if turn.kind == "change filters":
            run.stage_filters(turn.fitted)
        if turn.kind == "cap on":
            run.stage(Stage(capped=True))
        run.go("settling")
        run.pass_time(run.plan.run.settle_s)
        run.go("ready")

    def _supplies(self, rung: Rung) -> None:
        """Ask for a card or a battery before the body has to fail for want of one."""
        run = self.run
        status = with_care(run, run.camera.status, rung=rung.number)
        if status.card_frames_left is not None and status.card_frames_left < rung.frames:
            left = status.card_frames_left
            why = f"the card has room for {left} frame{'' if left == 1 else 's'}, this rung needs {rung.frames}"
            your_turn(run, "change the card", why, rung=rung.number, takes_s=60.0)
            run.stage(Stage(new_card=True))
        if status.battery is not None and status.battery < 0.05:
            why = f"the battery is at {status.battery:.0%}"
            your_turn(run, "change the battery", why, rung=rung.number, takes_s=60.0)
            run.stage(Stage(new_battery=True))

    def _frames(self, rung: Rung, tally: _Tally) -> None:
        run = self.run
        ready: Ready | None = None
        judged = False
        retaken = 0
        bias = 0.0
        while tally.made < rung.frames + run.wishes.again and not run.wishes.skip:
            run.wait_while_paused()
            if ready is None or bias != run.wishes.brighter_stops:
                bias = run.wishes.brighter_stops
                ready = self._set(rung, tally)
                judged = False
                if ready is None:
                    return
            if rung.taken == "on my key" and not wait_for_key(run, rung.number, QUIET_S, self._drain_quietly):
                return
            made = self._make(ready.shot, shot_of_rung(rung, rung.choice))
            if made is None:
                tally.failed += 1
                retaken += 1
                if retaken > MOST_RETAKEN:
                    tally.note = "the frame could not be made"
                    return
                ready = None
                continue
            run.stop_if_asked()
            if not judged and rung.taken != "on my key":
                judged = True
                if self.fetcher.drain() and retaken < MOST_RETAKEN:
                    retaken += 1
                    tally.differs += 1
                    tally.note = "a frame was taken with other settings than asked, and was taken again"
                    self._shake_loose(ready.shot)
                    ready = None
                    continue
            tally.made += 1
        tally.differs += len(self.fetcher.drain())

    def _drain_quietly(self) -> None:
        self.fetcher.drain()

    def _set(self, rung: Rung, tally: _Tally) -> Ready | None:
        """Set the body for a rung; None if the rung is to be left, as the plan or the person says."""
        run = self.run
        while True:
            try:
                ready = set_for_rung(run, rung, self._choice(rung))
            except CameraError as error:
                run.go("ready")
                tally.note = str(error)
                run.say("trouble", str(error), rung=rung.number)
                if run.plan.run.when_refused == "skip" or run.answer_for_me:
                    return None
                if not your_turn(run, "see to the camera", str(error), rung=rung.number):
                    return None
                continue
            if ready.around:
                tally.note = f"solved around: {ready.around}"
            return ready

    def _choice(self, rung: Rung) -> Choice:
        """Return the rung's choice, solved again where the person wants it brighter or darker."""
        run = self.run
        brighter = run.wishes.brighter_stops
        if not brighter:
            return rung.choice
        again = solve_again(run.plan, run.abilities, rung.choice, rung.wanted, brighter_by_stops=brighter)
        if again is None:
            run.say("note", f"The limits leave no way to make this rung {brighter:+.2f} stop; it stays as planned.")
            return rung.choice
        return again

    def _make(self, shot: Shot, planned: Shot) -> Made | None:
        """Expose one frame and see that its file is awaited; None if no frame was made."""
        run = self.run
        exposed = expose(run, shot, planned)
        if exposed.outcome == "dropped":
            run.stop_if_asked()
        if exposed.problem:
            run.say("trouble", exposed.problem, frame=exposed.frame, rung=shot.rung)
        made = Made(exposed=exposed, shot=shot)
        if exposed.made:
            self.fetcher.expect(made)
            return made
        self._after_failure(made)
        return None

    def _after_failure(self, made: Made) -> None:
        """Reach the camera again, shutter shut; a frame that was begun may be on the card all the same."""
        run = self.run
        with_care(run, run.camera.reach_again, rung=made.shot.rung)
        self._hear_late_end(made)
        self.fetcher.expect_perhaps(made)
        self.fetcher.drain()

    def _hear_late_end(self, made: Made) -> None:
        """Keep what is known of a shutter that was closed only when the camera was reached again: an interval."""
        run = self.run
        while (item := run.hear(run.clock.now_ns())) is not None:
            if isinstance(item, Ended) and item.frame == made.exposed.frame:
                text = f"Frame {item.frame}: {open_between(item.opening)}."
                run.say("note", text, frame=item.frame, rung=made.shot.rung)

    def _shake_loose(self, shot: Shot) -> None:
        """Set another value first, so that a body which kept an old one must really take the next."""
        run = self.run
        other = next((mark for mark in run.abilities.isos if mark.label != shot.iso.label), None)
        if other is None:
            return
        nudge = Shot(
            kind=shot.kind,
            rung=shot.rung,
            way=shot.way,
            time_s=shot.time_s,
            time_label=shot.time_label,
            aperture=shot.aperture,
            iso=other,
            filters=shot.filters,
            filter_stops=shot.filter_stops,
        )
        try:
            apply(run, nudge)
        except CameraError as error:
            run.say("trouble", str(error), rung=shot.rung)

    # Proofs, darks, time of day ----------------------------------------------------------------------------------

    def _extra(self, shot: Shot) -> None:
        """Take a frame that is not a rung's own; without it the rung is still worth taking."""
        run = self.run
        run.go("setting")
        try:
            wrong = apply(run, shot)
        except CameraError as error:
            wrong = [str(error)]
        run.go("ready")
        if wrong:
            run.say("note", f"No {shot.kind} frame: {'; '.join(wrong)}.", rung=shot.rung)
            return
        self._make(shot, shot)
        run.stop_if_asked()
        self.fetcher.drain()

    def _darks(self) -> None:
        run = self.run
        for turn in run.ladder.turns_before(None):
            self._turn(turn, None)
        for dark in run.ladder.darks:
            run.wait_while_paused()
            self._extra(shot_of_dark(dark))

    def _too_late(self, rung: Rung) -> str | None:
        """Return why a rung is not started any more: it would end after the person wants to leave."""
        run = self.run
        leave = leave_moment(run.plan.run.leave_by, run.clock.utc())
        if leave is None:
            return None
        turns_s = sum(turn.takes_s + run.plan.run.settle_s for turn in run.ladder.turns_before(rung.number))
        needs_s = rung.choice.time_s * rung.frames + turns_s + (rung.proof.time_s if rung.proof else 0.0)
        ends = run.clock.utc() + timedelta(seconds=needs_s)
        if ends <= leave:
            return None
        return f"it would end at {ends.astimezone():%H:%M:%S}, after leave_by {leave.astimezone():%H:%M}"


def _still_due(turns: list[Turn]) -> list[Turn]:
    """Of the turns of a rung that is done already, only the latest state of the filters must be brought about again."""
    changes = [turn for turn in turns if turn.kind == "change filters"]
    return changes[-1:]


def leave_moment(leave_by: time | datetime | None, now: datetime) -> datetime | None:
    """Return the moment the person wants to leave; a time of day is the local one nearest to now within half a day.

    A moment that is past stays past, so that a run which has overstayed starts nothing more.
    """
    if leave_by is None:
        return None
    if isinstance(leave_by, datetime):
        return leave_by.astimezone(UTC)
    local = now.astimezone()
    moment = local.replace(hour=leave_by.hour, minute=leave_by.minute, second=leave_by.second, microsecond=0)
    if moment - local > timedelta(hours=12):
        moment -= timedelta(days=1)
    elif local - moment > timedelta(hours=12):
        moment += timedelta(days=1)
    return moment.astimezone(UTC)
