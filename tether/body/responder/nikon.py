"""The dialect of Nikon bodies: captures that are waited for, and a shutter held until it is terminated."""

from __future__ import annotations

import struct
from fractions import Fraction

from tether.body.responder.card import Stored
from tether.body.responder.codes import Event, Op, RefusedError, Response
from tether.body.responder.faults import Call
from tether.body.responder.packets import Request
from tether.body.responder.parts import ALL_BITS, DONE, Handler, Property, Reply, seconds_of
from tether.body.responder.standard import Standard
from tether.exposure.marks import Mark

COMPRESSION, EXACT_TIME, LONG_EXPOSURE_NR, FRAMES_LEFT = 0x5004, 0xD100, 0xD06B, 0xD1F1
LIVE_VIEW, LIVE_VIEW_RATIO = 0xD1A2, 0xD1A3
_RAW, _RAW_AND_JPEG = 4, 7
#: What is 100 % on bodies of the table that the camera library reads on a network.
_WHOLE, _MAGNIFIED = 0, 5
_LIVE_HEAD_BYTES = 384
_NEARER = 1
#: So many of the lens's own steps are a nudge. Own choice.
_LENS_STEPS = 50
#: Times whose label is a decimal, as this family writes them.
_FRACTIONS = {"0.3": (10, 30), "0.4": (10, 25), "0.5": (1, 2), "0.6": (10, 16), "0.8": (10, 13), "1.3": (13, 10)}
_EXPOSES = (Op.NIKON_CAPTURE, Op.NIKON_CAPTURE_TO_RAM)


class Nikon(Standard):
    """See the module."""

    vendor = 0x0000_000A
    model = "Simulated camera on the wire (N)"
    events = (*Standard.events, Event.NIKON_ADDED_IN_RAM)
    can_bulb = True

    def more_handlers(self) -> dict[int, Handler]:
        self._ratio = _WHOLE
        self._area_px = (0, 0)
        return {
            Op.NIKON_START_LIVE_VIEW: lambda _: self.switch_live(on=True),
            Op.NIKON_END_LIVE_VIEW: lambda _: self.switch_live(on=False),
            Op.NIKON_GET_LIVE_VIEW: lambda _: self._live_picture(),
            Op.NIKON_DRIVE_FOCUS: self._drive_focus,
            Op.NIKON_CHANGE_AF_AREA: self._change_area,
            Op.NIKON_CHANGE_CAMERA_MODE: lambda _: DONE,
            Op.NIKON_GET_EVENT: lambda _: Reply(data=self._events()),
            Op.NIKON_DEVICE_READY: lambda _: Reply(code=self._ready()),
            Op.NIKON_CAPTURE: lambda request: self._capture(request, to_card=request.parameter(1) == 0),
            Op.NIKON_CAPTURE_TO_RAM: lambda request: self._capture(request, to_card=False),
            Op.NIKON_TERMINATE_CAPTURE: self._terminate,
            Op.NIKON_DELETE_RAM_IMAGE: self.delete,
        }

    def call_of(self, request: Request) -> Call | None:
        if request.code in _EXPOSES:
            return self.exposing_call()
        if request.code == Op.NIKON_TERMINATE_CAPTURE and self.physics.held_open:
            return "close"
        return "events" if request.code == Op.NIKON_GET_EVENT else super().call_of(request)

    def all_properties(self) -> list[Property]:
        physics = self.physics
        return [
            *super().all_properties(),
            self.dial_property("time", EXACT_TIME, "u32", exact_time),
            Property(
                code=COMPRESSION,
                kind="u8",
                get=lambda: _RAW_AND_JPEG if physics.card.two_files else _RAW,
                put=self._set_files,
                form=lambda: (_RAW, _RAW_AND_JPEG),
            ),
            Property(
                code=LONG_EXPOSURE_NR,
                kind="u8",
                get=lambda: int(physics.world.dark_frame_by_body),
                form=lambda: range(2),
            ),
            Property(code=FRAMES_LEFT, kind="u32", get=physics.frames_left),
            Property(code=LIVE_VIEW, kind="u8", get=lambda: int(physics.shows_live)),
            Property(
                code=LIVE_VIEW_RATIO,
                kind="u8",
                get=lambda: self._ratio,
                put=self._set_ratio,
                form=lambda: (_WHOLE, _MAGNIFIED),
            ),
        ]

    # Live view

    def _live_picture(self) -> Reply:
        """Return a picture as the family has it, behind a head of its own."""
        if not self.physics.shows_live:
            return Reply(code=Response.NIKON_NOT_IN_LIVE_VIEW)
        (x, y), (width, height) = self._area_px, self.physics.abilities.sensor_px
        at = None if self._ratio == _WHOLE else (x / width, y / height)
        return Reply(data=bytes(_LIVE_HEAD_BYTES) + self.physics.live_jpeg(at))

    def _set_ratio(self, ratio: int | str, _at_ns: int) -> None:
        if ratio not in (_WHOLE, _MAGNIFIED):
            raise RefusedError(Response.INVALID_VALUE)
        self._ratio = int(ratio)

    def _change_area(self, request: Request) -> Reply:
        if not self.physics.shows_live:
            return Reply(code=Response.NIKON_NOT_IN_LIVE_VIEW)
        self._area_px = request.parameter(0), request.parameter(1)
        return DONE

    def _drive_focus(self, request: Request) -> Reply:
        if not self.physics.shows_live:
            return Reply(code=Response.NIKON_NOT_IN_LIVE_VIEW)
        steps = max(round(request.parameter(1) / _LENS_STEPS), 1)
        way = -1 if request.parameter(0) == _NEARER else 1
        self.physics.nudge_focus(way * steps, refused=Response.NIKON_INVALID_STATUS)
        return DONE

    def _set_files(self, code: int | str, _at_ns: int) -> None:
        if code not in (_RAW, _RAW_AND_JPEG):
            raise RefusedError(Response.INVALID_VALUE)
        self.physics.card.two_files = code == _RAW_AND_JPEG

    def _capture(self, request: Request, *, to_card: bool) -> Reply:
        # The first parameter says how to focus: all bits set, or none, is not at all.
        if request.parameter(0) not in (0, ALL_BITS) and self.physics.focus == "af":
            return Reply(code=Response.NIKON_OUT_OF_FOCUS)
        self.physics.expose(request.at_ns, to_card=to_card)
        return DONE

    def _terminate(self, request: Request) -> Reply:
        return DONE if self.physics.close(request.at_ns) else Reply(code=Response.NIKON_INVALID_STATUS)

    def _ready(self) -> Response:
        if self.physics.held_open:
            return Response.NIKON_BULB_BUSY
        return Response.BUSY if self.physics.busy() else Response.OK

    def added_code(self, stored: Stored) -> int:
        return Event.NIKON_ADDED_IN_RAM if stored.in_memory else super().added_code(stored)

    def _events(self) -> bytes:
        events = self.due_events()
        return struct.pack("<H", len(events)) + b"".join(struct.pack("<HI", *event) for event in events)


def exact_time(mark: Mark) -> int | None:
    """Return a time as numerator and denominator in the halves of a number; None where they do not fit."""
    above, below = _FRACTIONS.get(mark.label) or _ratio(seconds_of(mark.label))
    return above << 16 | below if max(above, below) < 0xFFFF else None


def _ratio(seconds: Fraction) -> tuple[int, int]:
    if seconds.denominator == 1 or seconds.numerator == 1:
        return seconds.numerator, seconds.denominator
    return int(seconds * 10), 10
