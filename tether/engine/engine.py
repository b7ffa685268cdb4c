"""The engine: works a ladder through, rung by rung, and leaves the truth in the journal.

Order of a rung: turns, test exposure, set, read back, expose, fetch and judge the first frame before another is opened.
"""

from __future__ import annotations

from dataclasses import replace

from tether.body.protocol import SceneChange
from tether.engine.averaging import Averages
from tether.engine.base_frames import take_base, take_base_again
from tether.engine.deadline import crowded_out, frame_takes_s, left_s, rung_takes_s, too_late, warn_of_leaving
from tether.engine.ending import copy_rest, end, hand_over, what_is_missing
from tether.engine.frame import make_extra
from tether.engine.missing import Course, proposed
from tether.engine.reconcile import read_again, reconcile
from tether.engine.recovery import stage, stage_filters, with_care
from tether.engine.refitting import Refit, agreed, beside, refit, refused, stays
from tether.engine.run_state import Run
from tether.engine.rung import Taking, Tally
from tether.engine.second_copy import copy_beside, take_up
from tether.engine.steering import Stopped, TakenBack
from tether.engine.supplies import ask_for_supplies
from tether.engine.tasks import taken_back, your_turn
from tether.engine.testing import before_glass, take_quick, test
from tether.engine.transfer import Fetcher
from tether.errors import TetherError, exit_code_of
from tether.exposure.filters import Filter
from tether.exposure.labels import with_unit
from tether.journal.history import known_files, ladder_history
from tether.journal.planned import PlannedTurn
from tether.journal.records import (
    LEFT_ON,
    CardListed,
    LadderBegun,
    LadderChanged,
    LadderEnded,
    LadderOutcome,
    LadderStarted,
    RungBegun,
    RungEnded,
    RungOutcome,
    Turn,
)
from tether.journal.snapshot import so_far
from tether.journal.story import DONE
from tether.plan.as_json import planned_of
from tether.plan.base import base_wanted
from tether.plan.ladder import OFFERED_FOR_S, Rung
from tether.plan.planner import change_turn
from tether.plan.words import stack_name
from tether.report.leave_by import left_out
from tether.shot.shot import shot_of_dark

_STOP_OUTCOMES: dict[str, LadderOutcome] = {
    "stop after this frame": "stopped after a frame",
    "stop now and keep": "closed and kept",
    "drop everything": "dropped",
}


def verdict(outcome: str, trouble: str | None = None) -> int:
    """Return the exit code of a ladder's outcome, and of the kind of error where it failed."""
    if outcome == "failed":
        return exit_code_of(trouble)
    return 0 if outcome == "done" else 1


