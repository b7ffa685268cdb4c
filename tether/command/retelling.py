"""A run told on to other programs: the lines of its socket, one JSON object each, until it is over."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import closing

from tether.control.client import Face, GoneError
from tether.control.messages import Bye, Message, StreamEntry, encode
from tether.control.registry import Running
from tether.errors import LostError
from tether.journal.records import LadderEnded

#: A run that is lost is looked for so often, and for so long where its guard lives [real s].
LOOKS_EVERY_S, BACK_WITHIN_S = 0.5, 90.0


def retell(run: Running, write: Callable[[str], None]) -> LadderEnded | None:
    """Write what a run says, line by line as on its socket, until its ladder is over, and return how.

    It begins with how the run stands, and says so again where it was lost and is there again.

    Parameters
    ----------
    run
        The run.
    write
        Given each line, without its end.

    Returns
    -------
    LadderEnded or None
        None if the person leaves (Ctrl-C), or the run was lost and did not come back.

    Raises
    ------
    GoneError, LostError
        If the run does not answer at first, or is of another version.
    """

    def tell(message: Message) -> None:
        write(encode(message).decode().removesuffix("\n"))

    try:
        face = Face.attach(run.socket)
        while True:
            with closing(face):
                gone = _told(face, tell)
            tell(Bye(sentence=str(gone), again=gone.again))
            if face.snapshot.over or not gone.again or (back := _again(run)) is None:
                return face.snapshot.over
            face = back
    except KeyboardInterrupt:
        return None


def _told(face: Face, tell: Callable[[Message], None]) -> GoneError:
    """Tell all that a run says to a face, and return how it was lost."""
    tell(face.hello)
    try:
        while (entry := face.next_entry(None)) is not None:
            tell(StreamEntry(entry=entry))
    except GoneError as gone:
        return gone
    raise AssertionError("waited for without end")


def _again(run: Running) -> Face | None:
    """Attach to a run that was lost, once it is there again; None where it is over, or does not come in time."""
    until_s = time.monotonic() + BACK_WITHIN_S
    while time.monotonic() < until_s:
        try:
            return Face.attach(run.socket)
        except LostError:
            if run.is_over:
                return None
            time.sleep(LOOKS_EVERY_S)
    return None
