"""The dialect of Canon EOS bodies: a queue of records that is asked for, and a release button with two stages."""

from __future__ import annotations

import struct
import time
from collections.abc import Callable
from math import floor, log2

from tether.body.responder.codes import Event, Op, Response
from tether.body.responder.datasets import array
from tether.body.responder.packets import Request
from tether.body.responder.physics import STORAGE, RefusedError, Stored
from tether.body.responder.standard import DONE, Property, Reply, Standard, u32s
from tether.exposure.marks import Mark

APERTURE, SHUTTER, ISO = 0xD101, 0xD102, 0xD103
PROGRAM, DRIVE, FOCUS = 0xD105, 0xD106, 0xD108
BATTERY, CLOCK, SHOTS, DESTINATION, FORMAT = 0xD111, 0xD113, 0xD11B, 0xD11C, 0xD120
DIAL, SERIAL, LIVE_VIEW_OUTPUT, LENS = 0xD138, 0xD1AF, 0xD1B0, 0xD1D8
CARD, HOST = 2, 4
BULB = 0x0C
_MANUAL, _APERTURE_FIRST = 3, 2
_ONE_SHOT, _MANUAL_FOCUS = 0, 3
_FULL = 2
_END = struct.pack("<II", 8, 0)
#: Formats as the family packs them: files, then for each its size, kind, picture size and compression.
_RAW = u32s(1, 16, 6, 0, 4)
_RAW_AND_JPEG = u32s(2, 16, 6, 0, 4, 16, 1, 0, 3)


def eighths(stops: float) -> int:
    """Return stops in eighths, as the family has them: a third is 3, two thirds are 5, a half is 4."""
    whole = floor(stops + 1e-6)
    return 8 * whole + {0: 0, 4: 3, 6: 4, 8: 5, 12: 8}[round((stops - whole) * 12)]


def time_code(mark: Mark) -> int:
    """Return the code of a time: 0x38 is 1 s, and each stop longer takes 8 off."""
    return 0x38 - eighths(log2(mark.exact))


def aperture_code(mark: Mark) -> int:
    """Return the code of an aperture: 8 for f/1, and each stop narrower adds 8."""
    return 8 + eighths(2 * log2(mark.exact))


def iso_code(mark: Mark) -> int:
    """Return the code of a speed: 0x48 is ISO 100, and each stop faster adds 8."""
    return 0x48 + eighths(log2(mark.exact / 100))


