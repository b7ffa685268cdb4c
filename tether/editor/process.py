"""The draft process: keeps the text of a plan and, when asked, the camera, for one face that speaks to it by a pipe.

A face may draw and know nothing else; this process plans, looks, takes the frames for the base, and begins the run. It
ends with the face. Started by :mod:`tether.editor.client`.
"""

from __future__ import annotations

import contextlib
import faulthandler
import os
import queue
import signal
import sys
import threading
import time
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, BinaryIO, assert_never

from tether.body.connection import SIMULATED, Connection
from tether.body.simulated.world import World, load_world
from tether.capture.base_search import in_words
from tether.checks.checks import look_over
from tether.editor.again import same_again
from tether.editor.base_edit import with_base
from tether.editor.camera import AtCamera
from tether.editor.draft import Draft
from tether.editor.messages import (
    Begin,
    Begun,
    Check,
    Checked,
    Doing,
    DraftFrame,
    Edit,
    EditorEvent,
    EditorRequest,
    Expose,
    Find,
    FromCamera,
    Halt,
    Leave,
    Nudge,
    PictureShown,
    SameAgain,
    Save,
    SetRegion,
    ShowLive,
    Start,
    Undo,
    WishAnswer,
    decode_start,
    decode_wish,
    encode,
)
from tether.errors import LostError, TetherError
from tether.journal.story import CheckStory
from tether.outing.camera import reach_of_run
from tether.outing.folder import keep_who_knows
from tether.outing.world import world_of
from tether.plan.file import SCALES, Place, Plan
from tether.service.launch import give_plan, start
from tether.shot.shot import Shot

#: Live view ends by itself after so long: it heats the body and empties its battery [s].
LIVE_FOR_S = 180.0
#: A live picture is asked for so often at most [s].
LIVE_EVERY_S = 0.25
#: A camera that nothing was asked of for so long is let go [s].
LETS_GO_AFTER_S = 120.0
Wished = tuple[EditorRequest, int] | None
"""A wish and its number; None: the face is gone."""


class Halted(Exception):  # noqa: N818 - the person's wish
    """The person wants what is going on to end."""


