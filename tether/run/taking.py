"""Take the frames of one rung: set, make, judge the first before the next is opened, take again what went wrong."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tether.errors import CameraError
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.journal.records import RungOutcome
from tether.plan.again import solve_again
from tether.plan.ladder import Choice, Rung
from tether.report import words
from tether.run.asking import wait_for_key, your_turn
from tether.run.context import Run
from tether.run.correcting import LEAST_STOPS
from tether.run.fetching import Fetcher
from tether.run.leaving import frame_takes_s, too_late
from tether.run.making import make
from tether.run.setting import Ready, apply, set_for_rung
from tether.run.shots import Shot, shot_of_rung

#: After a frame on the person's key they must be quiet so long before frames are fetched [s].
QUIET_S = 3.0
#: How often a frame that failed, or was taken with other settings than asked, is taken again.
MOST_RETAKEN = 2


@dataclass
class Tally:
    """What came of a rung so far."""

    made: int = 0
    differs: int = 0
    note: str | None = None

    def outcome(self, wanted: int, *, skipped: bool) -> RungOutcome:
        """Return how a rung of so many wanted frames ended."""
        if not self.made:
            return "skipped" if skipped else "failed"
        if self.made < wanted:
            return "done in part"
        return "done, differs" if self.differs or self.note else "done"


@dataclass
class Taking:
    """One rung in hand."""

    run: Run
    fetcher: Fetcher
    rung: Rung
    tally: Tally
    ready: Ready | None = None
    judged: bool = False
    retaken: int = 0
    brighter_stops: float = 0.0
    corrected_stops: float = 0.0

    def take_all(self) -> None:
        """Take every frame of the rung, as far as body and person let it.

        Raises
        ------
        Stopped
            If the person stops the run.
        TetherError
            If the camera cannot be used any more.
        """
        self._correct()
        goes_on = True
        while goes_on:
            all_taken = self._take_frames()
            self._hear_frames()
            goes_on = all_taken and self._wants_more()

    def _wants_more(self) -> bool:
        return self.tally.made < self.rung.frames + self.run.wishes.again

    def _hear_frames(self) -> None:
        """Bring the frames of the rung home; wait for what they say where one may be taken again for it."""
        self.fetcher.collect(self.rung.number)
        self.tally.differs += len(self.fetcher.drain())
        if self.run.plan.readings.again == "take" and self.run.corrections.sure:
            self.fetcher.await_readings()

    def _take_frames(self) -> bool:
        """Take the frames that are wanted by now; False if the rung is to be left before that."""
        run = self.run
        while self._wants_more():
            run.wait_while_paused()
            if self._left():
                return False
            ready = self._set_if_needed()
            if ready is None or not self._moment_has_come():
                return False
            run.stop_if_asked()
            if self._left():
                return False
            if make(run, self.fetcher, ready.shot, self._planned(), at_once=self._burst_goes_on()) is None:
                if not self._may_retake("the frame could not be made"):
                    return False
                continue
            run.stop_if_asked()
            if self._first_is_good(ready.shot):
                self.tally.made += 1
        return True

    def _correct(self) -> None:
        """See by how much the rung is to be other than planned for what frames before it showed, and say so."""
        found = self.run.corrections.of(self.run.plan, self.rung)
        if found is None:
            return
        self.corrected_stops, off = found
        made = self._changed_stops(self.corrected_stops)
        if abs(made) < LEAST_STOPS:
            return
        came_out = f"frame {off.frame} came out {words.brighter(off.stops)} than reckoned"
        self.run.say("note", f"Made {words.brighter(made)} than planned: {came_out}.", rung=self.rung.number)

    def _changed_stops(self, brighter: float) -> float:
        """Return how much brighter the settings solved for that are than those planned [stops]."""
        run, planned = self.run, self.rung.choice
        again = solve_again(run.plan, run.abilities, planned, self.rung.wanted, brighter_by_stops=brighter)
        if again is None:
            return 0.0
        return (
            time_stops(again.time_s, planned.time_s)
            + aperture_stops(again.aperture.exact, planned.aperture.exact)
            + iso_stops(again.iso.exact, planned.iso.exact)
        )

    def _left(self) -> bool:
        """Say whether the rest of the rung is left: the person skips it, or its next frame would end too late."""
        if self.run.wishes.skip:
            return True
        late = too_late(self.run, frame_takes_s(self.run, self.rung.choice.time_s))
        if late:
            self.tally.note = late
        return late is not None

    def _planned(self) -> Shot:
        return shot_of_rung(self.rung, self.rung.choice)

    def _moment_has_come(self) -> bool:
        if self.rung.taken != "on my key":
            return True
        return wait_for_key(self.run, self.rung.number, QUIET_S, self._drain_quietly)

    def _drain_quietly(self) -> None:
        self.fetcher.drain()

    def _burst_goes_on(self) -> bool:
        """Say whether another frame follows at once: in a burst, from the frame after the one that is judged."""
        return self.rung.taken == "burst" and self.judged and self.tally.made + 1 < self.rung.frames

    def _may_retake(self, otherwise: str) -> bool:
        self.retaken += 1
        self.ready = None
        if self.retaken > MOST_RETAKEN:
            self.tally.note = otherwise
            return False
        return True

    def _first_is_good(self, shot: Shot) -> bool:
        """Bring the first frame with these settings home and judge its Exif; False if it is to be taken again.

        Not where the person waits for a moment: there the frames are judged when they have been quiet for a while.
        """
        if self.judged or self.rung.taken == "on my key":
            return True
        self.judged = True
        if not self.fetcher.drain():
            return True
        self.tally.differs += 1
        if not self._may_retake("frames were taken with other settings than asked"):
            return True
        self.tally.note = "a frame was taken with other settings than asked, and was taken again"
        self._shake_loose(shot)
        return False

    def _set_if_needed(self) -> Ready | None:
        """Set the body where that is to be done (again); None if the rung is to be left."""
        brighter = self.run.wishes.brighter_stops + self.corrected_stops
        if self.ready is None or self.brighter_stops != brighter:
            self.brighter_stops = brighter
            self.judged = False
            self.ready = self._set()
        return self.ready

    def _set(self) -> Ready | None:
        run = self.run
        while True:
            try:
                ready = set_for_rung(run, self.rung, self._choice(), self.brighter_stops)
            except CameraError as error:
                run.go("ready")
                self.tally.note = str(error)
                run.say("trouble", str(error), rung=self.rung.number)
                if run.plan.run.when_refused == "skip" or run.answer_for_me:
                    return None
                if not your_turn(run, "see to the camera", str(error), rung=self.rung.number):
                    return None
                continue
            if ready.around:
                self.tally.note = f"solved around: {ready.around}"
            return ready

    def _choice(self) -> Choice:
        """Return the rung's choice, solved again where the person wants it brighter or darker."""
        run, rung, brighter = self.run, self.rung, self.brighter_stops
        if not brighter:
            return rung.choice
        again = solve_again(run.plan, run.abilities, rung.choice, rung.wanted, brighter_by_stops=brighter)
        if again is None:
            run.say("note", f"The limits leave no way to make this rung {brighter:+.2f} stop; it stays as planned.")
            return rung.choice
        return again

    def _shake_loose(self, shot: Shot) -> None:
        """Set another ISO first, so that a body which kept an old value must really take the next."""
        run = self.run
        other = next((mark for mark in run.abilities.isos if mark.label != shot.iso.label), None)
        if other is None:
            return
        try:
            apply(run, replace(shot, iso=other))
        except CameraError as error:
            run.say("trouble", str(error), rung=self.rung.number)
