"""The stamps file: what the camera process knows of the exposure in hand, for whoever comes after it.

It is made, in its full size, before anything is exposed, so that writing to it later needs no new room on the disk. A
write is one call and is not flushed to the disk: it must outlive this process, not a power cut, and a flush while
the shutter is open could delay its close.
"""

from __future__ import annotations

import dataclasses
import json
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from tether.body.hold import left_open
from tether.body.protocol import CameraEvent, Changed, ClosedBy, Ended, Failed, Opened, Order, ShutterRecord, Way
from tether.clock import AffineClock, Clock, boot_id, to_ns

_BYTES = 1024


@dataclass(frozen=True, kw_only=True)
class Stamps:
    """What is known of one exposure; None is not known (yet).

    `timebase` names the clock that the moments (`_ns`) belong to: they mean nothing on another. `shut` says whether
    the shutter is known to be shut.
    """

    frame: int
    way: Way
    asked_s: float
    timebase: str
    open_called_ns: int
    open_returned_ns: int | None = None
    closes_at_ns: int | None = None
    close_called_ns: int | None = None
    close_returned_ns: int | None = None
    closed_by: ClosedBy | None = None
    realtime: bool | None = None
    body_said_s: float | None = None
    later_ns: int = 0
    accepted: bool = True
    busy_after_s: float = 0.0
    shut: bool = False

    @property
    def over(self) -> bool:
        """Whether it is known that the exposure is over."""
        return self.closed_by not in (None, "lost")

    @classmethod
    def begun(cls, order: Order, clock: AffineClock) -> Stamps:
        """Return the stamps of an exposure that is about to be made."""
        return cls(
            frame=order.frame,
            way=order.way,
            asked_s=order.command_s,
            timebase=timebase_of(clock),
            open_called_ns=clock.now_ns(),
            busy_after_s=order.busy_after_s,
        )

    def is_of(self, clock: Clock) -> bool:
        """Say whether the moments mean something on this clock."""
        return isinstance(clock, AffineClock) and self.timebase == timebase_of(clock)

    @property
    def free_at_ns(self) -> int:
        """The moment from which on the body is free again, as far as its own times go: a dark frame of its own too."""
        ends_ns = self.open_called_ns + to_ns(self.asked_s) if self.way == "timed" else self.closes_at_ns
        if ends_ns is None:
            return self.open_called_ns
        return ends_ns + to_ns(self.busy_after_s)

    def opening(self, seen_open_ns: int) -> ShutterRecord:
        """Return the record of the exposure.

        What is missing of its close is filled with `seen_open_ns`, the last moment at which it was surely open, and
        `closed_by` is then "lost".
        """
        return ShutterRecord(
            frame=self.frame,
            way=self.way,
            asked_s=self.asked_s,
            open_called_ns=self.open_called_ns,
            open_returned_ns=self.open_called_ns if self.open_returned_ns is None else self.open_returned_ns,
            close_called_ns=seen_open_ns if self.close_called_ns is None else self.close_called_ns,
            close_returned_ns=seen_open_ns if self.close_returned_ns is None else self.close_returned_ns,
            closed_by=self.closed_by or "lost",
            realtime=self.realtime,
            body_said_s=self.body_said_s,
            later_ns=self.later_ns,
            accepted=self.accepted,
        )

    def after(self, event: CameraEvent) -> Stamps | None:
        """Return the stamps as they stand after an event of this exposure; None where it was not made at all."""
        match event:
            case Opened():
                return dataclasses.replace(self, open_called_ns=event.at_ns, closes_at_ns=event.closes_at_ns)
            case Changed():
                return dataclasses.replace(self, closes_at_ns=event.closes_at_ns)
            case Ended(opening=opening) | Failed(opening=ShutterRecord() as opening):
                shut = left_open(event) is None
                return dataclasses.replace(self, **dataclasses.asdict(opening), shut=shut)
            case _:
                return None


def timebase_of(clock: AffineClock) -> str:
    """Name a clock, so that two processes can tell whether moments of one mean anything to the other."""
    return f"{boot_id()} {clock.pace} {clock.origin_real_ns} {clock.origin_ns}"


def make_file(path: Path) -> None:
    """Make the file in its full size, unless it is there."""
    if not path.exists():
        with path.open("wb") as file:
            file.write(b" " * _BYTES)
            file.flush()
            os.fsync(file.fileno())


def read(path: Path) -> Stamps | None:
    """Return the stamps kept in the file, or None where there are none that can be read."""
    try:
        return Stamps(**json.loads(path.read_bytes()))
    except (OSError, ValueError, TypeError):
        return None


def keep(path: Path, stamps: Stamps | None) -> None:
    """Keep the stamps as :func:`write` does, as far as the disk takes them: a close must not wait for a disk."""
    with suppress(OSError):
        write(path, stamps)


def write(path: Path, stamps: Stamps | None) -> None:
    """Keep the stamps in the file, which must have been made before; None empties it. Raises OSError."""
    line = b"" if stamps is None else json.dumps(dataclasses.asdict(stamps)).encode()
    descriptor = os.open(path, os.O_WRONLY)
    try:
        os.pwrite(descriptor, line.ljust(_BYTES), 0)
    finally:
        os.close(descriptor)
