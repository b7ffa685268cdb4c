"""What the dialects are made of: replies, properties, and the times of the standard."""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from tether.body.responder.codes import Response
from tether.body.responder.datasets import Type
from tether.body.responder.packets import Request
from tether.exposure.marks import Mark

#: The standard's ExposureTime is in units of 0.1 ms; all bits set is bulb, by custom.
_TIME_UNITS = 10_000
ALL_BITS = 0xFFFF_FFFF


@dataclass(frozen=True, kw_only=True)
class Reply:
    """What an operation gives: its response, parameters of it, data (None: it has none), and how long these take."""

    code: Response = Response.OK
    parameters: tuple[int, ...] = ()
    data: bytes | None = None
    takes_s: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Property:
    """One property: how it is read and written (None: it can't be), and the values it offers."""

    code: int
    kind: Type
    get: Callable[[], int | str]
    put: Callable[[int | str, int], None] | None = None
    form: Callable[[], Sequence[int]] = tuple


Handler = Callable[[Request], Reply]

DONE = Reply()


def time_units(mark: Mark) -> int | None:
    """Return a time as the standard has it: its label's seconds, in units of 0.1 ms; None for shorter ones."""
    return round(seconds_of(mark.label) * _TIME_UNITS) or None


def seconds_of(label: str) -> Fraction:
    """Return the seconds that a label says: a number, a fraction, or minutes and hours with colons."""
    if ":" in label:
        return Fraction(sum(int(part) * 60**place for place, part in enumerate(reversed(label.split(":")))))
    return Fraction(label)


def u32s(*values: int) -> bytes:
    """Return numbers of 32 bits as bytes."""
    return struct.pack(f"<{len(values)}I", *values)
