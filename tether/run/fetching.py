"""Bring frames home: a queue that is emptied when nobody waits, each file checked, previewed, and its Exif judged."""

from __future__ import annotations

import contextlib
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tether.body.protocol import CardFile
from tether.clock import to_ns
from tether.errors import SupplyError, TetherError
from tether.files.check import check_frame
from tether.files.exif import read_exif
from tether.files.preview import save_preview
from tether.files.safe import Arrived, arriving, settle
from tether.frames.asked import Readings
from tether.journal.records import ExifRead, FetchIntent, FetchOutcome
from tether.run.compare import applied_of_exif, exif_differs
from tether.run.context import Run
from tether.run.events import FrameHome
from tether.run.exposing import Made
from tether.run.readings import take_in
from tether.run.trouble import with_care

#: How often a file that arrives damaged is fetched again.
MOST_FETCHES = 3
#: How long the run waits for a frame to be read before it goes on without [s], and how long it naps meanwhile [s].
READ_WITHIN_S = 60.0
NAP_S = 0.1
#: What a body may take to write a frame to its card, on top of the exposure [s].
WRITING_S = 60.0
#: How long is waited for a frame that may not come at all [s].
LATE_S = 10.0


@dataclass
class Fetcher:
    """Knows which frames' files are still awaited, which are queued to come home, which never came (`missing`),
    and which are `home`, under which path.

    A file that comes late must not pass for the next frame's and shift all that follow: one that is not as its frame
    was asked, but as a missing one was, is the missing one's.
    """

    run: Run
    awaited: deque[Made] = field(default_factory=deque)
    queued: deque[tuple[Made | None, CardFile]] = field(default_factory=deque)
    missing: list[Made] = field(default_factory=list)
    home: dict[int, Path] = field(default_factory=dict)
    _read: dict[int, Made] = field(default_factory=dict)

    def owe(self, made: Made) -> None:
        """Note a frame whose file must come."""
        self.awaited.append(made)

    def collect(self, rung: int | None) -> None:
        """Wait until the files of all frames owed are on the card, and queue them.

        A body may need as long again for a dark frame of its own; a file that comes later still is matched in order.
        """
        if not self.awaited:
            return
        last = self.awaited[-1].exposed
        doubled = self.run.plan.run.dark_frames == "by the body"
        self._queue_new(len(self.awaited), WRITING_S + (last.open_s if doubled else 0.0), rung)
        if self.awaited:
            missing = "a frame has" if len(self.awaited) == 1 else f"{len(self.awaited)} frames have"
            self.run.say("trouble", f"{missing} not come yet; the run goes on and looks again.", frame=last.frame)

    def expect_perhaps(self, made: Made) -> None:
        """Queue the file of a frame that failed, if one came all the same."""
        self.owe(made)
        self._queue_new(len(self.awaited), LATE_S, made.shot.rung)
        if made in self.awaited:
            self.awaited.remove(made)
            self.missing.append(made)

    def _queue_new(self, expected: int, allow_s: float, rung: int | None) -> None:
        """Queue what has come, matched to the frames awaited in their order."""
        while expected > 0:
            files = self._new_files(expected, allow_s, rung)
            new = [file for file in files if (file.folder, file.name) not in self.run.seen]
            for file in new:
                self.run.seen.update(file.places)
                self.queued.append((self.awaited.popleft() if self.awaited else None, file))
            if len(new) == len(files):
                return
            expected -= len(new)

    def _new_files(self, expected: int, allow_s: float, rung: int | None) -> tuple[CardFile, ...]:
        return with_care(self.run, lambda: self.run.camera.new_files(expected, allow_s), rung=rung)

    def look_again(self, within_s: float = LATE_S) -> None:
        """Look once more for frames that have not come, without waiting long."""
        if self.awaited:
            self._queue_new(len(self.awaited), within_s, None)

    def drain(self) -> list[str]:
        """Bring everything home that is queued; return in sentences what is not as asked in those frames."""
        differs: list[str] = []
        while self.queued:
            differs += self.bring_next()
        self.keep_readings(self.run.reader.done())
        self.run.go("ready")
        return differs

    def bring_next(self) -> list[str]:
        """Bring home what is queued first; return in sentences what is not as asked in that frame."""
        self.run.go("fetching")
        made, file = self.queued.popleft()
        differs = self._bring_home(file, lambda path: self._of_a_missing_one(path, made))
        if not self.queued and made in self.awaited:
            self._queue_new(len(self.awaited), LATE_S, None)
        return differs

    def have_read(self, made: Made, path: Path) -> None:
        """Have a frame that is home read."""
        frame = made.exposed.frame
        self._read[frame] = made
        self.run.reader.read(frame, path, made.shot.aperture.exact, made.exposed.open_s)

    def await_readings(self) -> None:
        """Wait until the frames that are home were read, hearing the person meanwhile; not for ever."""
        run = self.run
        given_up_ns = run.clock.now_ns() + to_ns(READ_WITHIN_S)
        while run.reader.owes() and run.clock.now_ns() < given_up_ns and not run.wishes.stop:
            run.hear(run.clock.now_ns() + to_ns(NAP_S))
        self.keep_readings(run.reader.done())

    def keep_readings(self, read: Iterable[tuple[int, Readings]]) -> None:
        """Write down what frames say, and what follows from it."""
        for frame, readings in read:
            take_in(self.run, self._read.get(frame), frame, readings)

    def _of_a_missing_one(self, path: Path, made: Made | None) -> Made | None:
        """Return the frame that a file is of: the one it was matched to, unless it is plainly a missing one's."""
        if not self.missing or made is None or not self._differs(path, made):
            return made
        missing = next((one for one in self.missing if not self._differs(path, one)), None)
        if missing is None:
            return made
        self.missing.remove(missing)
        self.awaited.appendleft(made)
        return missing

    def _differs(self, path: Path, made: Made) -> bool:
        said = applied_of_exif(read_exif(path), self.run.abilities)
        return bool(exif_differs(said, made.shot, made.exposed.open_s))

    def find(self, files: Sequence[CardFile], among: Sequence[Made]) -> list[Made]:
        """Bring files home that may belong to frames of an earlier run; return the frames that have one now.

        A file belongs to the first frame, in the order they were taken, that was asked to be as its Exif says; where
        none fits and there are as many files as frames, to the next in order; otherwise it is filed as by hand.
        """
        self.run.go("fetching")
        waiting = list(among)
        in_order = len(files) == len(waiting)
        for file in files:
            self.run.seen.update(file.places)
            self._bring_home(file, lambda path: self._belongs_to(path, waiting, in_order))
        self.run.go("ready")
        return [made for made in among if made not in waiting]

    def _belongs_to(self, path: Path, waiting: list[Made], in_order: bool) -> Made | None:
        """Return the frame that a file belongs to, and take it out of those waiting."""
        fits = [one for one in waiting if not self._differs(path, one)]
        made = next(iter(fits or (waiting if in_order else [])), None)
        if made is not None:
            waiting.remove(made)
        return made

    def _bring_home(self, file: CardFile, of: Callable[[Path], Made | None]) -> list[str]:
        """Bring one frame home; `of` says which it is, given the path where its file has arrived."""
        brought = self._brought(file, of, preview=True)
        if brought is None:
            return []
        made, name = brought
        if made is not None:
            self.home[made.exposed.frame] = self.run.folder.frames / name
        differs = self._judge_exif(made, name) if made else []
        if made is not None and made.shot.kind != "dark":
            self.have_read(made, self.run.folder.frames / name)
        self.run.emit(FrameHome(frame=made.exposed.frame if made else None, name=name, differs=differs))
        for beside in file.beside:
            self._brought(beside, lambda _path: made, preview=False)
        return differs

    def _brought(
        self, file: CardFile, of: Callable[[Path], Made | None], *, preview: bool
    ) -> tuple[Made | None, str] | None:
        """Bring one file home and write it down; None, and a word about it, where it does not come."""
        run = self.run
        run.record(FetchIntent(frame=None, folder=file.folder, name=file.name))
        try:
            made, name, arrived = self._fetched(file, of)
        except TetherError as error:
            problem = f"{error} The frame is still on the card as {file.folder}/{file.name}."
            run.record(
                FetchOutcome(frame=None, card_name=file.name, name=None, size=None, sha256=None, problem=problem)
            )
            run.say("trouble", problem)
            if isinstance(error, SupplyError):
                raise
            return None
        run.record(
            FetchOutcome(
                frame=made.exposed.frame if made else None,
                card_name=file.name,
                name=f"frames/{name}",
                size=arrived.size,
                sha256=arrived.sha256,
                preview=self._preview(name) if preview else None,
            )
        )
        return made, name

    def _fetched(self, file: CardFile, of: Callable[[Path], Made | None]) -> tuple[Made | None, str, Arrived]:
        """Fetch a file until it is whole; return the frame it is of, its name and what arrived."""
        temp = arriving(self.run.folder.frames / file.name)
        attempt = 1
        while True:
            with_care(self.run, lambda: self.run.camera.fetch(file, temp), rung=None)
            try:
                made = of(temp)
                shot, open_s = (made.shot, made.exposed.open_s) if made else (None, None)
                name = self.run.folder.frame_name(file, self.run.ladder_number, shot, open_s)
                final = self.run.folder.frames / name
                return made, name, settle(temp, final, expected_size=file.size, check=check_frame)
            except SupplyError:
                raise
            except TetherError as error:
                if attempt == MOST_FETCHES:
                    raise
                attempt += 1
                self.run.say("trouble", f"{error} It is fetched again.")

    def _preview(self, name: str) -> str | None:
        """Make the preview; a frame without one is still a frame."""
        preview = self.run.folder.previews / f"{name.rsplit('.', 1)[0]}.jpg"
        with contextlib.suppress(TetherError):
            save_preview(self.run.folder.frames / name, preview)
            return f"previews/{preview.name}"
        return None

    def _judge_exif(self, made: Made, name: str) -> list[str]:
        exif = read_exif(self.run.folder.frames / name)
        said = applied_of_exif(exif, self.run.abilities)
        differs = exif_differs(said, made.shot, made.exposed.open_s)
        taken_at = exif.taken_at.isoformat() if exif.taken_at else None
        self.run.record(ExifRead(frame=made.exposed.frame, exif=said, taken_at=taken_at, differs=differs))
        if differs:
            sentence = f"Frame {made.exposed.frame} ({name}) is not as asked: {'; '.join(differs)}."
            self.run.say("trouble", sentence, frame=made.exposed.frame, rung=made.shot.rung)
        return differs
