"""What is told to a camera on the wire beside its connection, and when it ends by itself."""

from __future__ import annotations

import socket
import threading
import time
from typing import Any

import pytest

from tether.body.protocol import SceneChange
from tether.body.responder.control import Control
from tether.body.wire import Wire, pack


class Camera:
    """The body and its server, in one."""

    def __init__(self) -> None:
        self.did: list[Any] = []
        self.mode, self.focus = "M", "manual"
        self.heard_ns = time.monotonic_ns()

    def stage(self, change: SceneChange) -> None:
        self.did.append(change)

    def press(self) -> None:
        self.did.append("pressed")

    def close(self) -> None:
        self.did.append("closed")


def control(camera: Camera) -> Any:
    """Return one without a socket of its own and without its threads."""
    bare: Any = Control.__new__(Control)
    bare._physics = bare._server = camera
    bare._heard_ns = time.monotonic_ns()
    return bare


class Line:
    """A line to it, heard in a thread until it ends."""

    def __init__(self, control: Any) -> None:
        ours, theirs = socket.socketpair()
        self._wire = Wire(ours)
        self._thread = threading.Thread(target=control._hear, args=(Wire(theirs),))
        self._thread.start()

    def ask(self, ask: str, *values: Any) -> None:
        self._wire.send({"id": 4, "ask": ask, "with": [pack(value) for value in values]})
        assert self._wire.receive_within(10) == {"id": 4, "answer": True}

    def end(self) -> None:
        self._wire.close()
        self._thread.join(10)


def test_what_the_person_does_is_passed_on_and_answered_when_it_is_done() -> None:
    camera = Camera()
    line = Line(control(camera))
    line.ask("stage", SceneChange(capped=True))
    line.ask("press")
    line.ask("dial", "Av")
    line.ask("focus", "af")
    line.end()
    assert camera.did[:2] == [SceneChange(capped=True), "pressed"]
    assert (camera.mode, camera.focus) == ("Av", "af")


def test_what_means_nothing_is_answered_and_changes_nothing() -> None:
    camera = Camera()
    line = Line(control(camera))
    for ask, values in (("dial", ("P",)), ("focus", ("M",)), ("stage", (3,)), ("press", (1,)), ("dance", ())):
        line.ask(ask, *values)
    line.end()
    assert camera.did == []
    assert (camera.mode, camera.focus) == ("M", "manual")


def test_it_goes_on_when_nobody_is_on_its_line_any_more() -> None:
    camera = Camera()
    visitor = Line(control(camera))
    visitor.ask("press")
    visitor.end()
    assert camera.did == ["pressed"]


def test_told_to_end_it_answers_and_ends() -> None:
    camera = Camera()
    line = Line(control(camera))
    line.ask("end")
    line.end()
    assert camera.did == ["closed"]


def test_a_line_that_is_garbled_ends_alone() -> None:
    camera = Camera()
    ours, theirs = socket.socketpair()
    with ours:
        ours.sendall(b"garbage\n")
        control(camera)._hear(Wire(theirs))
    assert camera.did == []


S_NS = 1_000_000_000


@pytest.mark.parametrize(("heard_s", "ends"), [(901, True), (899, False)])
def test_it_ends_when_nobody_was_heard_of_for_a_quarter_of_an_hour(
    heard_s: int, ends: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    camera = Camera()
    one = control(camera)
    one._heard_ns = camera.heard_ns = time.monotonic_ns() - heard_s * S_NS

    class EnoughError(Exception):
        pass

    looks = iter([None])

    def look(_for_s: float) -> None:
        if next(looks, EnoughError) is EnoughError:
            raise EnoughError

    monkeypatch.setattr("tether.body.responder.control.time.sleep", look)
    if ends:
        one._end_when_alone()
    else:
        with pytest.raises(EnoughError):
            one._end_when_alone()
    assert camera.did == (["closed"] if ends else [])


def test_a_client_that_is_heard_of_keeps_it_as_well_as_a_word_on_the_line(monkeypatch: pytest.MonkeyPatch) -> None:
    camera = Camera()
    one = control(camera)
    one._heard_ns -= 2000 * S_NS
    camera.heard_ns = time.monotonic_ns()
    looks: list[float] = []

    def look(for_s: float) -> None:
        looks.append(for_s)
        if len(looks) == 3:
            camera.heard_ns -= 2000 * S_NS

    monkeypatch.setattr("tether.body.responder.control.time.sleep", look)
    one._end_when_alone()
    assert len(looks) == 3
    assert camera.did == ["closed"]
