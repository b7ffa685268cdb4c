"""The dialect of Canon EOS bodies: a queue of records that is asked for, and a release button with two stages."""

from __future__ import annotations

import struct
import time
from typing import ClassVar

from tether.body.responder.codes import Event, Op, RefusedError, Response
from tether.body.responder.datasets import array
from tether.body.responder.eos_records import (
    END,
    RAW,
    RAW_AND_JPEG,
    added,
    aperture_code,
    choices,
    iso_code,
    record,
    time_code,
    wanted,
)
from tether.body.responder.faults import Call
from tether.body.responder.packets import Request
from tether.body.responder.parts import DONE, Handler, Property, Reply, u32s
from tether.body.responder.standard import Standard
from tether.body.simulated.live import TIMES

APERTURE, SHUTTER, ISO = 0xD101, 0xD102, 0xD103
PROGRAM, DRIVE, FOCUS = 0xD105, 0xD106, 0xD108
BATTERY, CLOCK, SHOTS, DESTINATION, FORMAT = 0xD111, 0xD113, 0xD11B, 0xD11C, 0xD120
DIAL, SERIAL, LIVE_VIEW_OUTPUT, LENS = 0xD138, 0xD1AF, 0xD1B0, 0xD1D8
CARD, HOST = 2, 4
BULB_CODE = 0x0C
#: Low, 25 %, 50 %, 75 %, 100 %, as camlibs/ptp2/config.c reads them.
_BATTERY = (0, 5, 1, 4, 2)
_MANUAL, _APERTURE_FIRST = 3, 2
_ONE_SHOT, _MANUAL_FOCUS = 0, 3
_SINGLE, _CONTINUOUS = 0, 1
_FULL = 2
_WITH_AF = 0
_TO_HOST = 2
_JPEG_RECORD = 1
_FARTHER = 0x8000
#: How far the three sizes of step of the lens go. Own choice.
_LENS_STEPS = {1: 1, 2: 5, 3: 20}
#: What is told anew when it has changed by itself.
_CHANGES_BY_ITSELF = (PROGRAM, DIAL, FOCUS, SHOTS, BATTERY, LIVE_VIEW_OUTPUT)


