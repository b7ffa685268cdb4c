"""What happens beside a client: when it is dropped, when frames are looked for, and to whom events go."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import Any

import pytest

from tether.body.responder.watch import Watch
from tether.errors import SupplyError


@dataclass
class Camera:
    """The body, its card, what is spoken and the client's session, all in one; `did` is what was done in order."""

    drop_at_ns: int | None = None
    away: bool = False
    pushes: bool = True
    listens: bool = True
    events: list[tuple[int, int]] = field(default_factory=lambda: [(0x4002, 1)])
    did: list[Any] = field(default_factory=list)
    errors: int = 0
    over: threading.Event = field(default_factory=threading.Event)

    def watch(self) -> None:
        self.did.append("watched")

    def dropped(self) -> None:
        self.did.append("cable pulled")

    def gone(self) -> bool:
        return self.away

    @property
    def card(self) -> Camera:
        return self

    def look(self) -> None:
        self.did.append("card")
        if self.errors:
            self.errors -= 1
            raise SupplyError("The disk is full.")
        self.over.set()

    def due_events(self) -> list[tuple[int, int]]:
        self.did.append("asked")
        return self.events

    def drop(self) -> None:
        self.did.append("dropped")

    def tell(self, events: list[tuple[int, int]]) -> None:
        self.did.append(events)


def looked(camera: Camera, *, client: bool = True) -> list[Any]:
    """Look once, and return what was done."""
    parts: Any = camera
    watch = Watch(parts, parts)
    watch.session = parts if client else None
    watch._look()
    return camera.did


def test_frames_are_looked_for_and_news_go_to_who_listens() -> None:
    assert looked(Camera()) == ["watched", "card", "asked", [(0x4002, 1)]]


@pytest.mark.parametrize("client", [True, False])
def test_news_while_nobody_listens_are_taken_and_lost(client: bool) -> None:
    assert looked(Camera(listens=False), client=client) == ["watched", "card", "asked"]


def test_a_dialect_that_is_asked_for_events_keeps_them() -> None:
    assert looked(Camera(pushes=False)) == ["watched", "card"]


def test_the_cable_is_pulled_at_its_moment_whoever_is_there() -> None:
    past, yet_to_come = 1, 2**62
    assert looked(Camera(drop_at_ns=past, pushes=False)) == ["watched", "cable pulled", "dropped", "card"]
    assert looked(Camera(drop_at_ns=past, pushes=False), client=False) == ["watched", "cable pulled", "card"]
    assert looked(Camera(drop_at_ns=yet_to_come, pushes=False)) == ["watched", "card"]


def test_a_body_that_is_gone_takes_its_client_with_it() -> None:
    assert looked(Camera(away=True, pushes=False)) == ["watched", "dropped", "card"]
    assert looked(Camera(away=True, pushes=False), client=False) == ["watched", "card"]


def test_what_goes_wrong_is_said_and_it_looks_again(capfd: pytest.CaptureFixture[str]) -> None:
    camera = Camera(errors=1, pushes=False)
    parts: Any = camera
    thread = threading.Thread(target=Watch(parts, parts).until, args=(camera.over,))
    thread.start()
    thread.join(10)
    assert camera.did == ["watched", "card"] * 2
    assert capfd.readouterr().err == "The disk is full.\n"
