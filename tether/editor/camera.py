"""The camera of a draft: opened when it is first asked for, and let go when it is not needed any more."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

import numpy as np
from PIL import Image

from tether.body.connection import Connection
from tether.body.simulated.world import World
from tether.capture.base_search import BaseFound, Looked, find_base, in_words, water_mask
from tether.capture.regions import regions_of
from tether.capture.session import CaptureSession, look_for, shooting, timed
from tether.control.registry import live_path, own_folder
from tether.editor.draft import turned
from tether.editor.messages import DraftFrame, PictureShown
from tether.editor.sharpness import sharpness_of
from tether.errors import CameraError
from tether.exposure.marks import Mark
from tether.files.errors import disk_sentences
from tether.files.preview import preview_of
from tether.files.raw import RawFrame, read_raw
from tether.frames.exposing import seen_in
from tether.frames.levels import Levels
from tether.outing.prepare import Prepared
from tether.plan.base import SAME_MARK, base_unkept
from tether.plan.file import Plan
from tether.report.histogram import histogram_of
from tether.shot.shot import Shot, shot_of_base

#: Longest side of a preview [px].
_PREVIEW_PX = 1200


@dataclass(frozen=True, kw_only=True)
class _Taken:
    """A frame for the base: its raw file, how it was taken, and its preview."""

    path: Path
    shot: Shot
    preview: Path


class AtCamera:
    """What a draft does with the camera.

    Parameters
    ----------
    reach, world
        How it is reached, and the truth of one that is simulated.
    folder
        Where frames and previews go; they are not kept longer than the folder is.
    """

    def __init__(self, reach: Connection, world: Callable[[Plan], World], folder: Path) -> None:
        self._reach = reach
        self._world = world
        self._folder = folder
        self._open = ExitStack()
        self._session: CaptureSession | None = None
        self._body = ""
        self._previews = 0
        self._last: _Taken | None = None
        self.left_turns = 0
        """The quarter turns left that turned the last preview upright."""

    def let_go(self) -> None:
        """Set the camera back as it was found and leave it; harmless when done."""
        self._session = None
        self._open.close()

    def base_frame(self, ready: Prepared) -> DraftFrame:
        """Take one frame of the plan's base exposure. Raises TetherError."""
        shot = shot_of_base(ready.plan, ready.abilities)
        if shot is None:
            raise CameraError(f"The base cannot be taken: {base_unkept(ready.plan, ready.abilities)}.")
        session = self._ready_session(ready)
        taken = session.shoot(shot)
        raw = read_raw(taken.path)
        levels = seen_in(raw, 0.0, water_mask(ready.plan, raw)).levels
        sentence = " ".join((_room(levels), *(f"The file says: {one}." for one in taken.differs)))
        return self._frame(ready.plan, taken.path, raw, shot, levels, sentence)

    def read_again(self, plan: Plan) -> DraftFrame | None:
        """Return the last frame as it reads with the plan's rectangles; None: none was taken. Raises TetherError."""
        last = self._last
        if last is None:
            return None
        raw = read_raw(last.path)
        levels = seen_in(raw, 0.0, water_mask(plan, raw)).levels
        return _told(plan, last, raw, levels, _room(levels))

    def found(self, ready: Prepared, tell: Callable[[DraftFrame], None], idle: Callable[[], None]) -> BaseFound:
        """Find the base exposure by the light; `tell` is handed every frame, `idle` is called while it waits.

        Raises TetherError.
        """

        def told(looked: Looked) -> None:
            raw = read_raw(looked.path)
            tell(self._frame(ready.plan, looked.path, raw, looked.shot, looked.seen.levels, looked.sentence))

        return find_base(self._ready_session(ready), ready.plan, tell=told, idle=idle)

    def set_to(self, ready: Prepared) -> Shot:
        """Return what the camera is set to, as a base exposure. Raises TetherError where that is none."""
        read = self._session_of(ready).read_back()
        values = (read.time_s, read.aperture, read.iso)
        if read.time_s is None:
            raise CameraError("The camera is set to bulb, or does not tell its time: set a time for the base exposure.")
        marks = (ready.abilities.times, ready.abilities.apertures, ready.abilities.isos)
        names = ("time", "aperture", "ISO")
        time, aperture, iso = (
            _mark(name, value, known) for name, value, known in zip(names, values, marks, strict=True)
        )
        return timed(time, aperture, iso)

    def before_live(self, ready: Prepared) -> None:
        """Set the base exposure, where the body has it: on bulb a body may refuse live view. Raises TetherError."""
        shot = shot_of_base(ready.plan, ready.abilities)
        if shot is not None:
            self._session_of(ready).set(shot)

    def live(self, ready: Prepared, at: tuple[float, float] | None) -> PictureShown:
        """Put a live picture, upright, where faces look; `at`: shares of the upright picture. Raises TetherError."""
        place = None if at is None else _turned_place(at, -self.left_turns)
        picture = self._folder / "live.jpg"
        session = self._session_of(ready)
        times = session.live(picture, place).times
        shown = own_folder(live_path().parent) / live_path().name
        with Image.open(picture) as seen, disk_sentences(shown):
            arriving = shown.with_suffix(".new.jpg")
            seen.rotate(90 * self.left_turns, expand=True).save(arriving, "JPEG", quality=85)
            arriving.replace(shown)
            sharpness = sharpness_of(np.asarray(seen.convert("RGB")))
        return PictureShown(
            picture=str(shown),
            times=times,
            at=at,
            sharpness=sharpness,
            why_not_nudged=session.seen.offers.live.why_not_nudged,
        )

    def live_off(self) -> None:
        """Switch live view off; harmless when it is. Raises TetherError."""
        live_path().unlink(missing_ok=True)
        if self._session is not None:
            self._session.live_off()

    def nudge(self, ready: Prepared, steps: int) -> None:
        """Move the focus. Raises TetherError."""
        self._session_of(ready).nudge_focus(steps)

    # The session -------------------------------------------------------------------------------------------------

    def _ready_session(self, ready: Prepared) -> CaptureSession:
        """Return the camera, standing as frames need it. Raises CameraError with a sentence for what does not."""
        session = self._session_of(ready)
        wrong = [f"{one.what}: {one.sentence}" for one in session.seen.looked if one.verdict == "stop"]
        if wrong:
            self.let_go()  # it is looked at anew the next time
            raise CameraError("The camera is not set as it should be; correct this, then try again.", *wrong)
        return session

    def _session_of(self, ready: Prepared) -> CaptureSession:
        body = f"{ready.body_file.name} {ready.plan.lens}"
        if self._session is None or body != self._body:
            self.let_go()
            look_for(self._reach, "try again.")
            self._open = ExitStack()
            at = shooting(self._reach, ready, self._world(ready.plan), keep=self._folder / "frames")
            self._session = self._open.enter_context(at)
            self._body = body
        return self._session

    def _frame(self, plan: Plan, path: Path, raw: RawFrame, shot: Shot, levels: Levels, sentence: str) -> DraftFrame:
        sideways, self.left_turns = preview_of(path)
        picture = Image.fromarray(np.rot90(sideways, self.left_turns))
        picture.thumbnail((_PREVIEW_PX, _PREVIEW_PX))
        self._previews += 1
        preview = self._folder / f"base-{self._previews}.jpg"
        picture.save(preview, "JPEG", quality=85)
        if self._last is not None and self._last.path != path:
            self._last.path.unlink(missing_ok=True)  # it is on the card; what it said is known
        self._last = _Taken(path=path, shot=shot, preview=preview)
        return _told(plan, self._last, raw, levels, sentence)


def _told(plan: Plan, taken: _Taken, raw: RawFrame, levels: Levels, sentence: str) -> DraftFrame:
    headroom = levels.headroom_stops
    return DraftFrame(
        picture=str(taken.preview),
        bars=histogram_of(raw, regions_of(plan)),
        exposure=in_words(taken.shot),
        sentence=sentence,
        headroom_stops=headroom if headroom is not None and isfinite(headroom) else None,
        clipped_share=levels.clipped_share,
    )


def _turned_place(at: tuple[float, float], left_turns: int) -> tuple[float, float]:
    left, top, _, _ = turned((*at, *at), left_turns)
    return (left, top)


def _room(levels: Levels) -> str:
    if levels.headroom_stops is None:
        return f"{100 * levels.clipped_share:.2g} % clipped."
    return f"{levels.headroom_stops:.2f} stops of headroom."


def _mark(name: str, value: float | None, known: tuple[Mark, ...]) -> Mark:
    found = None if value is None else next((one for one in known if abs(one.exact / value - 1) < SAME_MARK), None)
    if found is None:
        said = "does not tell its" if value is None else f"is set to {value:.4g} as its"
        raise CameraError(f"The camera {said} {name}, and that is no value of its body file's list: set another.")
    return found
