"""From the camera library's codes to errors sorted by what the person must do. No code reaches a person.

What the library said, codes and all, goes to the log of the process (standard error).
"""

from __future__ import annotations

import re
import sys

from tether.errors import BusyError, CameraError, LostError, SupplyError, TetherError

# Codes of the library (gphoto2-port-result.h, gphoto2-result.h).
GENERIC = -1
BAD_PARAMETERS = -2
UNKNOWN_PORT = -5
NOT_SUPPORTED = -6
IO = -7
TIMEOUT = -10
USB_NOT_FOUND = -52
NOT_CLAIMED = -53
NO_MODEL = -105
NO_FOLDER = -107
NO_FILE = -108
BUSY = -110
CAMERA_FAILED = -113
OS_FAILURE = -114
NO_SPACE = -115

#: What is being done when a session is begun, and when it is listened to.
BEGINNING, LISTENING = "begin a session", "tell what happens"
REFUSED = (GENERIC, BAD_PARAMETERS, NOT_SUPPORTED)
#: A code of the protocol or of the library within a text, and what is left empty by its going.
_CODE = re.compile(r"(?:\b(?:error |code )*\b0[xX][0-9a-fA-F]+\b|\b(?:error |code )+-\d+\b)[:,]? ?")
_EMPTY = re.compile(r" ?[(\[][\s:,]*[)\]]")
#: After these the session is of no use any more.
GONE = (UNKNOWN_PORT, IO, USB_NOT_FOUND, NO_MODEL)


class LibraryError(Exception):
    """An error of the camera library: its code, what was being done, and what the library said besides."""

    def __init__(self, code: int, doing: str, said: str) -> None:
        super().__init__(f"{doing}: {said} [{code}]")
        self.code = code
        self.doing = doing
        self.said = said

    @property
    def gone(self) -> bool:
        """Whether the session is of no use any more: also where it is out of step and can't even be listened to."""
        return self.code in GONE or (self.doing == LISTENING and self.code in REFUSED)


def without_codes(said: str) -> str:
    """Return what the library said without its codes: ``failed (0x2019: busy)`` is ``failed (busy)``."""
    return " ".join(_EMPTY.sub("", _CODE.sub("", said)).split()).rstrip(" :,.")


def for_person(error: LibraryError) -> TetherError:
    """Return the error as the person is told it: what could not be done, and what to do about it; and log it."""
    sys.stderr.write(f"{error}\n")
    said = without_codes(error.said)
    doing, reason = error.doing, f" It says: {said}." if said else ""
    if doing == BEGINNING and error.code in (*REFUSED, IO, TIMEOUT):
        return LostError(
            "The camera is there but does not answer: look whether it is on and awake, at its battery and"
            " at its USB setting."
        )
    if error.code == BUSY:
        return BusyError(f"The camera is busy and could not {doing}; wait and try again.")
    if error.code == TIMEOUT:
        return BusyError(f"The camera took too long to answer when asked to {doing}; it may have done it.")
    if error.code == NO_SPACE:
        return SupplyError(f"The camera could not {doing}: there is no room left. Change or clear the card.")
    if error.code in (NO_FOLDER, NO_FILE):
        return CameraError(f"The camera could not {doing}: there is no such file on the card that is in it.")
    if error.code in REFUSED and not error.gone:
        return CameraError(
            f"The camera refused to {doing}.{reason} Look at its dial (M), its lens (manual focus) and its card."
        )
    if error.code == NOT_CLAIMED:
        return CameraError("Another program is using the camera: close it, or pull the cable out and in again.")
    return LostError(f"The camera no longer answers (it was asked to {doing}). Look at cable, battery and body.")
