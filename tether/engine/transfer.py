"""Bring frames home: a queue that is emptied when nobody waits, each file checked, previewed, and its Exif judged."""

from __future__ import annotations

import contextlib
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from tether.body.protocol import CardFile
from tether.clock import to_ns
from tether.engine.assessment import take_in
from tether.engine.recovery import with_care
from tether.engine.run_state import Run
from tether.engine.second_copy import keep_copies
from tether.errors import SupplyError, TetherError
from tether.exposure.agreement import rounded_to_s
from tether.files.check import check_frame
from tether.files.copying import AskedCopy
from tether.files.errors import NameTakenError
from tether.files.exif import FrameExif, read_exif
from tether.files.preview import save_preview
from tether.files.safe import MOST_FETCHES, Arrived, arriving, settle
from tether.frames.asked import FrameAnswer
from tether.journal.history import ANSWERED_LATE_S
from tether.journal.records import ExifRead, FetchIntent, FetchOutcome
from tether.shot.comparison import Difference, applied_of_exif, exif_differs
from tether.shot.made import Made
from tether.shot.matching import ArrivedFile, clock_of, matched, seconds_of, shows_a_clock_was_set

#: How long the run waits for a frame to be read before it goes on without [s], and how long it naps meanwhile [s].
READ_WITHIN_S = 60.0
NAP_S = 0.1
#: What a body may take to write a frame to its card, on top of the exposure [s].
WRITING_S = 60.0
#: How long is waited for a frame that may not come at all [s].
LATE_S = 10.0
#: How long is waited for another file where one is not as asked: it may be one taken on the body's own button [s].
BESIDE_S = 2.0
#: The body's clock is compared with ours over so many frames.
CLOCK_OVER = 9


@dataclass(frozen=True, kw_only=True)
class Here:
    """A file that has arrived, where, and what it says; `exif` None: it can't be read, or is still to be read."""

    file: CardFile
    path: Path
    exif: FrameExif | None


