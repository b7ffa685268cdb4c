"""Whoever holds a link is served, however many connections strangers open and leave half said."""

from __future__ import annotations

import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import pytest

from tests.page.rig import SOON_S, Browser, FakeRun, Page
from tether.page import serving
from tether.page.crowd import Crowd

MANY = 200


def half_open(page: Page, count: int) -> Iterator[socket.socket]:
    """Open connections that begin a request and do not end it."""
    for _ in range(count):
        end = socket.create_connection(page.at, timeout=SOON_S)
        end.sendall(f"GET / HTTP/1.1\r\nHost: {page.host}\r\n".encode())
        yield end


def test_who_holds_a_link_is_served_beside_two_hundred_half_open_connections(page: Page, run: FakeRun) -> None:
    early = Browser.let_in(page)
    with early.events() as events, ExitStack() as stack:
        assert next(events)["link"]["state"] == "attached"
        ends = [stack.enter_context(end) for end in half_open(page, MANY)]
        late = Browser.let_in(page)
        assert late.say("pause").status == 200
        assert run.said.get(timeout=SOON_S) == "pause"
        assert early.say("go on").status == 200
        assert next(events) is not None, "who listened before still does"
        still_open = sum(is_open(end) for end in ends)
        assert still_open <= serving.MOST_STRANGERS


def test_who_holds_a_link_is_served_though_strangers_came_all_at_once_while_the_server_was_busy(page: Page) -> None:
    busy, free = threading.Event(), threading.Event()
    Browser.let_in(page)
    loop = page.server._loop
    assert loop is not None

    def work() -> None:
        busy.set()
        assert free.wait(SOON_S)

    loop.call_soon_threadsafe(work)
    assert busy.wait(SOON_S)
    with ExitStack() as stack:
        for _ in range(4 * MANY):
            end = stack.enter_context(socket.socket())
            end.setblocking(False)
            end.connect_ex(page.at)
        free.set()
        assert Browser.let_in(page).say("go on").status == 200


def is_open(end: socket.socket) -> bool:
    end.setblocking(False)
    try:
        return end.recv(1) != b""
    except BlockingIOError:
        return True
    except ConnectionError:
        return False


def test_a_stranger_s_connection_lasts_so_long_and_no_longer_however_it_drips(
    run: FakeRun, outing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serving, "STRANGER_S", 0.3)
    page = Page(outing)
    try:
        holder = Browser.let_in(page)
        with holder.events() as events:
            next(events)
            (end,) = half_open(page, 1)
            with end:
                until_s = time.monotonic() + SOON_S
                while drips(end):
                    assert time.monotonic() < until_s
            for _ in range(2):  # beats: it listens for longer than a stranger may
                next(events)
            assert holder.say("pause").status == 200
    finally:
        page.close()


def test_connections_on_which_encryption_was_not_agreed_are_strangers_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with closing(Page(tmp_path, tls=ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER))) as page, ExitStack() as stack:
        ends = [stack.enter_context(socket.create_connection(page.at, timeout=SOON_S)) for _ in range(MANY)]
        await_that(lambda: sum(map(is_open, ends)) <= serving.MOST_STRANGERS)
        monkeypatch.setattr(serving, "STRANGER_S", 0.3)
        last = stack.enter_context(socket.create_connection(page.at, timeout=SOON_S))
        await_that(lambda: not is_open(last))


def await_that(comes_true: Callable[[], bool]) -> None:
    until_s = time.monotonic() + SOON_S
    while not comes_true():
        assert time.monotonic() < until_s
        time.sleep(0.02)


def drips(end: socket.socket) -> bool:
    """Send one letter more; False where the other side has ended."""
    try:
        end.sendall(b"x")
    except ConnectionError:
        return False
    time.sleep(0.02)
    return is_open(end)


def test_the_oldest_of_the_address_that_has_most_goes() -> None:
    gone: list[tuple[str, int]] = []
    crowd = Crowd(3)

    def came(host: str, port: int) -> None:
        crowd.came((host, port), lambda: gone.append((host, port)))

    came("phone", 1)
    for port in (1, 2, 3, 4):
        came("flood", port)
    assert gone == [("flood", 1), ("flood", 2)]
    crowd.is_known(("phone", 1))
    crowd.drop(("phone", 1))
    crowd.is_known(("flood", 3))
    crowd.drop(("flood", 3))
    assert gone == [("flood", 1), ("flood", 2)]
    crowd.drop(("flood", 4))
    assert gone[-1] == ("flood", 4)
