"""Datasets of the picture transfer protocol as bytes (ISO 15740, clauses 5 and 13). All numbers little endian."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import Literal

Type = Literal["u8", "u16", "u32", "text"]

_FORMATS = {"u8": "<B", "u16": "<H", "u32": "<I"}
_TYPE_CODES = {"u8": 0x0002, "u16": 0x0004, "u32": 0x0006, "text": 0xFFFF}
_LONGEST_TEXT = 254


def number(kind: Type, value: int) -> bytes:
    """Return a number of a type as bytes."""
    return struct.pack(_FORMATS[kind], value)


def text(value: str) -> bytes:
    """Return a text as the protocol has it: its length with the closing zero, then UTF-16."""
    if not value:
        return b"\0"
    short = value[:_LONGEST_TEXT]
    return bytes((len(short) + 1,)) + short.encode("utf-16-le") + b"\0\0"


def array(kind: Type, values: Sequence[int]) -> bytes:
    """Return an array of numbers as bytes."""
    return struct.pack("<I", len(values)) + b"".join(number(kind, value) for value in values)


def value(kind: Type, one: int | str) -> bytes:
    """Return a property's value as bytes."""
    return text(str(one)) if kind == "text" else number(kind, int(one))


def read_value(kind: Type, data: bytes) -> int | str:
    """Return a property's value from bytes. Raises ValueError where they are none."""
    try:
        if kind != "text":
            return int(struct.unpack_from(_FORMATS[kind], data)[0])
        return data[1 : 1 + 2 * data[0]].decode("utf-16-le").rstrip("\0")
    except (struct.error, IndexError, UnicodeDecodeError) as error:
        raise ValueError("these bytes are no value of that type") from error


def device_info(
    *,
    vendor: int,
    operations: Sequence[int],
    events: Sequence[int],
    properties: Sequence[int],
    formats: Sequence[int],
    who: Sequence[str],
) -> bytes:
    """Return the DeviceInfo dataset, without a text on extensions; `who`: maker, model, version, serial number."""
    head = struct.pack("<HIH", 100, vendor, 100) + text("") + struct.pack("<H", 0)
    arrays = (array("u16", codes) for codes in (operations, events, properties, formats, formats))
    return head + b"".join((*arrays, *map(text, who)))


def property_description(
    code: int, kind: Type, current: int | str, form: Sequence[int | str], *, writable: bool
) -> bytes:
    """Return the DevicePropDesc dataset: a range is told as one, other values in a list; with none there is no form."""
    head = struct.pack("<HHB", code, _TYPE_CODES[kind], int(writable)) + value(kind, current) * 2
    if not form:
        return head + b"\0"
    if isinstance(form, range):
        return head + b"\1" + b"".join(value(kind, one) for one in (form[0], form[-1], form.step))
    return head + struct.pack("<BH", 2, len(form)) + b"".join(value(kind, one) for one in form)


def storage_info(capacity: int, free: int, frames: int) -> bytes:
    """Return the StorageInfo dataset of a removable card; sizes in bytes."""
    return struct.pack("<HHHQQI", 4, 2, 0, capacity, free, frames) + text("Simulated card") + text("TETHER")


def object_info(*, storage: int, kind: int, size: int, parent: int, folder: bool, name: str) -> bytes:
    """Return the ObjectInfo dataset of a file or folder: no thumbnail, no dates, no keywords."""
    head = struct.pack("<IHHI", storage, kind, 0, size)
    thumb = struct.pack("<HIIIIII", 0, 0, 0, 0, 0, 0, 0)
    place = struct.pack("<IHII", parent, int(folder), 0, 0)
    return head + thumb + place + text(name) + text("") * 3
