"""What every dialect shares: sessions, storage, objects, and properties (ISO 15740); and the one that has no more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import ClassVar

from tether.body.protocol import BULB
from tether.body.responder.card import STORAGE, Stored
from tether.body.responder.codes import DNG, JPEG, Event, Op, RefusedError, Response
from tether.body.responder.datasets import (
    Type,
    array,
    device_info,
    property_description,
    read_value,
    storage_info,
    value,
)
from tether.body.responder.faults import Call
from tether.body.responder.packets import Request
from tether.body.responder.parts import ALL_BITS, DONE, Handler, Property, Reply, time_units
from tether.body.responder.physics import Physics
from tether.exposure.abilities import Dial
from tether.exposure.marks import Mark

#: Of the card, and a usual size of a frame [bytes].
_CAPACITY, _FRAME_BYTES = 64_000_000_000, 60_000_000
_GARBLED_BYTES = 4096

BATTERY, F_NUMBER, FOCUS_MODE, EXPOSURE_TIME = 0x5001, 0x5007, 0x500A, 0x500D
PROGRAM, ISO, DATE_TIME, STILL_MODE = 0x500E, 0x500F, 0x5011, 0x5013
MANUAL_PROGRAM, APERTURE_PROGRAM = 1, 3
_MANUAL_FOCUS, _AUTO_FOCUS = 1, 2
_SINGLE, _BURST = 1, 2


class Standard:
    """The base of the dialects.

    Parameters
    ----------
    physics
        The body.
    """

    vendor = 0
    model: str
    events: tuple[int, ...] = (Event.OBJECT_ADDED, Event.PROPERTY_CHANGED, Event.CAPTURE_COMPLETE)
    #: Whether its properties are listed and set as the standard has it; else by operations of the dialect's own.
    lists_properties = True
    #: Whether events go out as packets of their own, or wait to be asked for.
    pushes = False
    #: Whether the dialect has a way to hold the shutter, and the value that means bulb.
    can_bulb = False
    bulb_value = ALL_BITS
    #: What is a call for the faults, as far as the operation's code alone tells.
    calls: ClassVar[dict[int, Call]] = {
        Op.SET_PROPERTY_VALUE: "set",
        Op.GET_OBJECT: "get",
        Op.GET_PARTIAL_OBJECT: "get",
    }

    def __init__(self, physics: Physics) -> None:
        self.physics = physics
        self.properties = {one.code: one for one in self.all_properties()}
        self._changed: list[int] = []
        self._handlers: dict[int, Handler] = {
            Op.GET_DEVICE_INFO: lambda _: Reply(data=self._device_info()),
            Op.GET_STORAGE_IDS: lambda _: Reply(data=array("u32", self.storages())),
            Op.GET_STORAGE_INFO: lambda _: Reply(data=self.storage_info()),
            Op.GET_NUM_OBJECTS: lambda request: Reply(parameters=(len(self._handles(request)),)),
            Op.GET_OBJECT_HANDLES: lambda request: Reply(data=array("u32", self._handles(request))),
            Op.GET_OBJECT_INFO: lambda request: Reply(data=self.physics.card.info(request.parameter(0))),
            Op.GET_OBJECT: lambda request: self._part(request.parameter(0), 0, ALL_BITS),
            Op.GET_PARTIAL_OBJECT: self.partial_object,
            Op.GET_THUMB: lambda _: Reply(code=Response.NO_THUMBNAIL),
            Op.DELETE_OBJECT: self.delete,
            Op.GET_PROPERTY_DESCRIPTION: self._describe,
            Op.GET_PROPERTY_VALUE: self._get,
            Op.SET_PROPERTY_VALUE: self._set,
            **self.more_handlers(),
        }

    def more_handlers(self) -> dict[int, Handler]:
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

    def call_of(self, request: Request) -> Call | None:
        """Return which call of the faults an operation is, if any."""
        return self.calls.get(request.code)

    def exposing_call(self) -> Call:
        """Return which call an operation that exposes is."""
        return "open" if self.physics.on_bulb() else "trigger"

    def begin(self) -> None:
        """Begin a session: what was to be told to the one before is not told."""
        self._changed.clear()

    def _device_info(self) -> bytes:
        """Return who it is and what it understands."""
        return device_info(
            vendor=self.vendor,
            operations=(Op.OPEN_SESSION, Op.CLOSE_SESSION, *self._handlers),
            events=self.events,
            properties=tuple(self.properties) if self.lists_properties else (),
            formats=(DNG, JPEG),
            who=("Tether", self.model, "1.0", self.physics.serial),
        )

    # Events

    def due_events(self) -> list[tuple[int, int]]:
        """Return the events (code, parameter) that are to be told now, and tell of them no more."""
        changed, self._changed = self._changed, []
        added = [(self.added_code(one), one.handle) for one in self.physics.card.news()]
        complete = [(int(Event.CAPTURE_COMPLETE), 0)] if added else []
        return [*((int(Event.PROPERTY_CHANGED), code) for code in changed), *added, *complete]

    def added_code(self, _stored: Stored) -> int:
        """Return the event that tells of a file."""
        return Event.OBJECT_ADDED

    # Storage and objects

    def storages(self) -> tuple[int, ...]:
        """Return the identifiers of the storages: one for the card."""
        return (STORAGE,) if self.physics.has_card else ()

    def storage_info(self) -> bytes:
        """Return what is known of the card. Raises RefusedError where there is none."""
        if not self.physics.has_card:
            raise RefusedError(Response.STORE_NOT_AVAILABLE)
        frames = self.physics.frames_left()
        return storage_info(_CAPACITY, frames * _FRAME_BYTES, frames)

    def _handles(self, request: Request) -> list[int]:
        return self.physics.card.handles(request.parameter(2)) if self.physics.has_card else []

    def partial_object(self, request: Request) -> Reply:
        """Return a part of an object."""
        reply = self._part(request.parameter(0), request.parameter(1), request.parameter(2))
        return replace(reply, parameters=(len(reply.data or b""),))

    def _part(self, handle: int, offset: int, size: int) -> Reply:
        stored = self.physics.card.stored(handle)
        data = self._as_sent(stored, stored.part(offset, size))
        takes_s = len(data) / self.physics.world.latency.bytes_per_s
        return Reply(data=data, takes_s=takes_s)

    def _as_sent(self, stored: Stored, data: bytes) -> bytes:
        if self.physics.troubles.strikes("cut short", stored.number):
            return data[: len(data) // 2]
        if self.physics.troubles.strikes("garbled", stored.number):
            start = len(data) // 2
            end = start + _GARBLED_BYTES
            return data[:start] + bytes(byte ^ 0x5A for byte in data[start:end]) + data[end:]
        return data

    def delete(self, request: Request) -> Reply:
        """Forget what is in memory only; nothing is deleted from the card."""
        self.physics.card.forget(request.parameter(0))
        return DONE

    def switch_live(self, *, on: bool) -> Reply:
        """Switch live view on or off."""
        self.physics.switch_live(on=on)
        return DONE

    # Properties

    def all_properties(self) -> list[Property]:
        """Return the dialect's properties: here those of the standard."""
        physics = self.physics
        return [
            self.dial_property("time", EXPOSURE_TIME, "u32", time_units),
            self.dial_property("aperture", F_NUMBER, "u16", lambda mark: round(float(mark.label[2:]) * 100)),
            self.dial_property("iso", ISO, "u16", lambda mark: int(mark.label) if int(mark.label) < 0xFFFF else None),
            Property(
                code=PROGRAM,
                kind="u16",
                get=lambda: MANUAL_PROGRAM if physics.mode == "M" else APERTURE_PROGRAM,
                put=self._set_program,
                form=lambda: (MANUAL_PROGRAM, APERTURE_PROGRAM),
            ),
            Property(
                code=FOCUS_MODE,
                kind="u16",
                get=lambda: _MANUAL_FOCUS if physics.focus == "manual" else _AUTO_FOCUS,
                form=lambda: (_MANUAL_FOCUS, _AUTO_FOCUS),
            ),
            Property(code=STILL_MODE, kind="u16", get=lambda: _SINGLE, form=lambda: (_SINGLE, _BURST)),
            Property(code=BATTERY, kind="u8", get=physics.battery, form=lambda: range(101)),
            Property(code=DATE_TIME, kind="text", get=lambda: f"{datetime.now():%Y%m%dT%H%M%S}"),
        ]

    def _set_program(self, program: int | str, _at_ns: int) -> None:
        """Take the program that the dial has; only the hand can turn it."""
        if program != self.properties[PROGRAM].get():
            raise RefusedError(Response.INVALID_VALUE)

    def dial_property(self, dial: Dial, code: int, kind: Type, code_of: Callable[[Mark], int | None]) -> Property:
        """Return a property that is one of the three dials; marks that the dialect can't say are left out."""
        marks = self.physics.abilities.marks(dial)
        codes = {mark.label: one for mark in marks if (one := code_of(mark)) is not None}
        if dial == "time" and self.can_bulb:
            codes[BULB] = self.bulb_value
        labels = {one: label for label, one in codes.items()}

        def get() -> int:
            return codes.get(getattr(self.physics.settings(), dial), 0)

        def put(number: int | str, at_ns: int) -> None:
            if number not in labels:
                raise RefusedError(Response.INVALID_VALUE)
            turned = self.physics.turn(dial, labels[int(number)], at_ns)
            if turned == "taken":
                self.taken(code)
            elif turned == "kept and told":
                self.kept(code)

        def form() -> list[int]:
            return [one for one, label in labels.items() if label != BULB or self.physics.offers_bulb()]

        return Property(code=code, kind=kind, get=get, put=put, form=form)

    def taken(self, code: int) -> None:
        """Tell that a property took a new value; here that need not be told to who set it."""

    def kept(self, code: int) -> None:
        """Tell that a property kept its old value."""
        self._changed.append(code)

    def _property(self, code: int) -> Property:
        if code not in self.properties or not self.lists_properties:
            raise RefusedError(Response.PROPERTY_NOT_SUPPORTED)
        return self.properties[code]

    def _describe(self, request: Request) -> Reply:
        one = self._property(request.parameter(0))
        return Reply(data=property_description(one.code, one.kind, one.get(), one.form(), writable=one.put is not None))

    def _get(self, request: Request) -> Reply:
        one = self._property(request.parameter(0))
        return Reply(data=value(one.kind, one.get()))

    def _set(self, request: Request) -> Reply:
        self.put(self._property(request.parameter(0)), request.data, request.at_ns)
        return DONE

    def put(self, one: Property, data: bytes, at_ns: int) -> None:
        """Set a property from bytes. Raises RefusedError."""
        if one.put is None:
            raise RefusedError(Response.PROPERTY_NOT_SUPPORTED)
        try:
            given = read_value(one.kind, data)
        except ValueError as error:
            raise RefusedError(Response.INVALID_VALUE) from error
        one.put(given, at_ns)


class Plain(Standard):
    """The dialect of the standard alone: captures, events as packets of their own, and no way to hold the shutter."""

    model = "Simulated camera on the wire (P)"
    pushes = True

    def more_handlers(self) -> dict[int, Handler]:
        return {Op.INITIATE_CAPTURE: self._capture}

    def call_of(self, request: Request) -> Call | None:
        return self.exposing_call() if request.code == Op.INITIATE_CAPTURE else super().call_of(request)

    def _capture(self, request: Request) -> Reply:
        if self.physics.focus == "af":
            return Reply(code=Response.GENERAL_ERROR)
        self.physics.expose(request.at_ns)
        return DONE