class DraftProcess:
    """Does what a face wishes, one wish after the other.

    Parameters
    ----------
    start
        What it is begun with.
    wishes
        Where wishes come.
    say
        Sends news to the face.
    folder
        Where previews go.
    """

    def __init__(self, start: Start, wishes: queue.SimpleQueue[Wished], say: Any, folder: Path) -> None:
        self._start = start
        self._wishes = wishes
        self._say = say
        self._draft = Draft.opened(Path(start.path), start.text, simulated=start.simulated)
        self._regions = self._draft.told().regions
        self._camera = AtCamera(self._reach(), self._world, folder)
        self._live: ShowLive | None = None
        self._live_until_s = 0.0
        self._framed: str | None = None

    def serve(self) -> None:
        """Tell how the draft stands, then do what is wished until the face is gone."""
        self._say(self._draft.told())
        try:
            while (wished := self._next()) is not None:
                self.do(*wished)
        finally:
            self.end()

    def end(self) -> None:
        """Let the camera go; harmless when done."""
        with contextlib.suppress(TetherError):
            self._release()

    def _release(self) -> None:
        self._end_live("")
        self._camera.let_go()

    def _next(self) -> Wished:
        while True:
            try:
                return self._wishes.get(timeout=LIVE_EVERY_S if self._live else LETS_GO_AFTER_S)
            except queue.Empty:
                self._idle()

    def _idle(self) -> None:
        """Show the next live picture; let a camera go that nothing is asked of."""
        try:
            if self._live is None:
                self._camera.let_go()
            elif time.monotonic() > self._live_until_s:
                self._end_live(f"Live view has ended by itself after {LIVE_FOR_S / 60:.0f} min; it can be shown again.")
            else:
                self._show_live()
        except TetherError as error:
            self._live = None
            self._say(PictureShown(picture="", times=None))
            self._say(WishAnswer(to=0, ok=False, sentence=str(error)))

    def _show_live(self) -> None:
        if self._live is not None:
            shown = self._camera.live(self._draft.ready(), self._live.at)
            self._say(replace(shown, framed=self._framed))

    def _end_live(self, sentence: str) -> None:
        """Switch live view off, where it is on, and say so."""
        if self._live is not None:
            self._live = None
            self._say(PictureShown(picture="", times=None))
            self._camera.live_off()
            if sentence:
                self._say(WishAnswer(to=0, ok=True, sentence=sentence))

    def do(self, wish: EditorRequest, to: int) -> None:
        """Do one wish and answer it by its number; an error is an answer too."""
        try:
            sentence = self._done(wish)
            self._say(WishAnswer(to=to, ok=True, sentence=sentence))
        except Halted:
            self._say(WishAnswer(to=to, ok=False, sentence="Ended, as you said."))
        except TetherError as error:
            if isinstance(wish, ShowLive):
                self._live = None
            self._say(WishAnswer(to=to, ok=False, sentence=str(error)))
        finally:
            self._say(Doing(what=""))

    def _done(self, wish: EditorRequest) -> str:
        match wish:
            case Edit():
                return self._take(self._draft.edited(wish.key, wish.value), "")
            case Undo():
                what = self._draft.before[-1][1] if self._draft.before else ""
                return self._take(self._draft.undone(), f"Undone: {what}.")
            case SetRegion():
                return self._take(self._draft.with_region(wish.what, wish.box), "")
            case Save():
                return self._take(self._draft.saved(), f"{self._draft.path} is written.")
            case Check():
                return self._check()
            case Expose():
                return self._expose()
            case Find():
                return self._find()
            case FromCamera():
                return self._from_camera()
            case Begin():
                return self._begin(wish)
            case SameAgain():
                return self._same_again(Path(wish.outing))
            case ShowLive():
                return self._begin_live(wish)
            case Nudge():
                self._camera.nudge(self._draft.ready(), wish.steps)
                self._show_live()
                return ""
            case Halt():
                self._end_live("")
                return ""
            case Leave():
                self._release()
                return "The camera is released."
        assert_never(wish)

    def _take(self, draft: Draft, sentence: str) -> str:
        """Go on with a draft and tell of it; the last frame is read anew where its rectangles are others."""
        was_turned = draft.left_turns != self._draft.left_turns
        self._draft = draft
        told = draft.told()
        self._say(told)
        if told.mistakes:
            return sentence
        others, self._regions = told.regions != self._regions and not was_turned, told.regions
        if others and (frame := self._camera.read_again(draft.plan())) is not None:
            self._say(frame)
        return sentence

    # At the camera ------------------------------------------------------------------------------------------------

    def _reach(self) -> Connection:
        return SIMULATED if self._start.simulated else reach_of_run(self._draft.ready(), self._start.port)

    def _world(self, plan: Plan) -> World:
        return world_of(plan, load_world(Path(self._start.world)) if self._start.world else None)

    def _check(self) -> str:
        self._release()
        ready = self._draft.ready()
        self._say(Doing(what="Checking the camera and what the ladder needs."))
        found = look_over(ready, self._reach(), Path(self._start.under))
        findings = tuple(CheckStory(what=one.what, verdict=one.verdict, text=one.sentence) for one in found)
        self._say(Checked(findings=findings, at=f"{datetime.now().astimezone():%H:%M:%S}"))
        return ""

    def _expose(self) -> str:
        self._end_live("")
        ready = self._draft.ready()
        self._say(Doing(what="A frame of the base exposure is taken."))
        self._show(self._camera.base_frame(ready))
        return ""

    def _find(self) -> str:
        self._end_live("")
        ready = self._draft.ready()
        self._say(Doing(what="The base exposure is looked for; a few frames are taken."))

        def tell(frame: DraftFrame) -> None:
            self._show(frame)
            self._end_if_halted()

        found = self._camera.found(ready, tell, self._end_if_halted)
        self._take_base(found.shot, found.headroom_stops)
        off = f"{found.headroom_stops:.2f} stops of headroom, give or take {found.uncertainty_stops:.2f}"
        return f"Base: {in_words(found.shot)}, with {off} as the water moves."

    def _show(self, frame: DraftFrame) -> None:
        """Tell of a frame; the regions too, if only now it is known how pictures are turned."""
        self._say(frame)
        if self._camera.left_turns != self._draft.left_turns:
            self._take(self._draft.turned(self._camera.left_turns), "")

    def _from_camera(self) -> str:
        shot = self._camera.set_to(self._draft.ready())
        self._take_base(shot)
        return f"Base as the camera is set: {in_words(shot)}. A frame tells whether anything is clipped."

    def _take_base(self, shot: Shot, headroom_stops: float | None = None) -> None:
        step = SCALES[self._draft.plan().top.scale]
        change = partial(with_base, shot=shot, step=step, headroom_stops=headroom_stops)
        self._take(self._draft.changed("the base", change), "")

    def _end_if_halted(self) -> None:
        """End what is going on where that was wished; what else was wished meanwhile is refused, it may be too late."""
        halted = False
        while not self._wishes.empty():
            wished = self._wishes.get()
            if wished is None:
                self._wishes.put(None)
                raise Halted
            halted = halted or isinstance(wished[0], Halt)
            sentence = "" if isinstance(wished[0], Halt) else "Not now: frames for the base are being taken."
            self._say(WishAnswer(to=wished[1], ok=isinstance(wished[0], Halt), sentence=sentence))
        if halted:
            raise Halted

    def _begin(self, wish: Begin) -> str:
        self._draft.ready()
        self._release()
        self._say(Doing(what="The run is begun."))
        given = give_plan(
            self._draft.plan(),
            pace=self._start.pace,
            root=Path(self._start.under),
            outing=Path(wish.outing) if wish.outing else None,
            world=Path(self._start.world) if self._start.world else None,
            reach=self._reach(),
            despite=wish.despite,
        )
        keep_who_knows(given.outing, wish.who_knows)
        return self._started(given.outing)

    def _begin_live(self, wish: ShowLive) -> str:
        if self._live is None:
            self._camera.before_live(self._draft.ready())
            self._framed = _framed_last(self._draft.ready().plan.place)
        self._live_until_s = time.monotonic() + LIVE_FOR_S
        self._live = wish
        self._show_live()
        return ""

    def _same_again(self, outing: Path) -> str:
        self._release()
        given = same_again(outing, lambda said: self._say(Doing(what=said)), port=self._start.port)
        return self._started(given.outing)

    def _started(self, outing: Path) -> str:
        start(outing)
        self._say(Begun(outing=str(outing)))
        return ""


