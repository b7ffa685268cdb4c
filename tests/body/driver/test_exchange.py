"""What camera library and body said, put together again from lines as the library writes them."""

from __future__ import annotations

import struct

from tests.body.driver.logged import container, transfers
from tether.body.driver.exchange import COMMAND, DATA, EVENT, RESPONSE, Line, Operation, Unasked, exchange_of


def test_an_operation_is_what_was_asked_and_what_was_answered() -> None:
    info = bytes(range(40))
    lines = transfers(
        ("to", container(COMMAND, 0x1008, struct.pack("<II", 7, 0xFFFF_FFFF))),
        ("from", container(DATA, 0x1008, info)),
        ("from", container(RESPONSE, 0x2001, struct.pack("<I", 5))),
    )
    (one,) = exchange_of(lines)
    assert isinstance(one, Operation)
    assert (one.code, one.parameters, one.got, one.sent) == (0x1008, (7, 0xFFFF_FFFF), info, None)
    assert (one.response, one.returned, one.at_s, one.took_s) == (0x2001, (5,), 0.0, 0.2)


def test_data_that_went_out_in_pieces_and_came_in_pieces_are_whole_again() -> None:
    out, back = container(DATA, 0x1016, b"a" * 700), container(DATA, 0x1016, b"b" * 900)
    lines = transfers(
        ("to", container(COMMAND, 0x1016)),
        ("to", out[:512]),
        ("to", out[512:]),
        ("from", back[:500]),
        ("from", back[500:]),
        ("from", b""),
        ("from", container(RESPONSE, 0x2001)),
    )
    (one,) = exchange_of(lines)
    assert isinstance(one, Operation)
    assert (one.sent, one.got, one.response) == (b"a" * 700, b"b" * 900, 0x2001)


def test_an_operation_that_was_never_answered_is_told_without_an_answer() -> None:
    lines = transfers(
        ("to", container(COMMAND, 0x9207)),
        ("to", container(COMMAND, 0x9116)),
        ("from", container(RESPONSE, 0x2001)),
        ("to", container(COMMAND, 0x1003)),
    )
    told = [(one.code, one.response) for one in exchange_of(lines) if isinstance(one, Operation)]
    assert told == [(0x9207, None), (0x9116, 0x2001), (0x1003, None)]


def test_what_the_body_told_unasked_is_told_in_its_place() -> None:
    event = container(EVENT, 0x4002, struct.pack("<I", 9))
    lines = transfers(("to", container(COMMAND, 0x100E)), ("from", container(RESPONSE, 0x2001)), ("interrupt", event))
    assert list(exchange_of(lines))[1:] == [Unasked(at_s=0.2, code=0x4002, parameters=(9,))]


def test_while_data_are_left_out_it_is_known_what_was_asked_and_no_more() -> None:
    said = (
        "Sending PTP_OC 0x9107 (EOS_GetPartialObject) (0x20000010,0x0,0x100000) request...",
        "Sending PTP_OC 0x9116 (EOS_GetEvent) request...",
        "Reading PTP_OC 0x9116 (EOS_GetEvent) response...",
    )
    resting = [Line(at_s=0.5, level=2, source="ptp_usb_sendreq", text=text, resting=True) for text in said]
    assert list(exchange_of(resting)) == [
        Operation(at_s=0.5, code=0x9107, parameters=(0x2000_0010, 0, 0x10_0000)),
        Operation(at_s=0.5, code=0x9116),
    ]
    # The same lines stand beside the data where those are not left out.
    assert list(exchange_of(Line(at_s=0.5, level=2, source="", text=text) for text in said)) == []


def test_bytes_that_begin_no_container_are_passed_over() -> None:
    lines = transfers(("to", container(COMMAND, 0x1001)), ("from", bytes(16)), ("from", container(RESPONSE, 0x2001)))
    assert [one.response for one in exchange_of(lines) if isinstance(one, Operation)] == [0x2001]
