"""How Canon EOS bodies write values and the records of their queue."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from math import floor, log2

from tether.body.responder.card import CARD_FOLDER, STORAGE, Stored
from tether.body.responder.codes import DNG, EOS_RAW, Event
from tether.body.responder.parts import u32s
from tether.exposure.marks import Mark

#: The longest time that has a code of its own is 30 s; those that would follow are bulb's and others' [stops].
_LONGEST_STOPS = 5
_EIGHTHS = {0: 0, 4: 3, 6: 4, 8: 5, 12: 8}
#: What ends a block of records.
END = struct.pack("<II", 8, 0)
#: Formats as the family packs them: how many files, then for each its size, kind, picture size and compression.
RAW = u32s(1, 16, 6, 0, 4)
RAW_AND_JPEG = u32s(2, 16, 6, 0, 4, 16, 1, 0, 3)


def eighths(stops: float) -> int | None:
    """Return stops in eighths, as the family has them: a third is 3, two thirds are 5, a half is 4; None: no such."""
    whole = floor(stops + 1e-6)
    part = _EIGHTHS.get(round((stops - whole) * 12))
    return None if part is None else 8 * whole + part


def time_code(mark: Mark) -> int | None:
    """Return the code of a time: 0x38 is 1 s, and each stop longer takes 8 off; None where there is none."""
    stops = log2(mark.exact)
    part = eighths(stops) if stops < _LONGEST_STOPS + 1e-6 else None
    return None if part is None else 0x38 - part


def aperture_code(mark: Mark) -> int | None:
    """Return the code of an aperture: 8 for f/1, and each stop narrower adds 8; None where there is none."""
    part = eighths(2 * log2(mark.exact))
    return None if part is None else 8 + part


def iso_code(mark: Mark) -> int | None:
    """Return the code of a speed: 0x48 is ISO 100, and each stop faster adds 8; None where there is none."""
    part = eighths(log2(mark.exact / 100))
    return None if part is None else 0x48 + part


def record(code: int, body: bytes) -> bytes:
    """Return one record of the queue: its length, its code, what it says."""
    padded = body + b"\0" * (-len(body) % 4)
    return struct.pack("<II", 8 + len(padded), code) + padded


def choices(code: int, values: Sequence[int]) -> bytes:
    """Return the record of what a property offers."""
    return record(Event.EOS_PROPERTY_CHOICES, u32s(code, 3, len(values), *values))


def added(stored: Stored) -> bytes:
    """Return the record that a file is on the card."""
    body = bytearray(0x20)
    struct.pack_into("<IIH", body, 0, stored.handle, STORAGE, stored.kind)
    struct.pack_into("<II", body, 0x14, stored.size, CARD_FOLDER)
    return record(Event.EOS_OBJECT_ADDED, bytes(body) + stored.name.encode() + b"\0")


def wanted(stored: Stored) -> bytes:
    """Return the record that a file is in memory and is to be taken."""
    body = bytearray(0x14)
    struct.pack_into("<IH", body, 0, stored.handle, EOS_RAW if stored.kind == DNG else stored.kind)
    struct.pack_into("<I", body, 0x0C, stored.size)
    return record(Event.EOS_TRANSFER_WANTED, bytes(body) + stored.name.encode() + b"\0")