def _hear(lines: BinaryIO, wishes: queue.SimpleQueue[Wished]) -> None:
    """Put every wish that comes where it is looked for; None once the face is gone."""
    for line in lines:
        with contextlib.suppress(LostError):
            wishes.put(decode_wish(line))
    wishes.put(None)


def _framed_last(place: Place) -> str | None:
    """Return where the picture lies of how a place was framed last; None: that is not known, or can't be read."""
    from tether.outing.known import known_outings  # it reads outings, which only whoever frames a picture does
    from tether.outing.place import place_known

    try:
        framing = place_known(place, known_outings().outings).framing
    except TetherError:
        return None
    return None if framing is None else str(framing.preview)


def main() -> None:
    """Keep a draft for the face at the other end of standard input and output."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C in the terminal is for the face
    faulthandler.enable()
    said = os.fdopen(os.dup(sys.stdout.fileno()), "wb", buffering=0)
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # nothing else may get between the lines
    wishes: queue.SimpleQueue[Wished] = queue.SimpleQueue()

    def say(news: EditorEvent) -> None:
        with contextlib.suppress(BrokenPipeError):
            said.write(encode(news))

    with TemporaryDirectory(prefix="tether-draft-") as folder:
        try:
            process = DraftProcess(decode_start(sys.stdin.buffer.readline()), wishes, say, Path(folder))
        except TetherError as error:
            say(WishAnswer(to=0, ok=False, sentence=str(error)))
            return
        threading.Thread(target=_hear, args=(sys.stdin.buffer, wishes), daemon=True).start()
        process.serve()


if __name__ == "__main__":
    main()
