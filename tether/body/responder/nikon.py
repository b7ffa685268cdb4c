"""The dialect of Nikon bodies: captures to the card that are waited for, and a shutter held until it is terminated."""

from __future__ import annotations

import struct
from collections.abc import Callable
from fractions import Fraction

from tether.body.responder.codes import Event, Op, Response
from tether.body.responder.packets import Request
from tether.body.responder.physics import RefusedError
from tether.body.responder.standard import (
    COMPRESSION,
    DONE,
    FOCUS_MODE,
    PROGRAM,
    STILL_MODE,
    Property,
    Reply,
    Standard,
    seconds_of,
)
from tether.exposure.marks import Mark

EXACT_TIME = 0xD100
LONG_EXPOSURE_NR = 0xD06B
_RAW, _RAW_AND_JPEG = 4, 7
_MANUAL, _APERTURE = 1, 3
_MANUAL_FOCUS, _AF = 1, 0x8010
#: Times whose label is a decimal, as this family writes them.
_FRACTIONS = {"0.3": (10, 30), "0.4": (10, 25), "0.5": (1, 2), "0.6": (10, 16), "0.8": (10, 13), "1.3": (13, 10)}


class Nikon(Standard):
    """See the module."""

    vendor, vendor_text = 0x0000_000A, ""
    model = "Simulated camera on the wire (N)"
    more_operations = (
        Op.NIKON_CHANGE_CAMERA_MODE,
        Op.NIKON_GET_EVENT,
        Op.NIKON_DEVICE_READY,
        Op.NIKON_CAPTURE_TO_CARD,
        Op.NIKON_TERMINATE_CAPTURE,
    )
    pushes = False
    can_bulb = True

    def more_handlers(self) -> dict[int, Callable[[Request], Reply]]:
        return {
            Op.NIKON_CHANGE_CAMERA_MODE: lambda _: DONE,
            Op.NIKON_GET_EVENT: lambda _: Reply(data=self._events()),
            Op.NIKON_DEVICE_READY: lambda _: Reply(code=self._ready()),
            Op.NIKON_CAPTURE_TO_CARD: self._capture_to_card,
            Op.NIKON_TERMINATE_CAPTURE: self._terminate,
        }

    def all_properties(self) -> list[Property]:
        physics = self.physics
        return [
            *super().all_properties(),
            self.dial_property("time", EXACT_TIME, "u32", exact_time),
            Property(
                code=PROGRAM,
                kind="u16",
                get=lambda: _MANUAL if physics.start.mode == "M" else _APERTURE,
                put=self._set_program,
                choices=lambda: (_MANUAL, _APERTURE),
            ),
            Property(
                code=FOCUS_MODE, kind="u16", get=lambda: _MANUAL_FOCUS if physics.start.focus == "manual" else _AF
            ),
            Property(code=STILL_MODE, kind="u16", get=lambda: 1, choices=lambda: (1, 2)),
            Property(
                code=COMPRESSION,
                kind="u8",
                get=lambda: _RAW_AND_JPEG if physics.two_files else _RAW,
                put=self._set_compression,
                choices=lambda: (_RAW, _RAW_AND_JPEG),
            ),
            Property(code=LONG_EXPOSURE_NR, kind="u8", get=lambda: int(physics.dark_frame), choices=lambda: (0, 1)),
        ]

    def _set_program(self, program: int | str, _at_ns: int) -> None:
        if program != self.properties[PROGRAM].get():
            raise RefusedError(Response.INVALID_STATUS)

    def _set_compression(self, compression: int | str, _at_ns: int) -> None:
        if compression not in (_RAW, _RAW_AND_JPEG):
            raise RefusedError(Response.INVALID_VALUE)
        self.physics.two_files = compression == _RAW_AND_JPEG

    def kept(self, code: int) -> None:
        self._told.append((int(Event.PROPERTY_CHANGED), code))

    def _capture_to_card(self, request: Request) -> Reply:
        if request.parameter(0) not in (0, 0xFFFF_FFFF) and self.physics.start.focus == "af":
            return Reply(code=Response.OUT_OF_FOCUS)
        self.physics.expose(request.at_ns)
        return DONE

    def _terminate(self, request: Request) -> Reply:
        return DONE if self.physics.close(request.at_ns) else Reply(code=Response.INVALID_STATUS)

    def _ready(self) -> Response:
        if self.physics.held_open:
            return Response.BULB_BUSY
        self.physics.look()
        return Response.BUSY if self.physics.busy() else Response.OK

    # Events are asked for

    _told: list[tuple[int, int]]

    def open_session(self, _request: Request) -> Reply:
        self._told = []
        return DONE

    def _events(self) -> bytes:
        self.physics.look()
        events = [*self._told, *self.event_codes(self.physics.due_news())]
        self._told = []
        return struct.pack("<H", len(events)) + b"".join(struct.pack("<HI", *event) for event in events)


def exact_time(mark: Mark) -> int:
    """Return a time as numerator and denominator in the halves of a number."""
    above, below = _FRACTIONS.get(mark.label) or _ratio(seconds_of(mark.label))
    return above << 16 | below


def _ratio(seconds: Fraction) -> tuple[int, int]:
    if seconds.denominator == 1 or seconds.numerator == 1:
        return seconds.numerator, seconds.denominator
    return int(seconds * 10), 10
