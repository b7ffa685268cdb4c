"""One client, without a connection: what is answered within a session and outside of one, and in which order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest

from tether.body.responder import session as module
from tether.body.responder.codes import Op, Response
from tether.body.responder.faults import WireFault, WireTroubles
from tether.body.responder.packets import Request
from tether.body.responder.parts import DONE, Reply
from tether.body.responder.session import Session


@dataclass
class Camera:
    """The client's end, the body and what is spoken, all in one; `did` is what was done in order."""

    asks: list[int] = field(default_factory=list)
    replies: dict[int, Reply] = field(default_factory=dict)
    calls: dict[int, Any] = field(default_factory=dict)
    did: list[Any] = field(default_factory=list)
    troubles: WireTroubles = field(default_factory=lambda: WireTroubles(()))
    gone: bool = False

    # The end

    def request(self) -> Request:
        if not self.asks:
            raise EOFError
        code = self.asks.pop(0)
        return Request(code=code, transaction=100 + code % 100, parameters=(7,), data=b"", at_ns=code)

    def data(self, transaction: int, data: bytes) -> None:
        self.did.append(("data", data))

    def response(self, transaction: int, code: int, parameters: tuple[int, ...]) -> None:
        self.did.append((code, *parameters))

    def event(self, code: int, parameters: tuple[int, ...]) -> None:
        if self.gone:
            raise OSError
        self.did.append(("event", code, *parameters))

    def drop(self) -> None:
        self.did.append("drop")

    # The body

    def frame_of(self, call: object, handle: int) -> int:
        assert handle == 7
        return 3

    @property
    def record(self) -> Camera:
        return self

    def add(self, what: str, **facts: Any) -> None:
        self.did.append((what, facts["code"], facts["response"]))

    def write(self) -> None:
        self.did.append("written")

    # What is spoken

    def call_of(self, request: Request) -> Any:
        return self.calls.get(request.code)

    def begin(self) -> None:
        self.did.append("begun")

    def do(self, request: Request) -> Reply:
        self.did.append("done")
        return self.replies.get(request.code, DONE)


def sessions(camera: Camera) -> Session:
    parts: Any = camera
    return Session(parts, parts, parts)


def served(camera: Camera, *asks: int) -> Session:
    """Serve a client that asks these and is gone."""
    camera.asks = list(asks)
    session = sessions(camera)
    heard: list[int] = []
    with pytest.raises(EOFError):
        session.serve(heard.append)
    assert heard == list(asks)
    return session


def responses(camera: Camera) -> list[int]:
    return [entry[0] for entry in camera.did if isinstance(entry, tuple) and isinstance(entry[0], int)]


@pytest.fixture
def slept(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    slept: list[float] = []
    monkeypatch.setattr(module, "sleep", slept.append)
    return slept


def test_outside_of_a_session_only_who_it_is_is_told() -> None:
    camera = Camera()
    served(camera, Op.GET_STORAGE_IDS, Op.CLOSE_SESSION, Op.GET_DEVICE_INFO, Op.OPEN_SESSION, Op.GET_STORAGE_IDS)
    not_open, ok = Response.SESSION_NOT_OPEN, Response.OK
    assert responses(camera) == [not_open, not_open, ok, ok, ok]
    assert camera.did.count("done") == 2


def test_a_session_is_begun_once_and_anew_when_it_was_closed() -> None:
    camera = Camera()
    opening, closing = Op.OPEN_SESSION, Op.CLOSE_SESSION
    served(camera, opening, opening, closing, Op.GET_STORAGE_IDS, opening)
    ok = Response.OK
    assert responses(camera) == [ok, Response.SESSION_ALREADY_OPEN, ok, Response.SESSION_NOT_OPEN, ok]
    assert camera.did.count("begun") == 2


def test_data_go_before_the_response_and_the_record_is_written_after_it(slept: list[float]) -> None:
    reply = Reply(parameters=(5, 6), data=b"12", takes_s=0.5)
    camera = Camera(replies={Op.GET_OBJECT: reply})
    served(camera, Op.OPEN_SESSION, Op.GET_OBJECT)
    assert camera.did[4:] == [
        "done",
        ("data", b"12"),
        (Response.OK, 5, 6),
        ("operation", Op.GET_OBJECT, Response.OK),
        "written",
    ]
    assert slept == [0.0, 0.5]


def test_a_call_that_is_answered_busy_is_not_done(slept: list[float]) -> None:
    fault = WireFault(what="answers busy", at_frame=3, at_call="get", for_s=2.0)
    camera = Camera(calls={Op.GET_OBJECT: "get"}, troubles=WireTroubles((fault,)))
    served(camera, Op.OPEN_SESSION, Op.GET_OBJECT, Op.GET_OBJECT)
    assert responses(camera) == [Response.OK, Response.BUSY, Response.OK]
    assert camera.did.count("done") == 1
    assert sum(slept) == 2.0


def test_a_call_that_is_answered_late_is_done_before(slept: list[float]) -> None:
    fault = WireFault(what="answers late", at_call="get", for_s=2.0)
    camera = Camera(
        calls={Op.GET_OBJECT: "get"}, troubles=WireTroubles((fault,)), replies={Op.GET_OBJECT: Reply(takes_s=0.5)}
    )
    served(camera, Op.OPEN_SESSION, Op.GET_STORAGE_IDS, Op.GET_OBJECT)
    assert slept == [0.0, 0.0, 2.5]
    assert responses(camera) == [Response.OK] * 3


def test_events_are_told_one_by_one_and_to_nobody_who_is_gone() -> None:
    camera = Camera()
    session = sessions(camera)
    session.tell([(0x4002, 1), (0x400D, 0)])
    assert camera.did == [("event", 0x4002, 1), ("event", 0x400D, 0)]
    camera.gone = True
    session.tell([(0x4002, 2)])
    assert len(camera.did) == 2


def test_it_listens_from_its_opening_to_its_end() -> None:
    camera = Camera()
    session = sessions(camera)
    assert not session.listens
    listening: list[bool] = []
    do: Callable[[Request], Reply] = camera.do

    def noted(request: Request) -> Reply:
        listening.append(session.listens)
        return do(request)

    camera.do = noted  # type: ignore[method-assign]
    camera.asks = [Op.GET_DEVICE_INFO, Op.OPEN_SESSION, Op.GET_STORAGE_IDS]
    with pytest.raises(EOFError):
        session.serve(lambda _: None)
    assert listening == [False, True]
    assert not session.listens
    assert session.over.is_set()


def test_dropping_it_ends_what_it_is_connected_by() -> None:
    camera = Camera()
    sessions(camera).drop()
    assert camera.did == ["drop"]
