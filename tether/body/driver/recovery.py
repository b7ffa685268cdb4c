"""Coming back to a body whose session is gone, step by step; each step is told."""

from __future__ import annotations

import time
from collections.abc import Callable

from tether.body.driver.errors import IO, NOT_CLAIMED, LibraryError
from tether.body.driver.link import Link
from tether.body.driver.session import Session, reset_port
from tether.body.driver.usb import UsbDevice, find_devices, holders_of, refusal_of
from tether.errors import CameraError

_USB = "usb:"
#: After a port was reset the body needs a moment until it is found again [real s].
_AFTER_RESET_S = 2.0


class Recovery:
    """Makes sessions with one body, the first and those after it.

    Parameters
    ----------
    link
        How the body is reached.
    tell
        Is handed a sentence for each step.
    """

    def __init__(self, link: Link, tell: Callable[[str], None]) -> None:
        self._link = link
        self._told: set[str] = set()
        self._tell_on = tell

    def first_session(self) -> Session:
        """Return the first session.

        Raises
        ------
        CameraError
            It is there and may not be opened, or is held by another program.
        LibraryError
            It can't be reached.
        """
        try:
            return self._session()
        except LibraryError as error:
            device = self._device()
            if device is not None and error.code in (IO, NOT_CLAIMED):
                refused = refusal_of(device)
                if refused:
                    raise CameraError(refused) from error
                if error.code == NOT_CLAIMED and (names := holders_of(device)):
                    raise CameraError(f"Another program holds the camera: {', '.join(names)}. End it first.") from error
            raise

    def new_session(self, old: Session) -> Session:
        """Give up a session that is gone and return a new one; the port is reset where nothing less helps.

        Raises
        ------
        LibraryError
            The body can't be reached now.
        """
        self._tell("The session with the camera is given up, and a new one is begun.")
        old.end()
        try:
            session = self._session()
        except LibraryError:
            if not self._reset():
                raise
            session = self._session()
        self._told.clear()
        return session

    def _tell(self, sentence: str) -> None:
        """Tell of a step, once until one has helped."""
        if sentence not in self._told:
            self._told.add(sentence)
            self._tell_on(sentence)

    def _reset(self) -> bool:
        """Reset the body's port, where there is one to be reset."""
        device = self._device()
        if device is None:
            return False
        self._tell("The camera's port is reset.")
        try:
            reset_port(device.port)
        except LibraryError:
            self._tell("The port could not be reset: switch the camera off and on again.")
            return False
        time.sleep(_AFTER_RESET_S)
        return True

    def _device(self) -> UsbDevice | None:
        """Return the body's USB device: its address changes when it comes back, so it is looked for anew."""
        if self._link.port and not self._link.port.startswith(_USB):
            return None
        return next(iter(find_devices()), None)

    def _session(self) -> Session:
        """Begin a session; a USB address that has changed meanwhile is no hindrance while there is one camera."""
        port = self._link.port
        if port.startswith(_USB) and port not in {device.port for device in find_devices()}:
            port = ""
        return Session(port, self._link.model)