class Eos(Standard):
    """See the module."""

    vendor = 0x0000_000B
    model = "Simulated camera on the wire (E)"
    lists_properties = False
    can_bulb = True
    bulb_value = BULB_CODE
    calls: ClassVar[dict[int, Call]] = Standard.calls | {
        Op.EOS_SET_PROPERTY: "set",
        Op.EOS_GET_PARTIAL_OBJECT: "get",
        Op.EOS_GET_EVENT: "events",
    }

    def more_handlers(self) -> dict[int, Handler]:
        self._records: list[bytes] = []
        self._told: dict[int, int | str] = {}
        self._destination = CARD
        self._told_busy = False
        self._told_held_s = 0
        self._zoomed = False
        self._corner_px = (0, 0)
        return {
            Op.EOS_GET_STORAGE_IDS: lambda _: Reply(data=array("u32", self.storages())),
            Op.EOS_GET_STORAGE_INFO: lambda _: Reply(data=self.storage_info()),
            Op.EOS_GET_PARTIAL_OBJECT: self.partial_object,
            Op.EOS_SET_PROPERTY: self._set_property,
            Op.EOS_SET_REMOTE_MODE: lambda _: DONE,
            Op.EOS_SET_EVENT_MODE: self._set_event_mode,
            Op.EOS_GET_EVENT: lambda _: Reply(data=self._events()),
            Op.EOS_TRANSFER_COMPLETE: self._transfer_complete,
            Op.EOS_HOST_CAPACITY: lambda _: DONE,
            Op.EOS_KEEP_DEVICE_ON: lambda _: DONE,
            Op.EOS_REQUEST_PROPERTY: self._request_property,
            Op.EOS_START_LIVE_VIEW: lambda _: self.switch_live(on=True),
            Op.EOS_END_LIVE_VIEW: lambda _: self.switch_live(on=False),
            Op.EOS_GET_LIVE_VIEW: lambda _: self._live_picture(),
            Op.EOS_DRIVE_LENS: self._drive_lens,
            Op.EOS_ZOOM: self._zoom,
            Op.EOS_ZOOM_POSITION: self._zoom_position,
            **self.releases(),
        }

    def releases(self) -> dict[int, Handler]:
        """Return the operations by which this form of the family exposes."""
        return {Op.EOS_RELEASE_ON: self._release_on, Op.EOS_RELEASE_OFF: self._release_off}

    def call_of(self, request: Request) -> Call | None:
        if request.code in (Op.EOS_RELEASE_ON, Op.EOS_RELEASE_OFF) and not request.parameter(0) & _FULL:
            return None
        if request.code in (Op.EOS_RELEASE_ON, Op.EOS_BULB_START, Op.EOS_REMOTE_RELEASE):
            return self.exposing_call()
        if request.code in (Op.EOS_RELEASE_OFF, Op.EOS_BULB_END):
            return "close" if self.physics.held_open else None
        return super().call_of(request)

    def all_properties(self) -> list[Property]:
        physics = self.physics
        return [
            self.dial_property("aperture", APERTURE, "u16", aperture_code),
            self.dial_property("time", SHUTTER, "u16", time_code),
            self.dial_property("iso", ISO, "u16", iso_code),
            Property(code=PROGRAM, kind="u16", get=self._program),
            Property(code=DIAL, kind="u16", get=self._program),
            Property(code=DRIVE, kind="u16", get=lambda: _SINGLE, form=lambda: (_SINGLE, _CONTINUOUS)),
            Property(
                code=FOCUS,
                kind="u32",
                get=lambda: _MANUAL_FOCUS if physics.focus == "manual" else _ONE_SHOT,
                form=lambda: (_ONE_SHOT, _MANUAL_FOCUS),
            ),
            Property(code=BATTERY, kind="u16", get=self._battery_level),
            Property(code=CLOCK, kind="u32", get=lambda: int(time.time()) + time.localtime().tm_gmtoff),
            # While pictures go to the host, it has room as long as the host has told so; it always has.
            Property(code=SHOTS, kind="u32", get=lambda: physics.frames_left() if self._destination == CARD else 9999),
            Property(
                code=DESTINATION,
                kind="u32",
                get=lambda: self._destination,
                put=self._set_destination,
                form=lambda: (CARD, HOST) if physics.has_card else (HOST,),
            ),
            Property(
                code=LIVE_VIEW_OUTPUT,
                kind="u32",
                get=lambda: _TO_HOST if physics.shows_live else 0,
                put=lambda output, _: self._set_output(int(output)),
            ),
            Property(code=SERIAL, kind="text", get=lambda: physics.serial),
            Property(code=LENS, kind="text", get=lambda: physics.lens),
        ]

    def _program(self) -> int:
        return _MANUAL if self.physics.mode == "M" else _APERTURE_FIRST

    def _battery_level(self) -> int:
        """Return its charge as that family tells it: in quarters, and below them that it is low."""
        return _BATTERY[min(round(self.physics.battery() / 25), 4)]

    def _set_destination(self, destination: int | str, _at_ns: int) -> None:
        if destination not in (CARD, HOST):
            raise RefusedError(Response.INVALID_VALUE)
        self._destination = int(destination)
        self._tell(DESTINATION)

    # Live view

    def _set_output(self, output: int) -> None:
        if output not in (0, _TO_HOST):
            raise RefusedError(Response.INVALID_VALUE)
        self.switch_live(on=output == _TO_HOST)

    def switch_live(self, *, on: bool) -> Reply:
        done = super().switch_live(on=on)
        self._tell(LIVE_VIEW_OUTPUT)
        return done

    def _live_picture(self) -> Reply:
        """Return a picture as the family has it: a record of its length, its kind and itself."""
        if not self.physics.shows_live:
            return Reply(code=Response.EOS_NOT_READY)
        return Reply(data=record(_JPEG_RECORD, self.physics.live_jpeg(self._looked_at())))

    def _looked_at(self) -> tuple[float, float] | None:
        """Return what is magnified, from the upper left corner of what is shown."""
        if not self._zoomed:
            return None
        (left, upper), (width, height) = self._corner_px, self.physics.abilities.sensor_px
        return left / width + 0.5 / TIMES, upper / height + 0.5 / TIMES

    def _zoom(self, request: Request) -> Reply:
        if request.parameter(0) not in (1, TIMES):
            return Reply(code=Response.INVALID_PARAMETER)
        self._zoomed = request.parameter(0) == TIMES
        return DONE

    def _zoom_position(self, request: Request) -> Reply:
        self._corner_px = request.parameter(0), request.parameter(1)
        return DONE

    def _drive_lens(self, request: Request) -> Reply:
        """Move the focus by one of three sizes of step, farther where the highest bit is set."""
        steps = _LENS_STEPS.get(request.parameter(0) & ~_FARTHER)
        if steps is None or not self.physics.shows_live:
            return Reply(code=Response.INVALID_PARAMETER)
        way = 1 if request.parameter(0) & _FARTHER else -1
        self.physics.nudge_focus(way * steps, refused=Response.GENERAL_ERROR)
        return DONE

    # Properties are set by one operation and told as records

    def _set_property(self, request: Request) -> Reply:
        if len(request.data) < 12:
            return Reply(code=Response.INVALID_VALUE)
        _, code = struct.unpack_from("<II", request.data)
        if code == FORMAT:
            return self._set_format(request.data[8:])
        if code not in self.properties:
            return Reply(code=Response.PROPERTY_NOT_SUPPORTED)
        self.put(self.properties[code], request.data[8:], request.at_ns)
        return DONE

    def _set_format(self, packed: bytes) -> Reply:
        if packed not in (RAW, RAW_AND_JPEG):
            return Reply(code=Response.INVALID_VALUE)
        self.physics.card.two_files = packed == RAW_AND_JPEG
        self._tell_format()
        return DONE

    def taken(self, code: int) -> None:
        self._tell(code)

    def kept(self, code: int) -> None:
        self._tell(code)

    def _request_property(self, request: Request) -> Reply:
        if request.parameter(0) not in self.properties:
            return Reply(code=Response.GENERAL_ERROR)
        self._tell(request.parameter(0))
        return DONE

    def _set_event_mode(self, _request: Request) -> Reply:
        """Begin the queue anew, with everything there is to tell; files that nobody has heard of are still told."""
        self._records.clear()
        self._told_busy, self._told_held_s = False, 0
        for code in self.properties:
            self._tell(code)
        self._tell_format()
        return DONE

    def _tell(self, code: int) -> None:
        """Put into the queue the record of a property's value, then that of its choices."""
        one = self.properties[code]
        now = self._told[code] = one.get()
        value = str(now).encode() + b"\0" if one.kind == "text" else u32s(int(now))
        self._records.append(record(Event.EOS_PROPERTY_VALUE, u32s(code) + value))
        form = one.form()
        if form and not isinstance(form, range):
            self._records.append(choices(code, form))

    def _tell_format(self) -> None:
        now = RAW_AND_JPEG if self.physics.card.two_files else RAW
        self._records.append(record(Event.EOS_PROPERTY_VALUE, u32s(FORMAT) + now))
        self._records.append(record(Event.EOS_PROPERTY_CHOICES, u32s(FORMAT, 3, 2) + RAW + RAW_AND_JPEG))

    # The queue

    def _events(self) -> bytes:
        self._tell_changes()
        self._tell_exposing()
        self._records += [wanted(one) if one.in_memory else added(one) for one in self.physics.card.news()]
        records, self._records = self._records, []
        return b"".join(records) + END

    def _tell_changes(self) -> None:
        for code in _CHANGES_BY_ITSELF:
            if code in self._told and self._told[code] != self.properties[code].get():
                self._tell(code)
                if code == DIAL:
                    self._tell(SHUTTER)

    def _tell_exposing(self) -> None:
        held_s = int(self.physics.held_s() or 0)
        if held_s > self._told_held_s:
            self._records.append(record(Event.EOS_BULB_TIME, u32s(held_s)))
        self._told_held_s = held_s
        busy = self.physics.busy()
        if busy != self._told_busy:
            self._told_busy = busy
            self._records.append(record(Event.EOS_STATUS, u32s(int(busy))))

    def _transfer_complete(self, request: Request) -> Reply:
        if self.physics.card.stored(request.parameter(0)).in_memory:
            self.physics.card.forget(request.parameter(0))
        return DONE

    # The release button, and what was before it

    def expose(self, request: Request) -> Reply:
        """Begin a frame."""
        self.physics.expose(request.at_ns, to_card=self._destination == CARD)
        return DONE

    def _release_on(self, request: Request) -> Reply:
        if request.parameter(1) == _WITH_AF and self.physics.focus == "af":
            return Reply(code=Response.GENERAL_ERROR)
        return self.expose(request) if request.parameter(0) & _FULL else DONE

    def _release_off(self, request: Request) -> Reply:
        if request.parameter(0) & _FULL:
            self.physics.close(request.at_ns)
        return DONE


class OldEos(Eos):
    """Its older form: a shutter that is held by a start and an end, and no release button over the wire."""

    def releases(self) -> dict[int, Handler]:
        return {
            Op.EOS_REMOTE_RELEASE: self._remote_release,
            Op.EOS_BULB_START: self._bulb_start,
            Op.EOS_BULB_END: self._bulb_end,
        }

    def _remote_release(self, request: Request) -> Reply:
        if self.physics.on_bulb() or self.physics.focus == "af":
            return Reply(code=Response.GENERAL_ERROR)
        self.expose(request)
        return Reply(parameters=(0,))

    def _bulb_start(self, request: Request) -> Reply:
        if not self.physics.on_bulb():
            return Reply(code=Response.GENERAL_ERROR)
        self.expose(request)
        return Reply(parameters=(0,))

    def _bulb_end(self, request: Request) -> Reply:
        self.physics.close(request.at_ns)
        return Reply(parameters=(0,))
