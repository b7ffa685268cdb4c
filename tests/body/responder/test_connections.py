"""A client's two connections: the second is its own and the only one, and both end together."""

from __future__ import annotations

import socket
import struct
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from tests.body.responder.client import packet, received
from tether.body.responder.connections import Connections
from tether.body.responder.packets import BrokenError


@dataclass(frozen=True)
class Ends:
    """Both connections, each end of them; `ours` are what the camera has."""

    ours: tuple[socket.socket, socket.socket]
    theirs: tuple[socket.socket, socket.socket]


@pytest.fixture
def ends() -> Iterator[Ends]:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        pairs = []
        for _ in range(2):
            theirs = socket.create_connection(listener.getsockname(), timeout=10)
            pairs.append((listener.accept()[0], theirs))
        yield Ends((pairs[0][0], pairs[1][0]), (pairs[0][1], pairs[1][1]))
        for end in (*pairs[0], *pairs[1]):
            end.close()


def test_events_go_out_on_the_second_connection_and_nowhere_before_it_is_there(ends: Ends) -> None:
    both = Connections(ends.ours[0], 7)
    both.event(0x4002, (1,))
    both.told_at(ends.ours[1], 7)
    both.event(0x4002, (2,))
    assert received(ends.theirs[1])[0] == 4  # the acknowledgement of the standard
    kind, payload = received(ends.theirs[1])
    assert (kind, struct.unpack_from("<H", payload)) == (8, (0x4002,))
    assert struct.unpack("<I", payload[-4:]) == (2,)


def test_answers_go_out_on_the_first(ends: Ends) -> None:
    both = Connections(ends.ours[0], 7)
    both.response(5, 0x2001, (3,))
    assert received(ends.theirs[0]) == (7, struct.pack("<HII", 0x2001, 5, 3))
    ends.theirs[0].sendall(packet(6, struct.pack("<IHI2I", 1, 0x1007, 5, 7, 8)))
    request = both.request()
    assert (request.code, request.transaction, request.parameters) == (0x1007, 5, (7, 8))


def test_another_clients_second_connection_is_refused_and_so_is_a_third(ends: Ends) -> None:
    both = Connections(ends.ours[0], 7)
    with pytest.raises(BrokenError):
        both.told_at(ends.ours[1], 8)
    both.told_at(ends.ours[1], 7)
    with pytest.raises(BrokenError):
        both.told_at(ends.ours[0], 7)


def test_a_client_is_waited_for_until_its_second_connection_and_then_has_time(ends: Ends) -> None:
    ends.ours[0].settimeout(3.0)
    both = Connections(ends.ours[0], 7)
    with pytest.raises(BrokenError, match="without a connection for events"):
        both.complete_within(0.0)
    both.told_at(ends.ours[1], 7)
    both.complete_within(0.0)
    assert ends.ours[0].gettimeout() is None


@pytest.mark.parametrize("complete", [True, False])
def test_what_is_dropped_is_reset_as_by_a_cable_that_is_pulled(ends: Ends, complete: bool) -> None:
    both = Connections(ends.ours[0], 7)
    if complete:
        both.told_at(ends.ours[1], 7)
        received(ends.theirs[1])
    both.drop()
    for ours, theirs in zip(ends.ours[: 1 + complete], ends.theirs, strict=False):
        ours.close()
        with pytest.raises(ConnectionResetError):
            theirs.recv(1)


def test_what_is_gone_already_can_be_dropped(ends: Ends) -> None:
    both = Connections(ends.ours[0], 7)
    ends.ours[0].close()
    both.drop()
