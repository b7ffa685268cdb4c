"""Live view through the camera library: switched on and off, seen, magnified at a point, and focus that is nudged.

What the library calls all this is in the body file. Nothing here was tried on hardware.
"""

from __future__ import annotations

import contextlib
from pathlib import Path

from tether.body.driver.errors import CAMERA_FAILED, REFUSED, LibraryError
from tether.body.driver.profile import ConfigWrite, LiveSteps
from tether.body.driver.session import Session
from tether.body.protocol import MOST_NUDGES, NO_LIVE_VIEW, LiveOffers, LivePicture
from tether.errors import CameraError

_NO_PICTURE = "The camera does not offer live view with its present settings."
_NOT_MAGNIFIED = "Magnifying live view at a point is not offered by this body file, or not by the camera."
_NOT_NUDGED = "Nudging the focus is not offered by this body file, or not by the camera."
_NOT_MOVED = (
    "Set the lens to AF for this (its switch, or the body's focus mode) and back to MF before the run; at the end of"
    " its way it moves no further."
)


class LiveView:
    """Live view of one body, over all its sessions: one that is gone may have left it on.

    Parameters
    ----------
    live
        How it is spoken to; None: the body file does not say.
    sensor_px
        Width and height of the sensor, in whose pixels the library's points are given.
    """

    def __init__(self, live: LiveSteps | None, sensor_px: tuple[float, float]) -> None:
        self._live = live
        self._sensor_px = sensor_px
        self._on = False
        self._magnified = False
        self._at: tuple[float, float] | None = None

    def use(self, session: Session) -> None:
        """Speak through this session from now on."""
        self._session = session

    def offers(self) -> LiveOffers:
        """Return what of it is offered. Raises LibraryError."""
        live = self._live
        if live is None:
            return NO_LIVE_VIEW
        if live.switch and self._session.first_of((live.switch,)) is None:
            return LiveOffers(why_no_picture=_NO_PICTURE, why_not_magnified=_NO_PICTURE, why_not_nudged=_NO_PICTURE)
        return LiveOffers(
            why_no_picture=None,
            why_not_magnified=None if self._magnify(live) else _NOT_MAGNIFIED,
            why_not_nudged=None if self._nudge(live, 1) else _NOT_NUDGED,
        )

    def _magnify(self, live: LiveSteps) -> ConfigWrite | None:
        """Return the write that magnifies, if the body offers one and takes a point."""
        if not live.point or self._session.first_of((live.point,)) is None:
            return None
        return next((one for one in live.magnify if self._offered(one)), None)

    def _nudge(self, live: LiveSteps, steps: int) -> ConfigWrite | None:
        """Return the write of one step in the direction of these, if the body offers it."""
        one = live.nearer if steps < 0 else live.farther
        return one if one is not None and self._offered(one) else None

    def _offered(self, one: ConfigWrite) -> bool:
        entry = self._session.first_of((one.entry,))
        return entry is not None and (not entry.choices or one.value in entry.choices)

    def _switched_on(self) -> LiveSteps:
        """Switch it on where it is off, and return how it is spoken to. Raises CameraError, LibraryError."""
        why_not = self.offers().why_no_picture if not self._on else None
        if self._live is None or why_not is not None:
            raise CameraError(why_not or _NO_PICTURE)
        if not self._on and self._live.switch:
            self._on = True  # it may be on even where the switching fails
            self._session.write(self._live.switch, 1, "switch live view on")
        self._on = True
        return self._live

    def picture(self, into: Path, at: tuple[float, float] | None) -> LivePicture:
        """Write one picture; see :class:`~tether.body.protocol.ShowsLive`. Raises TetherError, LibraryError."""
        live = self._switched_on()
        if at != self._at:
            self._look_at(live, at)
        self._session.preview(into)
        return LivePicture(times=live.times if self._magnified else 1.0)

    def _look_at(self, live: LiveSteps, at: tuple[float, float] | None) -> None:
        """Magnify at a point where the body can; None: show the whole."""
        if at is None:
            self._show_whole(live)
        elif magnify := self._magnify(live):
            if not self._magnified:
                self._write(magnify, "magnify live view")
                self._magnified = True
            self._session.write(live.point, self._point(live, at), "look at a point")
            self._at = at

    def _show_whole(self, live: LiveSteps) -> None:
        if live.whole is not None:
            self._write(live.whole, "show the whole in live view")
        self._magnified, self._at = False, None

    def _write(self, command: ConfigWrite, doing: str) -> None:
        self._session.write(command.entry, command.value, doing)

    def _point(self, live: LiveSteps, at: tuple[float, float]) -> str:
        """Return a point in the library's words, at least a pixel inside of what the body can show."""
        shown = 1 / live.times if live.point_is == "corner" and live.times else 0.0
        x, y = (
            round(min(max((share - shown / 2) * side, 1), (1 - shown) * side - 1))
            for share, side in zip(at, self._sensor_px, strict=True)
        )
        return live.point_text.format(x=x, y=y)

    def off(self) -> None:
        """Switch it off; nothing where it is off. Raises LibraryError."""
        if not self._on or self._live is None:
            return
        if self._magnified:
            with contextlib.suppress(LibraryError):  # a session that is gone is noticed at the switch
                self._show_whole(self._live)
        if self._live.switch:
            self._session.write(self._live.switch, 0, "switch live view off")
        self._on = False

    def nudge(self, steps: int) -> None:
        """Move the focus; see :class:`~tether.body.protocol.ShowsLive`. Raises CameraError, LibraryError."""
        if abs(steps) > MOST_NUDGES:
            raise CameraError(f"The focus can be nudged by {MOST_NUDGES} steps at a time at most, not by {steps}.")
        live = self._switched_on()
        one = self._nudge(live, steps)
        if one is None:
            raise CameraError(_NOT_NUDGED)
        try:
            for _ in range(abs(steps)):
                self._write(one, "move the focus")
        except LibraryError as error:
            if error.code not in (*REFUSED, CAMERA_FAILED):
                raise
            reason = f" It says: {error.said}" if error.said else ""
            raise CameraError(f"The camera did not move the focus.{reason} {_NOT_MOVED}") from error
