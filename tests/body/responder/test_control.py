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


def control(camera: Camera, *, outlives_keeper: bool = False) -> Any:
    """Return one without a socket of its own and without its threads."""
    bare: Any = Control.__new__(Control)
    bare._physics = bare._server = camera
    bare._outlives_keeper = outlives_keeper
    bare._keepers = 0
    bare._started_ns = bare._heard_ns = time.monotonic_ns()
    bare._lock = threading.Lock()
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


def test_it_ends_when_the_last_of_its_keepers_is_gone() -> None:
    camera = Camera()
    one = control(camera)
    first, second = Line(one), Line(one)
    first.ask("keep")
    first.ask("keep")  # one that asks again is still one
    second.ask("keep")
    first.end()
    assert camera.did == []
    second.end()
    assert camera.did == ["closed"]


def test_one_that_outlives_its_keepers_and_one_that_was_only_spoken_to_go_on() -> None:
    camera = Camera()
    line = Line(control(camera, outlives_keeper=True))
    line.ask("keep")
    line.end()
    visitor = Line(control(camera))
    visitor.ask("press")
    visitor.end()
    assert camera.did == ["pressed"]


def test_told_to_end_it_answers_and_ends() -> None:
    camera = Camera()
    line = Line(control(camera, outlives_keeper=True))
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


@pytest.mark.parametrize(
    ("started_s", "heard_s", "keepers", "outlives", "ends"),
    [
        (11, 0, 0, False, True),  # nobody has come to keep it
        (9, 0, 0, False, False),  # somebody may still come
        (11, 0, 1, False, False),
        (11, 0, 0, True, False),
        (2000, 901, 1, True, True),  # nobody was heard of for a quarter of an hour, whoever keeps it
        (2000, 899, 1, True, False),
    ],
)
def test_it_ends_when_nobody_keeps_it_or_is_heard_of(
    started_s: int, heard_s: int, keepers: int, outlives: bool, ends: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    camera = Camera()
    one = control(camera, outlives_keeper=outlives)
    now_ns = time.monotonic_ns()
    one._started_ns, one._keepers = now_ns - started_s * S_NS, keepers
    one._heard_ns = camera.heard_ns = now_ns - heard_s * S_NS

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
    one = control(camera, outlives_keeper=True)
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
