"""When the camera library sent an operation to the body: its own log says so, at the moment it happens.

A call that opens or closes the shutter is up to a dozen exchanges, and on a busy machine any of them may be late: only
the library knows when the one that matters went out. The binding hears the log of one of the two copies of the port
library that its wheels bring, which is not the one that speaks with the body; so every copy that is loaded is asked.
"""

from __future__ import annotations

import ctypes
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Protocol

#: The library's level for what it does step by step (gphoto2-port-log.h).
_DEBUG = 2
_SENDING, _REQUEST = b"Sending PTP_OC 0x", b"request..."
_Heard = ctypes.CFUNCTYPE(None, ctypes.c_int, ctypes.c_char_p, ctypes.c_char_p, ctypes.c_void_p)


class Sendings(Protocol):
    """Tells when operations were sent, while it listens."""

    def listen(self) -> None:
        """Begin to listen, knowing nothing; costs some microseconds for each exchange from now on."""

    def stop(self) -> None:
        """Listen no more; what was heard stays known."""

    def sent_ns(self, operations: Iterable[int]) -> int | None:
        """Return when one of these operations was last sent, by the monotonic clock [ns]; None: that is not known."""


class LogSendings:
    """What the library's log tells. It knows nothing where no copy of the library is found, or it was built mute."""

    def __init__(self) -> None:
        self._heard = _Heard(self._hear)  # must live as long as the library may call it
        self._listening: list[tuple[ctypes.CDLL, int]] = []
        self._at_ns: dict[int, int] = {}

    def listen(self) -> None:
        """See :meth:`Sendings.listen`."""
        self._at_ns.clear()
        if not self._listening:
            self._listening = [(copy, copy.gp_log_add_func(_DEBUG, self._heard, None)) for copy in _copies()]

    def stop(self) -> None:
        """See :meth:`Sendings.stop`."""
        for copy, number in self._listening:
            copy.gp_log_remove_func(number)
        self._listening = []

    def sent_ns(self, operations: Iterable[int]) -> int | None:
        """See :meth:`Sendings.sent_ns`."""
        return max((self._at_ns[one] for one in operations if one in self._at_ns), default=None)

    def _hear(self, _level: int, _domain: bytes, text: bytes, _data: object) -> None:
        if text.startswith(_SENDING) and text.endswith(_REQUEST):
            self._at_ns[int(text.removeprefix(_SENDING).split(b" ", 1)[0], 16)] = time.monotonic_ns()


def _copies() -> list[ctypes.CDLL]:
    """Return every copy of the port library that this process has loaded; none where that can't be told."""
    try:
        maps = Path("/proc/self/maps").read_text()
    except OSError:
        return []
    names = {line.split(maxsplit=5)[-1] for line in maps.splitlines() if "/libgphoto2_port" in line}
    return [ctypes.CDLL(name) for name in sorted(names)]
