"""Beginning sessions with one body and no other, and coming back to it when a session is gone; each step is told."""

from __future__ import annotations

import time
from collections.abc import Sequence
from contextlib import nullcontext, suppress
from pathlib import Path

from tether.body.driver.errors import BUSY, IO, NOT_CLAIMED, LibraryError
from tether.body.driver.known import KnownBody, keep, kept, seen_at
from tether.body.driver.profile import Link
from tether.body.driver.session import Session, model_at, reset_port
from tether.body.driver.usb import UsbDevice, find_devices, holders_of, refusal_of
from tether.body.protocol import RemarkSink
from tether.errors import CameraError, LostError, TetherError

_USB = "usb:"
#: After a port was reset the body needs a moment until it is found again [real s].
_AFTER_RESET_S = 2.0


class Recovery:
    """Makes sessions with one body, the first and those after it.

    Parameters
    ----------
    link
        How the body is reached.
    folder
        Where it is kept which body it is.
    tell
        Is handed a sentence for each step.
    """

    def __init__(self, link: Link, folder: Path, tell: RemarkSink) -> None:
        self._link = link
        self._folder = folder
        self._told: set[str] = set()
        self._tell_on = tell
        self._known = kept(folder)
        self._address = link.port

    def first_session(self) -> Session:
        """Return the first session.

        Raises
        ------
        CameraError
            It is there and may not be opened, or is held by another program; or several could be meant.
        LostError
            It is not there, but another one.
        LibraryError
            It can't be reached.
        """
        return self._session_or_reset(again=False)

    def new_session(self, old: Session, why: str = "") -> Session:
        """Give up a session that is gone, or is of no more use (`why` says so), and return a new one.

        The port is reset where nothing less helps.

        Raises
        ------
        CameraError, LostError
            As for :meth:`first_session`.
        LibraryError
            The body can't be reached now.
        """
        self._tell(f"{why} The session with the camera is given up, and a new one is begun.".strip())
        old.end()
        session = self._session_or_reset(again=True)
        self._told.clear()
        return session

    def _session_or_reset(self, *, again: bool) -> Session:
        """Begin a session; where the body is known, and there, and does not answer, its port is reset once."""
        try:
            return self._session(again=again)
        except LibraryError as error:
            if error.code == BUSY or not self._reset():
                raise
            return self._session(again=again)

    def _tell(self, sentence: str) -> None:
        """Tell of a step, once until one has helped."""
        if sentence not in self._told:
            self._told.add(sentence)
            self._tell_on(sentence)

    def _reset(self) -> bool:
        """Reset the body's port, where it is certain which that is."""
        if not self._on_usb or self._known is None:
            return False
        device = self._known.surely(find_devices(), self._address)
        if device is None:
            return False
        self._tell("The camera's port is reset.")
        try:
            reset_port(device.port)
        except LibraryError:  # also where it was reset, and the body has left for another address by that
            time.sleep(_AFTER_RESET_S)
            if device not in find_devices():
                return True
            self._tell("The port could not be reset: switch the camera off and on again.")
            return False
        time.sleep(_AFTER_RESET_S)
        return True

    # Sessions

    @property
    def _on_usb(self) -> bool:
        return not self._link.port or self._link.port.startswith(_USB)

    def _session(self, *, again: bool) -> Session:
        """Begin a session with the body: at the places where it may be, one after the other."""
        devices = find_devices() if self._on_usb else ()
        failed: LibraryError | None = None
        for device in self._meant(devices) or (None,):
            try:
                session = self._opened(device)
                told = told_by(session, self._link, device)
            except LibraryError as error:
                failed = failed or error
                continue
            if self._known is None or self._known.same_as(told):
                self._take(told, device, again=again)
                return session
            session.end()
            self._refuse(told.model, device)
        raise failed or LostError(f"{self._gone_sentence()} {_named(devices)}".strip())

    def _meant(self, devices: Sequence[UsbDevice]) -> tuple[UsbDevice, ...]:
        """Return where the body may be; none where it is not seen where: then the library finds it.

        Raises
        ------
        CameraError
            It can't be told which of several it is.
        LostError
            There are others, but not it.
        """
        if not devices:
            return ()
        if self._known is None or not self._known.vendor:
            return (self._the_only(devices),)
        known = self._known
        sure = known.surely(devices, self._address)
        if sure and not known.tells_serial:
            return (sure,)
        found = [one for one in devices if known.may_be(one)]
        if not found:
            for one in devices:
                self._refuse(_name_of(one), one)
            raise LostError(f"{self._gone_sentence()} {_named(devices)}")
        if not known.tells_serial:
            raise CameraError(_which(known, found))
        return tuple(sorted(found, key=lambda one: (one != sure, one.place != known.place)))

    def _the_only(self, devices: Sequence[UsbDevice]) -> UsbDevice:
        """Return the device that the person named, or the only one there is."""
        found = [one for one in devices if self._link.port in ("", one.port)]
        if not found:
            raise LostError(f"No camera is found at {self._link.port}. {_named(devices)}")
        if len(found) > 1:
            ports = " or ".join(one.port for one in found)
            raise CameraError(f"{len(found)} cameras are connected; say which: --port {ports}")
        return found[0]

    def _opened(self, device: UsbDevice | None) -> Session:
        try:
            return Session(self._link.port if device is None else device.port, self._link.model)
        except LibraryError as error:
            if device is not None and error.code in (IO, NOT_CLAIMED):
                if refused := refusal_of(device):
                    raise CameraError(refused) from error
                if error.code == NOT_CLAIMED and (names := holders_of(device)):
                    raise CameraError(
                        f"Another program is using the camera: {', '.join(names)}. End it first."
                    ) from error
            raise

    def _take(self, told: KnownBody, device: UsbDevice | None, *, again: bool) -> None:
        """Keep which body it is, and have the opening in the journal; its serial number goes nowhere else."""
        if told != self._known:
            # Where it is plugged in is worth no failure: its shutter may be open, and the disk full.
            with suppress(TetherError) if self._known else nullcontext():
                keep(self._folder, told)
        self._known = told
        self._address = port = self._link.port if device is None else device.port
        serial = f"serial {told.serial}" if told.serial else "which tells no serial number"
        firmware = f"firmware {told.firmware}" if told.firmware else ""
        who = ", ".join(part for part in (told.model, serial, firmware) if part)
        where = f" at {port}" if port else ""
        self._tell_on(f"Again with {told.model}{where}." if again else "", f"Session with {who}{where}.")

    # What is no longer there, and what is there in its place

    def _gone_sentence(self) -> str:
        model = self._known.model if self._known else "camera"
        return f"The {model} of this ladder is not found: switch it on, look at its cable and its USB setting."

    def _refuse(self, name: str, device: UsbDevice | None) -> None:
        where = f" at {device.port}" if device else ""
        self._tell(f"The {name}{where} is not the camera of this ladder; it is left alone.")