class Engine:
    """Works one ladder through on one camera.

    `trouble` is the kind of error that the ladder ended in, once it has failed.
    """

    def __init__(self, run: Run) -> None:
        self.run = run
        self.course = Course(plan=run.plan, ladder=run.ladder, lost={})
        self.fetcher = Fetcher(run)
        self.averages = Averages(run)
        self.before = ladder_history(run.journal.entries(), run.ladder_number)
        self.fitted: tuple[str, ...] = ()
        self.refitted: Rung | None = None
        self.tallies: dict[int, Tally] = {}
        self.outcomes: dict[int, RungOutcome] = {}
        self.trouble: str | None = None

    def work(self) -> LadderOutcome:
        """Work the ladder to its end and return how it ended; every ending is in the journal as what it was.

        A ladder that the journal knows already is gone on with: nothing is taken twice or left out without a word.
        """
        run = self.run
        planned, shown = planned_of(run.ladder), so_far(run.journal.entries(), run.ladder_number)
        if self.before is None:
            run.tell(
                LadderStarted(
                    ladder=run.ladder_number, title=run.ladder.title, plan_text=run.plan.text, planned=planned
                )
            )
        run.tell(LadderBegun(planned=planned, rungs=shown.rungs, frames=shown.frames))
        outcome: LadderOutcome = "done"
        note = None
        take_up(run)
        try:
            self._take_stock()
            self._rungs()
        except Stopped as stopped:
            outcome = _STOP_OUTCOMES[stopped.verb]
        except TetherError as error:
            outcome, note, self.trouble = "failed", str(error), error.kind
            run.say("trouble", note)
        wrong = end(run, self.fetcher, fetch=outcome != "dropped", strays=outcome == "done")
        self._reconsider()
        if outcome == "done" and wrong is not None:
            outcome, note, self.trouble = "failed", str(wrong), wrong.kind
        elif outcome == "done" and not self._complete():
            outcome, note = "done in part", what_is_missing(self.outcomes, run.files)
        if run.stream.unkept is not None:
            outcome, note, self.trouble = "failed", str(run.stream.unkept), run.stream.unkept.kind
        if outcome != "dropped":
            copy_rest(run)
            self.averages.finish()
            hand_over(run)
        self.averages.give_up()
        run.go("ended")
        run.tell(LadderEnded(ladder=run.ladder_number, outcome=outcome, note=note, trouble=self.trouble))
        if outcome != "dropped":
            copy_beside(run)
        run.copier.give_up()
        return outcome

    def _take_stock(self) -> None:
        """Learn what is on the card and the lens; bring what an earlier run of this ladder left open to an end."""
        run = self.run
        if self.before is None:
            files = with_care(run, run.camera.card_files, rung=None)
            places = [place for file in files for place in file.places]
            run.files.known.update(places)
            run.tell(CardListed(ladder=run.ladder_number, files=[list(place) for place in places]))
            self._take_what_is_on()
            return
        run.files.known |= known_files(run.journal.entries())
        reconcile(run, self.fetcher, self.before)
        self.before = ladder_history(run.journal.entries(), run.ladder_number)
        self.fitted = self.before.fitted if self.before else ()
        stage_filters(run, self._on_lens())

    def _take_what_is_on(self) -> None:
        """Begin with the filters that are on; the journal has it, as of a task that was done before."""
        run = self.run
        self.fitted = run.on_lens
        stage_filters(run, self._on_lens())
        if self.fitted:
            run.tell(
                Turn(
                    ladder=run.ladder_number,
                    rung=run.ladder.rungs[0].number,
                    what=f"{' + '.join(self.fitted)} stays on the lens",
                    reason=LEFT_ON,
                    state="answered beforehand",
                    fitted=list(self.fitted),
                )
            )

    def _rungs(self) -> None:
        self._bare_for_base()
        take_base(self.run, self.fetcher, self.before, self.fitted)
        self.run.hand.takes_quick = self._take_quick
        if self.before is not None:
            read_again(self.run, self.fetcher, self.before)
        self._say_what_is_left_out()
        while (rung := next(iter(self._left()), None)) is not None:
            self._rung(rung)
        self.run.steering.end_rung()
        self.fitted = take_base_again(self.run, self.fetcher, self.before, self.fitted)
        self._darks()

    def _left(self) -> list[Rung]:
        """Return the rungs that are not over, in order."""
        over = {*self.outcomes, *(self.before.done if self.before else ())}
        return [one for one in self.course.ladder.rungs if one.number not in over]

    def _bare_for_base(self) -> None:
        """Have filters that are on taken off before the base frames where the first rung is made without them."""
        first = self.run.ladder.rungs[0]
        if self.before is None and not first.fitted and base_wanted(self.run.plan):
            for turn in self._change(first):
                self._turn(turn, first.number)

    def _say_what_is_left_out(self) -> None:
        """Say at once which rungs the time to leave by leaves no room for, as far as can be told beforehand."""
        run = self.run
        rungs, left = self._left(), left_s(run)
        takes_s = [self._planned_s(one) for one in rungs]
        out = () if left is None else left_out(takes_s, [one.must for one in rungs], left)
        if out:
            which = ", ".join(str(rungs[at].number) for at in out)
            run.say("note", f"Left out for want of time, if nothing goes faster than planned: rung {which}.", rung=None)

    def _planned_s(self, rung: Rung) -> float:
        """Return what a rung takes with the turns that are planned before it [s]."""
        turns = self.course.ladder.turns_before(rung.number)
        turns_s = sum(turn.takes_s + self.run.plan.run.settle_s for turn in turns)
        return turns_s + rung_takes_s(self.run, rung, rung.frames)

    def _kept_s(self, rung: Rung) -> float:
        """Return the time that later rungs which must be had keep from this one [s]."""
        later = [one for one in self._left() if one.must and one.number not in {rung.number, *self.course.lost}]
        return 0.0 if rung.must else sum(self._planned_s(one) for one in later)

    def _complete(self) -> bool:
        return all(outcome in DONE for outcome in self.outcomes.values()) and not self.run.files.incomplete

    def _reconsider(self) -> None:
        """Write down anew how rungs ended whose frames came late."""
        for rung in self.course.ladder.rungs:
            was = self.outcomes.get(rung.number)
            if was in ("done in part", "failed"):
                tally = self.tallies[rung.number]
                if tally.good(self.fetcher) >= rung.frames:
                    self._rung_over(rung, tally.outcome(rung.frames, self.fetcher, skipped=False), tally.note)

    # One rung ----------------------------------------------------------------------------------------------------

    def _rung(self, rung: Rung) -> None:
        run = self.run
        run.steering.begin_rung()
        run.hand.begin_rung(rung.number)
        run.tell(RungBegun(rung=rung.number, label=with_unit(rung.wanted.label), frames=rung.frames))
        warn_of_leaving(run)
        made = self.before.made.get(rung.number, 0) if self.before else 0
        turns_s = sum(turn.takes_s + run.plan.run.settle_s for turn in self._turns_before(rung))
        takes_s = turns_s + rung_takes_s(run, rung, rung.frames - made)
        late = self.course.lost.get(rung.number) or too_late(run, takes_s)
        late = late or crowded_out(run, takes_s, self._kept_s(rung))
        self.tallies[rung.number] = tally = Tally(before=made, note=late)
        try:
            outcome = "left out" if late else self._worked(rung, tally)
        except Stopped as stopped:
            self._rung_over(rung, "dropped" if stopped.verb == "drop everything" else "stopped", tally.note)
            raise
        except TetherError as error:
            self._rung_over(rung, "done in part" if tally.made(self.fetcher) else "failed", str(error))
            raise
        if outcome is None:  # one before it is to be worked again first
            run.hand.rung = None
            run.steering.end_rung()
        else:
            self._rung_over(rung, outcome, tally.note)

    def _rung_over(self, rung: Rung, outcome: RungOutcome, note: str | None) -> None:
        run = self.run
        run.hand.rung = None
        self.outcomes[rung.number] = outcome
        run.tell(RungEnded(ladder=run.ladder_number, rung=rung.number, outcome=outcome, note=note))
        if rung.number in self.course.lost and self._can_be_taken_back():
            self._tell_course()  # it still can, while the next rung is worked
        else:
            run.steering.end_rung()
        run.journal.settle()
        if outcome == "done":
            self.averages.rung_done(rung)

    def _worked(self, rung: Rung, tally: Tally) -> RungOutcome | None:
        """Work a rung; from its tasks on again, where the person takes back that one was done.

        Returns None where that was in a rung before it, which is open again.
        """
        while True:
            lens = self.fitted
            try:
                outcome = self._worked_once(rung, tally)
            except TakenBack:
                pass
            else:
                if not self.run.steering.taken_back:  # it may be heard after all that asks for it
                    return outcome
            self._take_back(rung, tally, lens)
            rung, number = self._left()[0], rung.number
            if rung.number != number:
                return None

    def _take_back(self, rung: Rung, tally: Tally, lens: tuple[str, ...]) -> None:
        """Let nothing count that was made since a task was answered, and have it asked again."""
        run, with_it = self.run, self.course.before if self._can_be_taken_back() else None
        task = run.steering.take_back()
        run.go("ready")
        if task is None:
            return
        if with_it is not None:
            for number in self.course.lost.keys() - with_it.lost:
                self.outcomes.pop(number, None)
            self.course = with_it
            self._tell_course()
        run.files.void |= set(range(task.first_frame, run.hand.next_frame))
        run.following.forget(task.at_s)
        tally.frames.clear()
        self.refitted = None
        self.fitted = lens
        stage_filters(run, self._on_lens())
        taken_back(run, rung.number, task, lens)

    def _worked_once(self, rung: Rung, tally: Tally) -> RungOutcome:
        run = self.run
        fitted = self._fitted_for(rung)
        if fitted is None:
            tally.note = self.course.lost[rung.number]
            return "done in part" if tally.before else "left out"
        rung = fitted
        for turn in self._other_turns(rung):
            self._turn(turn, rung.number)
        self.fetcher.look_again()
        self.fetcher.drain()
        self._reconsider()
        ask_for_supplies(run, rung.number, rung.frames - tally.before)
        tally.note = too_late(run, rung_takes_s(run, rung, rung.frames - tally.before))
        if tally.note:
            return "left out" if not tally.before else "done in part"
        run.wait_while_paused()
        if not (self.before and rung.number in self.before.proofs):
            test(run, self.fetcher, rung)
        Taking(run, self.fetcher, rung, tally).take_all()
        return tally.outcome(rung.frames, self.fetcher, skipped=run.steering.skip)

    def _turns_before(self, rung: Rung) -> list[PlannedTurn]:
        """Return the turns due before a rung: filters by what is really on the lens, others unless answered before."""
        return [*self._change(rung), *self._other_turns(rung)]

    def _other_turns(self, rung: Rung) -> list[PlannedTurn]:
        others = [turn for turn in self.course.ladder.turns_before(rung.number) if turn.kind != "change filters"]
        return [turn for turn in others if not self._answered(turn, rung.number)]

    def _on_lens(self) -> tuple[Filter, ...]:
        return self.run.ladder.stack(self.fitted)

    def _change(self, rung: Rung) -> list[PlannedTurn]:
        """Return the change of filters before a rung, if one is due."""
        due = tuple(one.name for one in rung.fitted) != self.fitted
        return [change_turn(rung, self._on_lens())] if due else []

    def _fitted_for(self, rung: Rung) -> Rung | None:
        """Have the filters of a rung put on, or others where the light leaves those no way; return it as it is made.

        Returns None where it is lost, for a filter is not there.
        """
        run = replace(self.run, plan=self.course.plan)
        if self.refitted is not None and rung.choice.bracket_stops is not None:
            return beside(rung, self.refitted)
        self.refitted = None
        if not self._change(rung):
            return rung
        if self.before is not None and rung.number in self.before.made:
            self.refitted = stays(run, rung, self._on_lens())
        if self.refitted is not None:
            return self.refitted
        before_glass(run, self.fetcher, rung, self.fitted)
        found = refit(run, rung, self._on_lens())
        if found is not None and self._agreed(found, rung):
            self.refitted = found.rung
            return found.rung
        if not run.steering.missing:
            self._turn(self._change(rung)[0], rung.number)
        missing = run.steering.take_missing()
        return self._without(missing, rung) if missing else rung

    def _without(self, missing: tuple[str, ...], rung: Rung) -> Rung | None:
        """Have a rung made without a filter that is not there, as all that are left; or ask for the filter again."""
        run, asked = self.run, self._change(rung)[0].what
        left = {one.number for one in self._left()}
        course = proposed(run, self.course, missing, asked, rung=rung.number, left=left)
        if course is None or course.task is None:
            return self._fitted_for(rung)
        self.course = course
        run.task_done(course.task.what)
        self._tell_course()
        return None if rung.number in course.lost else self._fitted_for(self._left()[0])

    def _tell_course(self) -> None:
        """Tell the ladder as it is from now on."""
        self.run.tell(LadderChanged(planned=planned_of(self.course.ladder), task=self.course.task))

    def _can_be_taken_back(self) -> bool:
        """Say whether the last task was to agree to go on without a filter."""
        task, agreed = self.run.steering.done_task, self.course.task
        return task is not None and agreed is not None and agreed.what == task.what

    def _agreed(self, found: Refit, planned: Rung) -> bool:
        """Propose other filters, and have them put on where the plan lets that be done; False: those planned go on."""
        run = self.run
        change = self._change(found.rung)
        if run.plan.readings.correct != "take" or not change:
            run.say("note", found.why, rung=planned.number)
            return run.plan.readings.correct == "take"
        reason = f"{found.why} Skip keeps to what is planned: {stack_name(planned.fitted)}."
        kept = f"the filters stay as planned: {stack_name(planned.fitted)}"
        if self._turn(replace(change[0], reason=reason), planned.number, kept):
            agreed(run, found)
            return True
        if not run.steering.missing:
            refused(run)
        return False

    def _answered(self, turn: PlannedTurn, rung: int | None) -> bool:
        return self.before is not None and (rung, turn.what) in self.before.turns

    def _turn(self, turn: PlannedTurn, rung: int | None, otherwise: str = "") -> bool:
        """Ask for a turn and let what it was about settle; False if the person did not do it.

        `otherwise` is what comes of that; empty: the rung is skipped, or the dark frames where it is after the last.
        """
        run = self.run
        if run.steering.skip:
            return False
        fitted = list(turn.filters) if turn.kind == "change filters" else None
        answered = your_turn(
            run,
            turn.what,
            turn.reason,
            rung=rung,
            takes_s=turn.takes_s,
            meanwhile=self.fetcher.drain,
            fitted=fitted,
            takes_off=fitted is not None and not set(self.fitted) <= set(fitted),
            puts_on=tuple(one for one in fitted or () if one not in self.fitted),
            at_most_s=OFFERED_FOR_S if self._offers(turn) else None,
            otherwise=otherwise or ("no dark frames are taken" if rung is None else ""),
        )
        if not answered:
            return False
        if rung is not None:
            run.task_done(turn.what)
        if fitted is not None:
            self.fitted = tuple(fitted)
            stage_filters(run, self._on_lens())
        if turn.kind == "cap on":
            stage(run, SceneChange(capped=True))
        run.go("settling")
        run.pass_time(run.plan.run.settle_s)
        run.go("ready")
        return True

    def _take_quick(self) -> None:
        rungs = self.course.ladder.rungs
        take_quick(self.run, self.fetcher, (self.refitted, *rungs) if self.refitted else rungs, self.fitted)

    # Proofs, darks, time of day ----------------------------------------------------------------------------------

    def _darks(self) -> None:
        run = self.run
        run.steering.begin_wait()
        for turn in self.course.ladder.turns_before(None):
            left = None if self._answered(turn, None) else self._why_left(turn)
            if left:
                run.say("note", f"No dark frames: {left}.")
                return
        for dark in self.course.ladder.darks[self.before.darks if self.before else 0 :]:
            run.wait_while_paused()
            late = too_late(run, frame_takes_s(run, dark.time_s))
            if run.steering.skip or late:
                run.say("note", f"The dark frames that are left are not taken: {late or 'skipped'}.")
                return
            make_extra(run, self.fetcher, shot_of_dark(dark))

    def _why_left(self, turn: PlannedTurn) -> str | None:
        """Have the cap put on for the dark frames; return why that is left, or None where it is done."""
        run = self.run
        if self._offers(turn):
            if run.answer_for_me:
                return "they are only offered, and nobody is here to put the cap on"
            late = too_late(run, frame_takes_s(run, min(dark.time_s for dark in self.course.ladder.darks)))
            if late:
                return late
        if self._turn(turn, None):
            return None
        if self._offers(turn) and not run.steering.skip:
            return f"nobody answered within {OFFERED_FOR_S / 60:.0f} min"
        return f"{turn.what} was not done"

    def _offers(self, turn: PlannedTurn) -> bool:
        """Say whether a turn is only offered: nothing waits for it for ever."""
        return turn.kind == "cap on" and any(dark.offered for dark in self.course.ladder.darks)