@dataclass
class Fetcher:
    """Brings the files of frames home, each to its frame; `run.files` says how far each has come."""

    run: Run
    _clock: deque[tuple[float, float]] = field(default_factory=lambda: deque(maxlen=CLOCK_OVER))
    _clock_doubted: bool = False
    _writes_fractions: bool = False

    def know(self, clock: Iterable[tuple[float, float]], *, writes_fractions: bool) -> None:
        """Take in what an earlier run learned: of the body's clock, and how it writes the times of held frames."""
        began_s = self.run.at_s(datetime.fromtimestamp(0, UTC))
        self._clock.extend((began_s + opened_s, taken_s) for opened_s, taken_s in clock)
        self._writes_fractions = writes_fractions

    # What is to come

    def collect(self, rung: int | None) -> None:
        """Wait until the files of all frames owed are on the card, and queue them.

        A body may need as long again for a dark frame of its own; a file that comes later still is matched too.
        """
        files = self.run.files
        owed = len(files.waited_for) - len(files.queued)
        if owed <= 0:
            return
        last = files.waited_for[-1]
        doubled = self.run.plan.run.dark_frames == "by the body"
        short = owed - self._queue_new(owed, WRITING_S + (last.open_s if doubled else 0.0), rung)
        if short > 0:
            missing = "a frame has" if short == 1 else f"{short} frames have"
            self.run.say("trouble", f"{missing} not come yet; the run continues and looks again.", frame=last.frame)
            # Frames that our own commands spoilt are waited for no longer: there may be none of them.
            files.expect_perhaps(made for made in files.awaited if not made.as_commanded)
            if self._clock_doubted:
                self._clock.clear()

    def expect_perhaps(self, made: Made, within_s: float = LATE_S) -> None:
        """Queue the file of a frame that failed, if one comes all the same within so long."""
        self.run.files.expect_perhaps([made])
        self._queue_new(len(self.run.files.waited_for) + 1, within_s, made.rung)

    def queue(self, files: Sequence[CardFile]) -> int:
        """Queue those of these files that are new, and return how many that are."""
        new = [file for file in files if not self.run.files.is_known(file)]
        for file in new:
            self.run.files.known.update(file.places)
        self.run.files.queued.extend(new)
        return len(new)

    def _queue_new(self, expected: int, allow_s: float, rung: int | None) -> int:
        """Queue what has come, and return how much that was; a file that was seen before is not counted."""
        found = 0
        while found < expected:
            come = partial(self.run.camera.new_files, expected - found, allow_s)
            files = with_care(self.run, come, rung=rung)
            new = self.queue(files)
            found += new
            if new == len(files):
                break
        return found

    def look_again(self, within_s: float = LATE_S) -> None:
        """Look once more for frames that have not come, without waiting long."""
        if self.run.files.waited_for:
            self._queue_new(len(self.run.files.waited_for), within_s, None)

    # Bringing home

    def drain(self, goes_on: Callable[[], bool] = lambda: True) -> None:
        """Bring home what is queued, each file to the frame that it is of; no more once `goes_on` is false."""
        files = self.run.files
        while files.queued and goes_on():
            self.run.go("fetching")
            here = self._all_here((), goes_on)
            of = self._of(here)
            odd = any(made is None or self._differs(one, made) for one, made in zip(here, of, strict=True))
            if odd and self._queue_new(1, BESIDE_S, None):  # another may come that fits better
                here = self._all_here(here, goes_on)
                of = self._of(here)
            strangers = False
            for one, made in zip(here, of, strict=True):
                self._bring_home(one, made)
                if made is None:
                    strangers = True
                    fits = any(not self._differs(one, awaited) for awaited in files.awaited)
                    self._clock_doubted = self._clock_doubted or fits
            if strangers and not files.queued and files.waited_for:
                self._queue_new(len(files.waited_for), LATE_S, None)
        self.keep_readings(self.run.reader.done())
        keep_copies(self.run)
        self.run.go("ready")

    def _all_here(self, before: Sequence[Here], goes_on: Callable[[], bool]) -> list[Here]:
        """Fetch what is queued under temporary names, after what is here; a file that does not come is told of.

        Where one frame alone is waited for, such a file is taken to be of it.
        """
        here = list(before)
        files = self.run.files
        while files.queued and goes_on():
            arrived = self._arrived(files.queued.popleft(), len(here))
            if arrived is not None:
                here.append(arrived)
            elif len(files.waited_for) == 1:
                files.on_card_only.add(files.waited_for[0].frame)
        return here

    def _arrived(self, file: CardFile, place: int) -> Here | None:
        """Fetch one file under a temporary name of its own; None, and a word about it, where it does not come."""
        self.run.tell(FetchIntent(frame=None, folder=file.folder, name=file.name))
        temp = arriving(self.run.folder.frames / f"{place}-{file.name}")
        try:
            with_care(self.run, lambda: self.run.camera.fetch(file, temp), rung=None)
        except TetherError as error:
            self._not_come(file, error)
            return None
        exif = None
        with contextlib.suppress(TetherError):  # why it can't be read, its check will tell
            exif = read_exif(temp)
        return Here(file=file, path=temp, exif=exif)

    def _not_come(self, file: CardFile, error: TetherError) -> None:
        """Write down that a file did not come. Raises the error where there is no room for any."""
        self.run.files.left_on_card = True
        problem = f"{error} The frame is still on the card as {file.folder}/{file.name}."
        self.run.tell(FetchOutcome(frame=None, card_name=file.name, name=None, size=None, sha256=None, problem=problem))
        self.run.say("trouble", problem)
        if isinstance(error, SupplyError):
            raise error

    def _of(self, here: Sequence[Here]) -> list[Made | None]:
        """Return the frame that each file is of."""
        known = self.run.files.to_come
        frames = matched(
            known,
            [self._seen(one) for one in here],
            sure={made.frame for made in self.run.files.awaited},
            clock=clock_of(self._clock),
            now_s=self.run.now_s,
        )
        by_frame = {made.frame: made for made in known}
        return [None if frame is None else by_frame[frame] for frame in frames]

    def _seen(self, one: Here) -> ArrivedFile:
        said = applied_of_exif(one.exif, self.run.abilities)
        taken_s = seconds_of(one.exif.taken_at if one.exif else None)
        return ArrivedFile(said=said, taken_s=taken_s, number=one.file.number, rounded_s=self._rounded_s(said.time_s))

    def _differs(self, one: Here, made: Made) -> list[Difference]:
        """Return what a file says otherwise than a frame was asked."""
        seen = self._seen(one)
        return exif_differs(seen.said, made.wanted, seen.rounded_s)

    def _rounded_s(self, time_s: float | None) -> float:
        return 0.0 if time_s is None else rounded_to_s(time_s, writes_fractions=self._writes_fractions)

    def _bring_home(self, one: Here, made: Made | None) -> None:
        """Bring one frame home: name, check and judge its file, have it read, and bring those that lie beside it."""
        settled = self._settled(one, made, preview=True)
        if settled is None:
            return
        if made:
            path = settled.path
            self.run.files.came(made, path)
            exif = settled.exif or read_exif(path)
            to_the_fraction = exif.time_s is not None and not self._rounded_s(exif.time_s)
            made = replace(made, exif_tells=made.wanted.way == "timed" or to_the_fraction)
            made = self.run.files.came(made, path, self._judge_exif(made, path.name, exif))
            if made.kind != "dark":
                self._have_read(made, path)
        for place, file in enumerate(one.file.beside):
            beside = self._arrived(file, place)
            if beside is not None:
                self._settled(beside, made, preview=False)

    def _settled(self, one: Here, made: Made | None, *, preview: bool) -> Here | None:
        """Check a file and give it its name, fetching it again while damaged; None where it does not come whole."""
        final = self.run.folder.frames / self.run.folder.frame_name(one.file, self.run.ladder_number, made)
        try:
            home, arrived = self._whole(one, final)
        except TetherError as error:
            self._not_come(one.file, error)
            if made:
                self.run.files.on_card_only.add(made.frame)
            return None
        name = home.path.name
        self.run.tell(
            FetchOutcome(
                frame=made.frame if made else None,
                card_name=one.file.name,
                name=f"frames/{name}",
                size=arrived.size,
                sha256=arrived.sha256,
                preview=self._preview(name) if preview else None,
            )
        )
        self.run.copier.copy(AskedCopy(name=f"frames/{name}", sha256=arrived.sha256))
        return home

    def _whole(self, one: Here, final: Path) -> tuple[Here, Arrived]:
        """Give a file its name once it is whole; its Exif is to be read anew where it was fetched anew since.

        Another card may have a frame of a number that is home: it has the first name that is free.
        """
        attempt, place = 1, 1
        while True:
            path = final if place == 1 else final.with_stem(f"{final.stem}-{place}")
            try:
                arrived = settle(one.path, path, expected_size=one.file.size, check=check_frame)
                return replace(one, path=path, exif=one.exif if attempt == 1 else None), arrived
            except SupplyError:
                raise
            except NameTakenError:
                place += 1
                continue
            except TetherError as error:
                if attempt == MOST_FETCHES:
                    raise
                attempt += 1
                self.run.say("trouble", f"{error} It is copied again.")
            with_care(self.run, lambda: self.run.camera.fetch(one.file, one.path), rung=None)

    def _preview(self, name: str) -> str | None:
        """Make the preview; a frame without one is still a frame."""
        preview = self.run.folder.previews / f"{name.rsplit('.', 1)[0]}.jpg"
        with contextlib.suppress(TetherError):
            save_preview(self.run.folder.frames / name, preview)
            return f"previews/{preview.name}"
        return None

    def _judge_exif(self, made: Made, name: str, exif: FrameExif) -> list[Difference]:
        said = applied_of_exif(exif, self.run.abilities)
        rounded_s = self._rounded_s(said.time_s) if made.wanted.way == "held" else 0.0
        if made.wanted.way == "held" and said.time_s is not None:
            self._writes_fractions = self._writes_fractions or said.time_s != round(said.time_s)
        differs = exif_differs(said, made.wanted, rounded_s)
        if not differs and made.answered_s <= ANSWERED_LATE_S:
            self._compare_clocks(made, exif)
        clauses = [found.clause for found in differs]
        taken_at = exif.taken_at.isoformat() if exif.taken_at else None
        self.run.tell(ExifRead(frame=made.frame, exif=said, taken_at=taken_at, differs=clauses, rounded_s=rounded_s))
        if differs:
            sentence = f"Frame {made.frame} ({name}) is not as asked: {'; '.join(clauses)}."
            self.run.say("trouble", sentence, frame=made.frame, rung=made.rung)
        return differs

    def _compare_clocks(self, made: Made, exif: FrameExif) -> None:
        """Learn the body's clock from a frame, anew where one was set; not from one that opened later than told to."""
        taken_s, clock = seconds_of(exif.taken_at), clock_of(self._clock)
        if made.opened_s is None or taken_s is None:
            return
        if clock is not None and shows_a_clock_was_set(made, taken_s, clock):
            self._clock.clear()
        self._clock.append((made.opened_s, taken_s))

    # Readings

    def read_again(self, made: Made, path: Path) -> None:
        """Have a frame read that is home since before."""
        self._have_read(self.run.files.came(made, path), path)

    def _have_read(self, made: Made, path: Path) -> None:
        self.run.reader.read(made.frame, path, made.asked.aperture, made.open_s)

    def await_readings(self) -> None:
        """Wait until the frames that are home were read, hearing the person meanwhile; not for ever."""
        run = self.run
        given_up_ns = run.clock.now_ns() + to_ns(READ_WITHIN_S)
        while run.reader.owes() and run.clock.now_ns() < given_up_ns and not run.steering.interrupts:
            run.hear(run.clock.now_ns() + to_ns(NAP_S))
        self.keep_readings(run.reader.done())

    def keep_readings(self, read: Iterable[tuple[int, FrameAnswer]]) -> None:
        """Write down what frames say, and what follows from it."""
        for frame, answer in read:
            take_in(self.run, self.run.files.made(frame), frame, answer)
