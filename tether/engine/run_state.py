"""What every part of a run works with: what it was given, what the person wishes, what is known and in hand."""

from __future__ import annotations

import queue
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal

from tether.body.protocol import Camera, Remark
from tether.body.stamps import Stamps
from tether.checks.host_clocks import ClockReading
from tether.clock import Clock, to_ns, to_s
from tether.control.commands import Command, Item, Verb
from tether.control.stream import Stream
from tether.engine.analysis_queue import Reader
from tether.engine.copy_queue import Copier
from tether.engine.following import Following
from tether.engine.frame_files import FrameFiles
from tether.engine.in_hand import InHand
from tether.engine.judgement import FrameHistory
from tether.engine.steering import DoneTask, Steering, Stopped, TakenBack
from tether.exposure.abilities import Abilities
from tether.journal.records import (
    Mentioned,
    Noted,
    Record,
    RegionsSet,
    RegionsShown,
    Said,
    State,
    StateChanged,
    Steered,
    WishesChanged,
)
from tether.journal.store import Journal
from tether.outing.folder import Folder
from tether.plan.cautions import SEA_EVERY_S, SEA_FIRST
from tether.plan.file import Plan
from tether.plan.ladder import Ladder

_REGIONS_USED = "frames are compared by them, and rungs corrected"
_REGIONS_LEFT = "from now on nothing is compared or corrected by them; [[region]] tables in a plan give others"


