"""What every dialect shares: sessions, storage, objects, properties, and the capture of the standard itself."""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from tether.body.responder.codes import DNG, JPEG, STANDARD_OPERATIONS, Event, Op, Response
from tether.body.responder.datasets import (
    DeviceInfo,
    Type,
    array,
    property_description,
    read_value,
    storage_info,
    value,
)
from tether.body.responder.packets import Request
from tether.body.responder.physics import STORAGE, Physics, RefusedError, Stored
from tether.body.simulated.faults import Dial
from tether.exposure.marks import Mark

#: The standard's ExposureTime is in units of 0.1 ms, its FNumber in hundredths; all bits set is bulb (by custom).
_TIME_UNITS = 10_000
BULB = 0xFFFF_FFFF
_CAPACITY = 64_000_000_000

EXPOSURE_TIME, F_NUMBER, ISO = 0x500D, 0x5007, 0x500F
BATTERY, COMPRESSION, PROGRAM, FOCUS_MODE, STILL_MODE, DATE_TIME = 0x5001, 0x5004, 0x500E, 0x500A, 0x5013, 0x5011


@dataclass(frozen=True, kw_only=True)
class Reply:
    """What an operation gives: its response, parameters of it, and data (None: it has none)."""

    code: Response = Response.OK
    parameters: tuple[int, ...] = ()
    data: bytes | None = None


@dataclass(frozen=True, kw_only=True)
class Property:
    """One property: how it is read and written (None: it can't be), and the values it offers."""

    code: int
    kind: Type
    get: Callable[[], int | str]
    put: Callable[[int | str, int], None] | None = None
    choices: Callable[[], Sequence[int | str]] = tuple


DONE = Reply()