class Eos(Standard):
    """See the module."""

    vendor, vendor_text = 0x0000_000B, ""
    model = "Simulated camera on the wire (E)"
    more_operations: tuple[Op, ...] = (
        Op.EOS_GET_STORAGE_IDS,
        Op.EOS_GET_STORAGE_INFO,
        Op.EOS_GET_PARTIAL_OBJECT,
        Op.EOS_SET_PROPERTY,
        Op.EOS_SET_REMOTE_MODE,
        Op.EOS_SET_EVENT_MODE,
        Op.EOS_GET_EVENT,
        Op.EOS_TRANSFER_COMPLETE,
        Op.EOS_HOST_CAPACITY,
        Op.EOS_KEEP_DEVICE_ON,
        Op.EOS_REQUEST_PROPERTY,
        Op.EOS_RELEASE_ON,
        Op.EOS_RELEASE_OFF,
    )
    pushes = False
    can_bulb = True
    lists_properties = False

    def more_handlers(self) -> dict[int, Callable[[Request], Reply]]:
        self._records: list[bytes] = []
        self._destination = CARD
        self._told_busy = False
        self._told_bulb_s = 0
        return {
            Op.EOS_GET_STORAGE_IDS: lambda _: Reply(data=array("u32", (STORAGE,))),
            Op.EOS_GET_STORAGE_INFO: lambda _: Reply(data=self._storage_info()),
            Op.EOS_GET_PARTIAL_OBJECT: self.partial_object,
            Op.EOS_SET_PROPERTY: self._set_property,
            Op.EOS_SET_REMOTE_MODE: lambda _: DONE,
            Op.EOS_SET_EVENT_MODE: self._set_event_mode,
            Op.EOS_GET_EVENT: lambda _: Reply(data=self._events()),
            Op.EOS_TRANSFER_COMPLETE: lambda _: DONE,
            Op.EOS_HOST_CAPACITY: lambda _: DONE,
            Op.EOS_KEEP_DEVICE_ON: lambda _: DONE,
            Op.EOS_REQUEST_PROPERTY: self._request_property,
            Op.EOS_RELEASE_ON: self._release_on,
            Op.EOS_RELEASE_OFF: self._release_off,
            Op.EOS_BULB_START: self._bulb_start,
            Op.EOS_BULB_END: self._bulb_end,
            Op.EOS_REMOTE_RELEASE: self._remote_release,
        }

    def all_properties(self) -> list[Property]:
        physics = self.physics
        manual = physics.start.mode == "M"
        return [
            self.dial_property("aperture", APERTURE, "u16", aperture_code),
            self.dial_property("time", SHUTTER, "u16", time_code),
            self.dial_property("iso", ISO, "u16", iso_code),
            Property(code=PROGRAM, kind="u16", get=lambda: _MANUAL if manual else _APERTURE_FIRST),
            Property(code=DIAL, kind="u16", get=lambda: _MANUAL if manual else _APERTURE_FIRST),
            Property(code=DRIVE, kind="u16", get=lambda: 0, choices=lambda: (0, 1)),
            Property(
                code=FOCUS,
                kind="u32",
                get=lambda: _MANUAL_FOCUS if physics.start.focus == "manual" else _ONE_SHOT,
                choices=lambda: (_ONE_SHOT, _MANUAL_FOCUS),
            ),
            Property(code=BATTERY, kind="u16", get=self._battery_level),
            Property(code=CLOCK, kind="u32", get=lambda: int(time.time() - time.altzone)),
            Property(code=SHOTS, kind="u32", get=lambda: max(physics.frames_left(), 0)),
            Property(
                code=DESTINATION,
                kind="u32",
                get=lambda: self._destination,
                put=self._set_destination,
                choices=lambda: (CARD, HOST),
            ),
            Property(code=LIVE_VIEW_OUTPUT, kind="u32", get=lambda: 0),
            Property(code=SERIAL, kind="text", get=lambda: f"WIRE{physics.seed}"),
            Property(code=LENS, kind="text", get=lambda: physics.lens),
        ]

    def bulb_value(self, _code: int) -> int:
        return BULB

    def _battery_level(self) -> int:
        percent = self.physics.battery()
        return 2 if percent > 70 else 6 if percent > 45 else 5 if percent > 20 else 4

    def _set_destination(self, destination: int | str, _at_ns: int) -> None:
        if destination not in (CARD, HOST):
            raise RefusedError(Response.INVALID_VALUE)
        self._destination = int(destination)

    # Properties are set by one operation and told as records

    def _set_property(self, request: Request) -> Reply:
        if len(request.data) < 12:
            return Reply(code=Response.INVALID_VALUE)
        _, code = struct.unpack_from("<II", request.data)
        if code == FORMAT:
            self.physics.two_files = request.data[8:12] == u32s(2)
            self._records += self._format_records()
            return DONE
        self.put(code, request.data[8:], request.at_ns)
        self._records += self._records_of(code)
        return DONE

    def _request_property(self, request: Request) -> Reply:
        code = request.parameter(0)
        if code not in self.properties:
            return Reply(code=Response.GENERAL_ERROR)
        self._records += self._records_of(code)
        return DONE

    def _set_event_mode(self, _request: Request) -> Reply:
        self._records = [record for code in self.properties for record in self._records_of(code)]
        self._records += self._format_records()
        return DONE

    def _records_of(self, code: int) -> list[bytes]:
        """Return the record of a property's value, then that of its choices."""
        one = self.properties[code]
        now = one.get()
        value = str(now).encode() + b"\0" if one.kind == "text" else u32s(int(now))
        records = [_record(Event.EOS_PROPERTY_VALUE, u32s(code) + value)]
        choices = [int(choice) for choice in one.choices()]
        if choices:
            records.append(_record(Event.EOS_PROPERTY_CHOICES, u32s(code, 3, len(choices), *choices)))
        return records

    def _format_records(self) -> list[bytes]:
        now = _RAW_AND_JPEG if self.physics.two_files else _RAW
        return [
            _record(Event.EOS_PROPERTY_VALUE, u32s(FORMAT) + now),
            _record(Event.EOS_PROPERTY_CHOICES, u32s(FORMAT, 3, 2) + _RAW + _RAW_AND_JPEG),
        ]

    # The queue

    def _events(self) -> bytes:
        self.physics.look()
        self._tell_status()
        self._records += [_added(stored) for stored in self.physics.due_news()]
        records, self._records = self._records, []
        return b"".join(records) + _END

    def _tell_status(self) -> None:
        held_s = self.physics.held_s()
        if held_s is not None and int(held_s) > self._told_bulb_s:
            self._told_bulb_s = int(held_s)
            self._records.append(_record(Event.EOS_BULB_TIME, u32s(self._told_bulb_s)))
        busy = self.physics.busy()
        if busy != self._told_busy:
            self._told_busy = busy
            self._records.append(_record(Event.EOS_STATUS, u32s(int(busy))))

    # The release button

    def _release_on(self, request: Request) -> Reply:
        if request.parameter(1) == 0 and self.physics.start.focus == "af":
            return Reply(code=Response.GENERAL_ERROR)
        if request.parameter(0) & _FULL:
            self._expose(request)
        return DONE

    def _expose(self, request: Request) -> None:
        self._told_bulb_s = 0
        self.physics.expose(request.at_ns)

    def _release_off(self, request: Request) -> Reply:
        if request.parameter(0) & _FULL:
            self.physics.close(request.at_ns)
        return DONE

    def _remote_release(self, request: Request) -> Reply:
        if self.physics.settings().time == "bulb":
            return Reply(code=Response.GENERAL_ERROR)
        self._expose(request)
        return Reply(parameters=(0,))

    def _bulb_start(self, request: Request) -> Reply:
        if self.physics.settings().time != "bulb":
            return Reply(code=Response.GENERAL_ERROR)
        self._expose(request)
        return Reply(parameters=(0,))

    def _bulb_end(self, request: Request) -> Reply:
        self.physics.close(request.at_ns)
        return Reply(parameters=(0,))


class OldEos(Eos):
    """Its older form: a shutter that is held by a start and an end, and no release button over the wire."""

    more_operations = (
        *(one for one in Eos.more_operations if one not in (Op.EOS_RELEASE_ON, Op.EOS_RELEASE_OFF)),
        Op.EOS_REMOTE_RELEASE,
        Op.EOS_BULB_START,
        Op.EOS_BULB_END,
    )


def _record(code: int, body: bytes) -> bytes:
    padded = body + b"\0" * (-len(body) % 4)
    return struct.pack("<II", 8 + len(padded), code) + padded


def _added(stored: Stored) -> bytes:
    """Return the record that a file was added, laid out as the family lays it out."""
    body = bytearray(0x28 - 8)
    struct.pack_into("<IIH", body, 0, stored.handle, STORAGE, stored.kind)
    struct.pack_into("<II", body, 0x1C - 8, len(stored.data), 0x1000_0001)
    return _record(Event.EOS_OBJECT_ADDED, bytes(body) + stored.name.encode() + b"\0")