@dataclass(frozen=True, kw_only=True)
class Run:
    """One run of one ladder. Only the engine's thread touches it; others put commands into `box`.

    Attributes
    ----------
    plan, ladder, abilities, ladder_number, answer_for_me, patience_s, left, on_lens
        What it was given: the job, and how it is to be done. `left` is what a camera process before this run knew of
        its last exposure, `on_lens` the filters that are on as a new ladder begins, by name.
    camera, clock, box, journal, folder, stream, look, reader, copier
        What it was given to work with. `look` reads the machine's clocks, `reader` frames, `copier` copies them to a
        second disk.
    steering
        What the person wishes; only their words and the run's own acts upon them change it.
    files, following, frame_history
        What is known: how far the file of each frame has come, of light and glass, what frames said so far.
    hand
        Where it stands.
    """

    plan: Plan
    ladder: Ladder
    abilities: Abilities
    ladder_number: int
    answer_for_me: bool = False
    patience_s: float = 60.0
    left: Stamps | None = None
    on_lens: tuple[str, ...] = ()

    camera: Camera
    clock: Clock
    box: queue.SimpleQueue[Item]
    journal: Journal
    folder: Folder
    stream: Stream
    look: Callable[[], ClockReading] = ClockReading.now
    reader: Reader = field(default_factory=Reader)
    copier: Copier = field(default_factory=Copier)

    steering: Steering = field(default_factory=Steering)

    files: FrameFiles = field(default_factory=FrameFiles)
    following: Following = field(default_factory=Following)
    frame_history: FrameHistory = field(default_factory=FrameHistory)

    hand: InHand = field(default_factory=InHand)

    @property
    def now_s(self) -> float:
        """This moment by the run's clock [s]."""
        return to_s(self.clock.now_ns())

    def at_s(self, moment: datetime) -> float:
        """Return a moment of the wall clock by the run's clock [s], also one of an earlier run."""
        return self.now_s - (self.clock.utc() - moment).total_seconds()

    def tell(self, record: Record) -> None:
        """Say that something happened, or is about to: kept first, then shown. See :meth:`Stream.tell`."""
        self.stream.tell(record)

    def go(self, state: State) -> None:
        """Change state and tell it; a move that the table does not allow is a mistake in the program."""
        before = self.hand.go(state)
        if before == state:
            return
        self.tell(StateChanged(before=before, state=state, at_ns=self.clock.now_ns()))
        self._tell_pending()

    def say(
        self, about: Literal["note", "trouble"], text: str, frame: int | None = None, rung: int | None = None
    ) -> None:
        """Tell the person a sentence and keep it in the journal."""
        self.tell(Said(about=about, text=text, frame=frame, rung=rung))

    def hear(self, until_ns: int | None) -> Item | None:
        """Wait for whatever comes first: a word of the camera, a word of the person (acted on already), the moment."""
        item = self._wait(until_ns)
        if isinstance(item, Command):
            effect = self._note_lamp() if item.verb == "headlamp" else self._judge_regions(item.verb)
            effect = effect or self.steering.hear(item.verb, self.camera, self.hand.open, self.following)
            if item.verb == "answer":
                self.hand.answered_s = self.now_s
            self.tell(Steered(verb=item.verb, effect=effect))
            self._tell_pending()
        if isinstance(item, Remark):
            self._keep(item)
        return item

    def _wait(self, until_ns: int | None) -> Item | None:
        """Wait for what comes first; by the sea that is spoken of every so often meanwhile."""
        hand, clock = self.hand, self.clock
        while self.plan.by_the_sea:
            if hand.sea_told_ns is None:
                hand.sea_told_ns = clock.now_ns()
            due_ns = hand.sea_told_ns + to_ns(SEA_EVERY_S)
            if until_ns is not None and until_ns <= due_ns:
                break
            item = clock.take(self.box, due_ns)
            if item is not None:
                return item
            hand.sea_told_ns = clock.now_ns()
            self.tell(Mentioned(about="note", text=f"{SEA_FIRST}."))
        return clock.take(self.box, until_ns)

    def read_by(self, regions: RegionsSet, shown: RegionsShown | None) -> None:
        """Have later frames read by regions and corrected by what that tells, unless the person refused them.

        `shown` is how they are shown, if they are. The person can say what they like of any that the plan did not give.
        """
        use = regions.source != "refused"
        self.reader.against = self.folder.readings(self.ladder_number) if use else None
        self.following.sure = use
        if regions.source != "given":
            self.hand.regions = (regions, shown)
        if shown is not None:
            self.tell(shown)

    def _note_lamp(self) -> str:
        """Note the frame that is open while a lamp is on; return in words what came of it."""
        opened = self.hand.open
        if opened is None:
            return "your lamp is always allowed; no frame is open, so there is nothing to note"
        self.say("note", "A lamp was on while this frame was open.", frame=opened.frame, rung=self.hand.rung)
        return f"noted at frame {opened.frame}; your lamp is always allowed"

    def task_done(self, what: str) -> None:
        """Remember a task of the rung in hand as done now: it can be taken back."""
        self.steering.task_done(DoneTask(what=what, at_s=self.now_s, first_frame=self.hand.next_frame))

    def take_quick_frames(self) -> None:
        """Take the quick frames that the person wants, where nothing is open and the run is far enough for them."""
        take = self.hand.takes_quick
        while take is not None and self.steering.take_quick():
            take()

    def _judge_regions(self, verb: Verb) -> str | None:
        """Return in words what comes of the person's word on the regions; None: it was on something else."""
        if verb not in ("regions right", "regions wrong"):
            return None
        if self.hand.regions is None:
            return "no regions were proposed, so nothing changed"
        right = verb == "regions right"
        regions, shown = self.hand.regions
        regions = replace(regions, source="confirmed" if right else "refused")
        self.tell(regions)
        self.read_by(regions, None if shown is None else replace(shown, state="right" if right else "wrong"))
        return _REGIONS_USED if right else _REGIONS_LEFT

    def _keep(self, remark: Remark) -> None:
        """Tell what the camera remarks; what it would rather have kept than shown holds serial numbers."""
        if not remark.kept:
            self.say("note", remark.text)
            return
        self.tell(Noted(about="note", text=remark.kept))
        if remark.text:
            self.tell(Mentioned(about="note", text=remark.text))

    def _tell_pending(self) -> None:
        """Tell what is still to be done of what the person said, where that is other than told before."""
        news = self.steering.news(self.hand.state)
        if news is not None:
            self.tell(WishesChanged(pending=news))

    def pass_time(self, seconds: float) -> None:
        """Let time pass, hearing the person; "next" and every stop cut it short."""
        until_ns = self.clock.now_ns() + to_ns(seconds)
        while self.clock.now_ns() < until_ns and not (self.steering.hurry or self.steering.interrupts):
            if self.hear(until_ns) is None:
                break
        self.stop_if_asked()

    def catch_up(self) -> None:
        """Act on all that has been said by now, without waiting."""
        while self.hear(self.clock.now_ns()) is not None:
            pass

    def stop_if_asked(self) -> None:
        """Raise Stopped if the person asked to stop, TakenBack if they took a task back; called where that is clean."""
        self.catch_up()
        if self.steering.stop:
            raise Stopped(self.steering.stop)
        if self.steering.taken_back:
            raise TakenBack

    def wait_while_paused(self) -> None:
        """Act on what was said; wait until the person says to go on, if they said to pause. Raises Stopped."""
        self.stop_if_asked()
        self.take_quick_frames()
        if not self.steering.resting():
            return
        self.go("paused")
        while self.steering.resting():
            self.hear(None)
            self.take_quick_frames()
        self.go("ready")
        self.stop_if_asked()
