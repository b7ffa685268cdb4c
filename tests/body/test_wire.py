"""The line: what crosses it whole, and what it does with lines that are none of ours."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tether.body import wire
from tether.body.protocol import (
    CardFile,
    Changed,
    Ended,
    Failed,
    Finding,
    Identity,
    Offers,
    Opened,
    Order,
    ReadBack,
    Remark,
    SceneChange,
    Settings,
    ShutterRecord,
    Status,
)
from tether.body.stamps import Stamps
from tether.body.wire import GarbledError, Wire, pack, packed_error, unpack, unpacked_error
from tether.errors import BusyError, CameraError, LostError, PlanError, SupplyError, TetherError

RECORDS = st.one_of(
    *(
        st.from_type(record)
        for record in (
            CardFile,
            Changed,
            Ended,
            Failed,
            Finding,
            Identity,
            Offers,
            Opened,
            ShutterRecord,
            Order,
            ReadBack,
            Remark,
            Settings,
            SceneChange,
            Stamps,
            Status,
        )
    )
)


def same(value: object) -> object:
    """Return a value as text, because a float that is no number equals nothing."""
    return repr(value)


@given(record=RECORDS, others=st.lists(RECORDS, max_size=3))
def test_every_record_crosses_whole(record: object, others: list[object]) -> None:
    sent = (record, tuple(others))
    assert same(unpack(json.loads(json.dumps(pack(sent))))) == same(sent)


@pytest.mark.parametrize("kind", [PlanError, CameraError, SupplyError, BusyError, LostError])
def test_errors_cross_with_their_kind_and_sentences(kind: type[TetherError]) -> None:
    crossed = unpacked_error(json.loads(json.dumps(packed_error(kind("One.", "Two.")))))
    assert type(crossed) is kind
    assert crossed.sentences == ("One.", "Two.")


@pytest.mark.parametrize("data", [{"is": "Nothing"}, {"is": "Order"}, {"is": "Order", "frame": 1, "wrong": 2}])
def test_data_that_is_no_record_of_ours_is_refused(data: object) -> None:
    with pytest.raises(GarbledError):
        unpack(data)


@pytest.mark.parametrize("data", [None, [], {"kind": "busy"}, {"kind": "busy", "sentences": 5}])
def test_data_that_is_no_error_of_ours_is_refused(data: object) -> None:
    with pytest.raises(GarbledError):
        unpacked_error(data)


@pytest.fixture
def ends() -> Iterator[tuple[socket.socket, Wire]]:
    theirs, ours = socket.socketpair()
    with theirs:
        line = Wire(ours)
        yield theirs, line
        line.close()


def test_messages_come_whole_however_they_are_cut(ends: tuple[socket.socket, Wire]) -> None:
    theirs, line = ends
    theirs.sendall(b'{"a": ')
    assert line.receive_within(0.0) is None
    theirs.sendall(b'1}\n{"b": 2}\n{"c"')
    assert line.receive_within(0.0) == {"a": 1}
    assert line.receive() == {"b": 2}
    assert line.receive_within(0.0) is None


def test_a_bad_line_spoils_only_itself(ends: tuple[socket.socket, Wire]) -> None:
    theirs, line = ends
    theirs.sendall(b'\xff\xfe not JSON\n[1, 2]\n{"a": 1}\n')
    for _ in range(2):
        with pytest.raises(GarbledError):
            line.receive()
    assert line.receive() == {"a": 1}


def test_a_line_without_end_is_given_up(ends: tuple[socket.socket, Wire], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wire, "LONGEST_LINE", 100)
    theirs, line = ends
    theirs.sendall(b"x" * 101)
    with pytest.raises(GarbledError, match="more than 100 bytes"):
        line.receive()


def test_the_end_of_the_line_is_told(ends: tuple[socket.socket, Wire]) -> None:
    theirs, line = ends
    theirs.close()
    with pytest.raises(EOFError):
        line.receive_within(1.0)
    with pytest.raises(OSError, match="Broken pipe"):
        line.send({"a": 1})