def told_by(session: Session, link: Link, device: UsbDevice | None) -> KnownBody:
    """Return which body a session is with, as it tells; one that does not is ended. Raises LibraryError."""
    try:
        serial, firmware = (session.told(names).strip() for names in (link.profile.tell.serial, ("deviceversion",)))
    except LibraryError:
        session.end()
        raise
    return seen_at(KnownBody(model=session.model, serial=serial, firmware=firmware), device)


def _named(devices: Sequence[UsbDevice]) -> str:
    if not devices:
        return ""
    names = ", ".join(f"{_name_of(one)} at {one.port}" for one in devices)
    return f"There is another one, which is left alone: {names}."


def _name_of(device: UsbDevice) -> str:
    """Return what a device is called: by the library, else by itself."""
    return model_at(device.port) or device.name


def _which(known: KnownBody, found: Sequence[UsbDevice]) -> str:
    """Ask which of several bodies that tell no serial number it is."""
    ports = " or ".join(f"--port {one.port}" for one in found)
    is_there = "one of its model is" if len(found) == 1 else f"{len(found)} of its model are"
    return (
        f"It can't be told whether it is the same camera: {known.model} tells no serial number, and {is_there} there,"
        f" not it alone at the port where it was ({known.place}). Plug it in where it was, and no other of its model;"
        f" or end this and say which it is when you go on: {ports}."
    )