class Standard:
    """The plain dialect: the standard's own operations, no bulb.

    Parameters
    ----------
    physics
        The body.
    """

    vendor, vendor_text = 0, ""
    model = "Simulated camera on the wire"
    more_operations: tuple[Op, ...] = (Op.INITIATE_CAPTURE,)
    events: tuple[int, ...] = (Event.OBJECT_ADDED, Event.CAPTURE_COMPLETE)
    #: Whether its properties are listed and set as the standard has it; else by operations of the dialect's own.
    lists_properties = True
    #: Whether events go out as packets of their own, or wait to be asked for.
    pushes = True

    def __init__(self, physics: Physics) -> None:
        self.physics = physics
        self.properties = {one.code: one for one in self.all_properties()}
        self._handlers: dict[int, Callable[[Request], Reply]] = {
            Op.GET_DEVICE_INFO: lambda _: Reply(data=self.device_info().packed()),
            Op.OPEN_SESSION: self.open_session,
            Op.CLOSE_SESSION: lambda _: DONE,
            Op.GET_STORAGE_IDS: lambda _: Reply(data=array("u32", (STORAGE,))),
            Op.GET_STORAGE_INFO: lambda _: Reply(data=self._storage_info()),
            Op.GET_NUM_OBJECTS: lambda request: Reply(parameters=(len(self._handles(request)),)),
            Op.GET_OBJECT_HANDLES: lambda request: Reply(data=array("u32", self._handles(request))),
            Op.GET_OBJECT_INFO: lambda request: Reply(data=self.physics.info(request.parameter(0))),
            Op.GET_OBJECT: lambda request: Reply(data=self._object(request.parameter(0))),
            Op.GET_PARTIAL_OBJECT: self.partial_object,
            Op.GET_THUMB: lambda _: Reply(code=Response.NO_THUMBNAIL),
            Op.GET_PROPERTY_DESCRIPTION: self._describe,
            Op.GET_PROPERTY_VALUE: self._get,
            Op.SET_PROPERTY_VALUE: self._set,
            Op.INITIATE_CAPTURE: self._capture,
            **self.more_handlers(),
        }

    def more_handlers(self) -> dict[int, Callable[[Request], Reply]]:
        """Return the operations of a dialect's own."""
        return {}

    def do(self, request: Request) -> Reply:
        """Do an operation. Raises GoneError where the body is gone."""
        handler = self._handlers.get(request.code)
        if handler is None:
            return Reply(code=Response.OPERATION_NOT_SUPPORTED)
        try:
            return handler(request)
        except RefusedError as refused:
            return Reply(code=refused.code)

    def open_session(self, _request: Request) -> Reply:
        """Begin a session."""
        return DONE

    def device_info(self) -> DeviceInfo:
        """Return who it is and what it understands."""
        return DeviceInfo(
            vendor=self.vendor,
            vendor_text=self.vendor_text,
            operations=(*STANDARD_OPERATIONS, *self.more_operations),
            events=self.events,
            properties=tuple(self.properties) if self.lists_properties else (),
            formats=(DNG, JPEG),
            maker="Tether",
            model=self.model,
            version="1.0",
            serial=f"WIRE{self.physics.seed}",
        )

    # Events

    def event_codes(self, stored: Sequence[Stored]) -> list[tuple[int, int]]:
        """Return events (code, parameter) that tell of files that are there."""
        added = [(int(Event.OBJECT_ADDED), one.handle) for one in stored]
        return [*added, (int(Event.CAPTURE_COMPLETE), 0)] if added else []

    # Storage and objects

    def _storage_info(self) -> bytes:
        return storage_info(_CAPACITY, self.physics.free_bytes(), self.physics.frames_left())

    def _handles(self, request: Request) -> list[int]:
        self.physics.look()
        parent = request.parameter(2)
        return self.physics.all_handles() if parent == 0 else self.physics.handles_in(parent)

    def _object(self, handle: int) -> bytes:
        stored = self.physics.stored(handle)
        return self._as_sent(stored, stored.data)

    def partial_object(self, request: Request) -> Reply:
        """Return a part of an object."""
        stored = self.physics.stored(request.parameter(0))
        offset, size = request.parameter(1), request.parameter(2)
        data = self._as_sent(stored, stored.data[offset : offset + size])
        return Reply(data=data, parameters=(len(data),))

    def _as_sent(self, stored: Stored, data: bytes) -> bytes:
        if self.physics.troubles.strikes("cut short", stored.number):
            return data[: len(data) // 2]
        if self.physics.troubles.strikes("garbled", stored.number):
            middle = len(data) // 2
            return data[:middle] + bytes(byte ^ 0x5A for byte in data[middle : middle + 4096]) + data[middle + 4096 :]
        return data

    # Properties

    def all_properties(self) -> list[Property]:
        """Return the dialect's properties."""
        return [
            self.dial_property("time", EXPOSURE_TIME, "u32", time_units),
            self.dial_property("aperture", F_NUMBER, "u16", lambda mark: round(float(mark.label[2:]) * 100)),
            self.dial_property("iso", ISO, "u16", lambda mark: min(int(mark.label), 0xFFFF)),
            Property(code=BATTERY, kind="u8", get=self.physics.battery),
            Property(code=DATE_TIME, kind="text", get=lambda: f"{datetime.now():%Y%m%dT%H%M%S}"),
        ]

    def dial_property(self, dial: Dial, code: int, kind: Type, code_of: Callable[[Mark], int]) -> Property:
        """Return a property that is one of the three dials, whose values are made from its marks."""
        marks = {"time": "times", "aperture": "apertures", "iso": "isos"}[dial]
        values = {code_of(mark): mark.label for mark in getattr(self.physics.abilities, marks)}
        codes = {label: one for one, label in values.items()}

        def get() -> int:
            label = getattr(self.physics.settings(), dial)
            return self.bulb_value(code) if label == "bulb" else codes[label]

        def put(number: int | str, at_ns: int) -> None:
            is_bulb = dial == "time" and number == self.bulb_value(code)
            label = "bulb" if is_bulb else values.get(int(number))
            if label is None or (is_bulb and not self.can_bulb):
                raise RefusedError(Response.INVALID_VALUE)
            if not self.physics.turn(dial, label, at_ns):
                self.kept(code)

        def choices() -> list[int]:
            bulb = [self.bulb_value(code)] if dial == "time" and self.can_bulb and self.physics.offers_bulb() else []
            return [*values, *bulb]

        return Property(code=code, kind=kind, get=get, put=put, choices=choices)

    #: Whether the dialect has a way to hold the shutter.
    can_bulb = False

    def bulb_value(self, _code: int) -> int:
        """Return the value of a property that means bulb."""
        return BULB

    def kept(self, code: int) -> None:
        """Tell that a property kept its old value."""

    def _property(self, code: int) -> Property:
        if code not in self.properties:
            raise RefusedError(Response.PROPERTY_NOT_SUPPORTED)
        return self.properties[code]

    def _describe(self, request: Request) -> Reply:
        one = self._property(request.parameter(0))
        data = property_description(one.code, one.kind, one.get(), one.choices(), writable=one.put is not None)
        return Reply(data=data)

    def _get(self, request: Request) -> Reply:
        one = self._property(request.parameter(0))
        return Reply(data=value(one.kind, one.get()))

    def _set(self, request: Request) -> Reply:
        self.put(request.parameter(0), request.data, request.at_ns)
        return DONE

    def put(self, code: int, data: bytes, at_ns: int) -> None:
        """Set a property from bytes. Raises RefusedError."""
        one = self._property(code)
        if one.put is None:
            raise RefusedError(Response.PROPERTY_NOT_SUPPORTED)
        try:
            one.put(read_value(one.kind, data), at_ns)
        except ValueError as error:
            raise RefusedError(Response.INVALID_VALUE) from error

    def _capture(self, request: Request) -> Reply:
        self.physics.expose(request.at_ns)
        return DONE


def time_units(mark: Mark) -> int:
    """Return a time as the standard has it: its label's seconds, in units of 0.1 ms."""
    return max(round(seconds_of(mark.label) * _TIME_UNITS), 1)


def seconds_of(label: str) -> Fraction:
    """Return the seconds that a label says."""
    parts = label.split(":")
    if len(parts) > 1:
        return Fraction(sum(int(part) * 60**place for place, part in enumerate(reversed(parts))))
    return Fraction(label)


def u32s(*values: int) -> bytes:
    """Return numbers of 32 bits as bytes."""
    return struct.pack(f"<{len(values)}I", *values)
