"""When the camera library sent an operation to the body: its own log says so, at the moment it happens.

A call that opens or closes the shutter is up to a dozen exchanges, and on a busy machine any of them may be late: only
the library knows when the one that matters went out. The binding hears the log of one of the two copies of the port
library that its wheels bring, which is not the one that speaks with the body; so every copy that is loaded is asked.
"""

from __future__ import annotations

import ctypes
import time
import weakref
from collections.abc import Callable, Iterable
from pathlib import Path

#: The library's level for what it does step by step (gphoto2-port-log.h).
DEBUG_LEVEL = 2
_SENDING, _REQUEST = b"Sending PTP_OC 0x", b"request..."
Heard = ctypes.CFUNCTYPE(None, ctypes.c_int, ctypes.c_char_p, ctypes.c_char_p, ctypes.c_void_p)


Hear = Callable[[int, bytes, bytes, object], None]


class LogListener:
    """Has the library's log heard, by every copy of the port library.

    Parameters
    ----------
    hear
        Is handed each line: its level, its source, its text, and nothing. It must not lead back to the listener.
    """

    def __init__(self, hear: Hear) -> None:
        self._listening: list[tuple[ctypes.CDLL, int]] = []
        self._heard = Heard(hear)
        # The library must not call what is no more: it is told before that goes.
        weakref.finalize(self, _stop, self._listening, self._heard)

    def listen(self, level: int) -> None:
        """Hear lines up to a level; nothing new where it listens already. All copies are there once a session is."""
        if not self._listening:
            self._listening += [(copy, copy.gp_log_add_func(level, self._heard, None)) for copy in copies()]

    def stop(self) -> None:
        """Hear no more."""
        _stop(self._listening, self._heard)


class Sendings:
    """Tells when operations were sent, while it listens.

    It knows nothing where no copy of the library is found, or it was built mute.
    """

    def __init__(self) -> None:
        self._at_ns: dict[int, int] = {}
        self._log = LogListener(_into(self._at_ns))

    def listen(self) -> None:
        """Begin to listen, knowing nothing; costs some microseconds for each exchange from now on."""
        self._at_ns.clear()
        self._log.listen(DEBUG_LEVEL)

    def stop(self) -> None:
        """Listen no more; what was heard stays known."""
        self._log.stop()

    def sent_ns(self, operations: Iterable[int]) -> int | None:
        """Return when one of these operations was last sent, by the monotonic clock [ns]; None: that is not known."""
        return max((self._at_ns[one] for one in operations if one in self._at_ns), default=None)


def _into(at_ns: dict[int, int]) -> Hear:
    """Return what takes in a line of the library's log: when which operation was sent."""

    def hear(_level: int, _domain: bytes, text: bytes, _data: object) -> None:
        if text.startswith(_SENDING) and text.endswith(_REQUEST):
            at_ns[int(text.removeprefix(_SENDING).split(b" ", 1)[0], 16)] = time.monotonic_ns()

    return hear


def _stop(listening: list[tuple[ctypes.CDLL, int]], _heard: object) -> None:
    """Have the library call no more; `_heard` is what it called, alive until then."""
    while listening:
        copy, number = listening.pop()
        copy.gp_log_remove_func(number)


def copies() -> list[ctypes.CDLL]:
    """Return every copy of the port library that this process has loaded; none where that can't be told."""
    try:
        maps = Path("/proc/self/maps").read_text()
    except OSError:
        return []
    names = {line.split(maxsplit=5)[-1] for line in maps.splitlines() if "/libgphoto2_port" in line}
    return [ctypes.CDLL(name) for name in sorted(names)]
