"""Take the frames of one rung: set, make, judge the first before the next is opened, take again what went wrong."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from tether import wording as words
from tether.engine.aim import acting, aim, consent, propose, tell
from tether.engine.deadline import frame_takes_s, too_late, warn_of_leaving
from tether.engine.frame import make
from tether.engine.run_state import Run
from tether.engine.settings import apply, set_for_rung
from tether.engine.tasks import wait_for_key, your_turn
from tether.engine.transfer import Fetcher
from tether.errors import CameraError
from tether.exposure.stops import time_stops
from tether.journal.records import RungOutcome
from tether.plan.again import solve_again
from tether.plan.aiming import Aim
from tether.plan.choices import LONG_WATER_S
from tether.plan.file import ON_KEY, Plan
from tether.plan.ladder import Choice, Rung
from tether.shot.comparison import Difference
from tether.shot.made import Made
from tether.shot.shot import Shot, shot_of_rung

#: After a frame on the person's key they must be quiet so long before frames are fetched [s].
QUIET_S = 3.0
#: What frames before it say is waited for where their saying decides so much [stops, one standard deviation].
IN_DOUBT_STOPS, IN_DOUBT_HELD_STOPS = 0.08, 0.03
#: A timed rung is not set anew for less than this [stops].
NEAR_STOPS = 0.1
#: How often a frame that failed, or was taken with other settings than asked, is taken again.
MOST_RETAKEN = 2
#: A bulb frame's open time that is off by less tells of a shutter that was late, not of a dial at another time [stops].
LATE_STOPS = 1.0
#: A long exposure that opens through something unmeasured is made so much darker [stops] (common practice, no source).
UNMEASURED_STOPS = 1 / 3


@dataclass
class Tally:
    """What came of a rung so far.

    `before` is how many good frames an earlier run made of it; `frames` are those made since, good or not. `late`:
    what is left of it would end after the person wants to leave.
    """

    before: int = 0
    frames: list[int] = field(default_factory=list)
    note: str | None = None
    late: bool = False

    def made(self, fetcher: Fetcher) -> int:
        """Return how many frames count: those that are good, and those that should be once their file has come."""
        awaited = {made.frame for made in fetcher.run.files.awaited if made.as_commanded}
        return self.good(fetcher) + sum(frame in awaited for frame in self.frames)

    def good(self, fetcher: Fetcher) -> int:
        """Return how many frames are home and as asked."""
        return self.before + sum(fetcher.run.files.good(frame) for frame in self.frames)

    def outcome(self, wanted: int, fetcher: Fetcher, *, skipped: bool) -> RungOutcome:
        """Return how a rung of so many wanted frames ended, by what is home: only that is known to be good."""
        good = self.good(fetcher)
        if good >= wanted:
            return "done, differs" if self.note else "done"
        if not good and not self.frames:
            return "left out" if self.late else "skipped" if skipped else "failed"
        return "done in part" if good or self.made(fetcher) else "failed"


@dataclass
class Taking:
    """One rung in hand."""

    run: Run
    fetcher: Fetcher
    rung: Rung
    tally: Tally
    set_for: Shot | None = None
    judged: bool = False
    retaken: int = 0
    unsure_stops: float = 0.0
    steered_stops: float = 0.0
    aimed: Aim = field(init=False)
    _considered: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.aimed = Aim(choice=self.rung.choice, followed_stops=0.0, left_stops=0.0)

    def take_all(self) -> None:
        """Take every frame of the rung, as far as body and person let it.

        Raises
        ------
        Stopped
            If the person stops the run.
        TetherError
            If the camera cannot be used any more.
        """
        self.unsure_stops = self._unsure()
        propose(self.run, self.rung)
        goes_on = True
        while goes_on:
            all_taken = self._take_frames()
            goes_on = self._hear_frames() and all_taken and self._wants_more()

    def _wants_more(self) -> bool:
        if self.rung.taken == "each wave" and not self.run.answer_for_me:
            return True
        return self.tally.made(self.fetcher) < self.rung.frames + self.run.steering.again

    def _hear_frames(self) -> bool:
        """Bring the frames of the rung home; wait for what they say where one may be taken again for it.

        Returns False if the rung is to be left: frames came out otherwise than asked, too often.
        """
        self.fetcher.collect(self.rung.number)
        self.fetcher.drain()
        if self.run.plan.readings.again == "take" and self.run.following.sure:
            self.fetcher.await_readings()
        return self._consider()

    def _take_frames(self) -> bool:
        """Take the frames that are wanted by now; False if the rung is to be left before that."""
        run = self.run
        while self._wants_more():
            run.wait_while_paused()
            if self._left():
                return False
            shot = self._set_if_needed()
            if shot is None or not self._moment_has_come():
                return False
            run.stop_if_asked()
            if self._left():
                return False
            planned = shot_of_rung(self.rung, self.rung.choice)
            made = make(run, self.fetcher, shot, planned, at_once=self._burst_goes_on())
            if made is None:
                if not self._may_retake("the frame could not be made"):
                    return False
                continue
            self.tally.frames.append(made.frame)
            self._tell_lag(made)
            run.stop_if_asked()
            if not self._first_is_good():
                return False
        return True

    def _unsure(self) -> float:
        """Return by how much a long rung is made darker: what it is made with is still not measured as it opens."""
        filters = [one.name for one in self.rung.fitted]
        seen = self.run.following.tells and self.run.following.knows(filters)
        darker = unsure_stops(self.run.plan, self.rung, seen=seen)
        if darker:
            why = "nothing was read yet through what it is made with, which is not measured"
            self.run.say("note", f"Made {words.brighter(-darker)} than planned: {why}.", rung=self.rung.number)
        return darker

    def _await_if_in_doubt(self) -> None:
        """Wait for what frames before it say where that decides how it is made; not within a burst, nor on a key.

        A rung of bulb exposures begins with all of it known: nothing can be told of the light while one is open.
        """
        run, choice = self.run, self.rung.choice
        in_hand = self.set_for is not None and self.rung.taken != "at once"
        if in_hand or not run.following.tells or not run.reader.left():
            return
        held = choice.way == "held"
        foretold = run.following.foretold(acting(self.rung, choice), run.now_s, choice.time_s)
        in_doubt = foretold and foretold.doubt_stops > (IN_DOUBT_HELD_STOPS if held else IN_DOUBT_STOPS)
        if in_doubt or (held and not self.tally.frames):
            self.fetcher.await_readings()

    def _left(self) -> bool:
        """Say whether the rest of the rung is left: the person skips it, or its next frame would end too late."""
        if self.run.steering.skip:
            return True
        warn_of_leaving(self.run)
        late = too_late(self.run, frame_takes_s(self.run, self.aimed.choice.time_s))
        if late:
            self.tally.note, self.tally.late = late, True
        return late is not None

    def _moment_has_come(self) -> bool:
        if self.rung.taken not in ON_KEY:
            return True
        return wait_for_key(self.run, self.rung.number, QUIET_S, self.fetcher.drain)

    def _tell_lag(self, made: Made) -> None:
        """Say how long after the person's key a frame was opened."""
        key_s, opened_s = self.run.hand.answered_s, made.opened_s
        if self.rung.taken in ON_KEY and key_s is not None and opened_s is not None:
            said = f"Told to open {max(opened_s - key_s, 0.0):.2f} s after your key; the body's own delay comes on top."
            self.run.say("note", said, frame=made.frame, rung=self.rung.number)

    def _burst_goes_on(self) -> bool:
        """Say whether another frame follows at once: in a burst, from the frame after the one that is judged."""
        return self.rung.taken == "burst" and self.judged and self.tally.made(self.fetcher) + 1 < self.rung.frames

    def _may_retake(self, otherwise: str) -> bool:
        self.retaken += 1
        self.set_for = None
        if self.retaken > MOST_RETAKEN:
            self.tally.note = otherwise
            return False
        return True

    def _first_is_good(self) -> bool:
        """Bring the first frame with these settings home and judge its Exif; False if the rung is to be left.

        Not where the person waits for a moment: there the frames are judged when they have been quiet for a while.
        """
        if self.judged or self.rung.taken in ON_KEY:
            return True
        self.judged = True
        self.fetcher.drain()
        return self._consider()

    def _consider(self) -> bool:
        """Draw the conclusions from frames that came home otherwise than asked; False if the rung is to be left.

        A setting that the body keeps, whatever it says, costs one frame: the rest is solved around it, or the person is
        asked, once for that setting.
        """
        wrong = [frame for frame in self.tally.frames if self.run.files.differs(frame)]
        new = [frame for frame in wrong if frame not in self._considered]
        self._considered.update(new)
        if not new:
            return True
        which = {found.which for frame in new for found in self.run.files.differs(frame)}
        if not self._may_retake(f"frames came out with another {' and '.join(sorted(which))} than asked"):
            return False
        self.judged = False
        self.tally.note = "a frame was not as asked and was taken again"
        found = [one for one in self.run.files.differs(new[-1]) if not (one.by_commands or self._is_late(one))]
        if not all(self._taken_for_kept(one) for one in found):
            return False
        if found:
            self._shake_loose()
        return True

    def _is_late(self, found: Difference) -> bool:
        """Say whether a bulb frame's shutter was late or early by less than a dial left at another time would be."""
        choice = self.aimed.choice
        if found.which != "time" or choice.way != "held" or not found.value:
            return False
        return abs(time_stops(found.value, choice.time_s)) < LATE_STOPS

    def _taken_for_kept(self, found: Difference) -> bool:
        """Remember a value that the body keeps; ask for a time that it keeps. False if the rung is to be left."""
        kept = self.run.hand.stuck
        if found.which == "aperture":
            kept.aperture = found.value
        elif found.which == "ISO":
            kept.iso = found.value
        elif not kept_asked(self.run, "time", f"{found.clause[:1].upper()}{found.clause[1:]}", self.rung.number):
            return False
        return True

    def _set_if_needed(self) -> Shot | None:
        """Set the body where that is to be done (again); None if the rung is to be left."""
        self._await_if_in_doubt()
        steered = self.run.steering.brighter_stops - self.unsure_stops
        found = aim(self.run, self.rung, steered)
        if not consent(self.run, self.rung, found):
            found = aim(self.run, self.rung, steered)
        if self.set_for is not None and self.steered_stops == steered and self._is_set_for(found):
            self.set_for = replace(self.set_for, time_s=self.aimed.choice.time_s)
            return self.set_for
        self.steered_stops, self.aimed = steered, found
        self.judged = False
        self.set_for = self._set()
        return self.set_for

    def _is_set_for(self, found: Aim) -> bool:
        """Say whether the body is set for an aim already, or near enough to it; a bulb time is not set at all."""
        before = self.aimed
        if found.choice.way == "held":
            same = (found.choice.aperture, found.choice.iso) == (before.choice.aperture, before.choice.iso)
            self.aimed = found if same else before
            return same
        return abs(found.followed_stops - before.followed_stops) < NEAR_STOPS

    def _set(self) -> Shot | None:
        run = self.run
        while True:
            try:
                shot, around = set_for_rung(run, self.rung, self._choice(), self._brighter_stops())
            except CameraError as error:
                run.go("ready")
                self.tally.note = str(error)
                run.say("trouble", str(error), rung=self.rung.number)
                if run.plan.run.when_refused == "skip" or run.answer_for_me:
                    return None
                if not your_turn(run, "see to the camera", str(error), rung=self.rung.number):
                    return None
                run.hand.stuck.forget()
                continue
            if around:
                self.tally.note = f"solved around: {around}"
            return shot

    def _choice(self) -> Choice:
        """Return the rung's choice, solved again for what the person wants, or for a value that the body keeps.

        Where that can't be solved around the person is asked about it; then it is as planned. Raises CameraError where
        it is not seen to.
        """
        run, rung, kept = self.run, self.rung, self.run.hand.stuck
        if not kept.anything():
            tell(run, rung, self.aimed)
            return self.aimed.choice
        again = solve_again(
            run.plan,
            run.abilities,
            rung.choice,
            rung.wanted,
            brighter_by_stops=self._brighter_stops(),
            aperture=kept.aperture,
            iso=kept.iso,
        )
        if again is not None:
            return again
        aperture = f"aperture at f/{kept.aperture:.3g}" if kept.aperture is not None else ""
        iso = f"ISO at {kept.iso:.0f}" if kept.iso is not None else ""
        values = " and its ".join(filter(None, (aperture, iso)))
        sentence = f"The camera keeps its {values}, whatever it says, and this rung can't be made with that"
        if not kept_asked(run, values, sentence, rung.number):
            raise CameraError(f"{sentence}.")
        return rung.choice

    def _brighter_stops(self) -> float:
        """Return how much brighter than planned it is meant to be [stops]."""
        return self.steered_stops + self.aimed.followed_stops

    def _shake_loose(self) -> None:
        """Set another time and ISO first, so that a body which kept an old value must really take the next."""
        run = self.run
        shot = shot_of_rung(self.rung, self.rung.choice)
        iso = next((mark for mark in run.abilities.isos if mark.label != shot.iso.label), shot.iso)
        time = next((mark for mark in run.abilities.times if mark.label != shot.time_label), None)
        if time is None:
            return
        loose = replace(shot, way="timed", time_s=time.exact, time_label=time.label, iso=iso)
        try:
            apply(run, loose)
        except CameraError as error:
            run.say("trouble", str(error), rung=self.rung.number)


def kept_asked(run: Run, what: str, sentence: str, rung: int) -> bool:
    """Ask the person, once for each setting, to see to one that the body keeps; True if it is to be tried again.

    Where nobody is to be asked it is tried again once as well.
    """
    if what in run.hand.stuck.asked:
        return False
    run.hand.stuck.asked.add(what)
    if run.plan.run.when_refused == "skip":
        return True
    reason = f"{sentence}. Set its {what.split(' ')[0]} on the body, and its dial to M."
    if not your_turn(run, "see to the camera", reason, rung=rung):
        return False
    run.hand.stuck.forget()
    return True


def unsure_stops(plan: Plan, rung: Rung, *, seen: bool) -> float:
    """Return by how much a rung is darkened because what it is made with is not measured, now that it opens [stops].

    Parameters
    ----------
    seen
        Whether a frame through the same filters was read, so that what they take is known.
    """
    if plan.top.darker_by != "what is unmeasured" or rung.choice.time_s < LONG_WATER_S * 0.99 or seen:
        return 0.0
    base = 0.0 if plan.base.measured else plan.base.uncertainty_stops
    return max(base, 0.0 if all(one.measured for one in rung.choice.stack) else UNMEASURED_STOPS)
