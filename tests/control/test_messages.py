"""The lines of the socket: every message comes back equal and fits the schema; what is no request gets a sentence."""

from __future__ import annotations

import json
from dataclasses import fields
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, ValidationError

from tests.control.socket_schema import made
from tests.journal.planned import a_ladder
from tests.journal.shown import entry, home
from tests.journal.test_codec import records
from tether.clock import AffineClock
from tether.control.commands import Verb
from tether.control.messages import (
    GREATEST_NUMBER,
    SCHEMA,
    SHOWN,
    Ask,
    Bye,
    Facts,
    GarbledMessageError,
    Hello,
    LineAnswer,
    Say,
    StreamEntry,
    decode,
    decode_request,
    encode,
    encode_request,
)
from tether.errors import LostError
from tether.journal.records import (
    FrameOpened,
    FrameSoFar,
    KeyTurn,
    LadderEnded,
    Mentioned,
    RungBegun,
    RungEnded,
    Said,
    SuppliesSeen,
    Turn,
)
from tether.journal.snapshot import Sentence, Snapshot

SOCKET = json.loads(files("tether").joinpath("schemas/socket.schema.json").read_text(encoding="utf-8"))
FACTS = Facts(outing="/outings/weir", title="Weir", simulated=True)
CLOCK = AffineClock(pace=60.0, origin_real_ns=5, origin_ns=7, origin_utc=datetime(2026, 10, 3, 16, 30, tzinfo=UTC))
FRAME = FrameSoFar(frame=None, name="weir_0009.dng", differs=("ISO 200",))
NUMBERS = st.none() | st.integers(0, GREATEST_NUMBER)
WORDS = st.sampled_from(get_args(Verb))

SNAPSHOTS = st.builds(
    Snapshot,
    stream=st.integers(0, 99),
    planned=st.sampled_from([None, a_ladder(rungs=[{"rung": 1}])]),
    rung=st.none() | records(RungBegun),
    rungs=st.lists(records(RungEnded), max_size=2).map(tuple),
    open=st.none() | records(FrameOpened),
    turn=st.none() | records(Turn) | records(KeyTurn),
    supplies=st.none() | records(SuppliesSeen),
    pending=st.lists(st.text(), max_size=2).map(tuple),
    said=st.lists(records(Sentence), max_size=2).map(tuple),
    frames=st.sampled_from([(), (FRAME,)]),
    over=st.none() | records(LadderEnded),
)


def valid(line: bytes, *, sent_by: str) -> Any:
    """Check a line by the schema of its direction and return its data."""
    assert line.endswith(b"\n")
    assert line.count(b"\n") == 1
    data = json.loads(line)
    Draft202012Validator({**SOCKET, "oneOf": [{"$ref": f"#/$defs/{sent_by}"}]}).validate(data)
    return data


@pytest.mark.parametrize("kind", SHOWN.values())
def test_every_kind_of_shown_record_comes_back_equal_and_fits_the_schema(kind: type) -> None:
    @given(records(kind))
    def comes_back(record: Any) -> None:
        told = StreamEntry(entry=entry(record, 7, seq=3))
        line = encode(told)
        valid(line, sent_by="from_run")
        assert decode(line) == told

    comes_back()
    names = {one.name for one in fields(kind)}
    assert set(SOCKET["$defs"][kind.__name__]["required"]) == names


@given(SNAPSHOTS, NUMBERS, st.booleans(), st.text())
def test_every_other_message_comes_back_equal_and_fits_the_schema(
    snapshot: Snapshot, to: int | None, flag: bool, text: str
) -> None:
    for message in (
        Hello(facts=FACTS, clock=CLOCK, snapshot=snapshot),
        Hello(facts=FACTS, clock=AffineClock(), snapshot=snapshot),
        LineAnswer(to=to, ok=flag, sentence=text, snapshot=snapshot if flag else None),
        Bye(sentence=text, again=flag),
    ):
        line = encode(message)
        valid(line, sent_by="from_run")
        assert decode(line) == message


@given(st.builds(Say, verb=WORDS, to=NUMBERS) | st.builds(Ask, to=NUMBERS))
def test_every_request_comes_back_equal_and_fits_the_schema(request: Say | Ask) -> None:
    line = encode_request(request)
    valid(line, sent_by="from_face")
    assert decode_request(line) == request


def test_the_schema_refuses_what_is_no_message() -> None:
    hello = json.loads(encode(Hello(facts=FACTS, clock=CLOCK, snapshot=Snapshot())))
    for wrong in (
        {**hello, "schema": "tether-socket/0"},
        {key: value for key, value in hello.items() if key != "clock"},
        json.loads(encode(StreamEntry(entry=entry(Said(about="note", text=""))))) | {"record": "FrameOpened"},
        {"say": "sneeze"},
        {"say": "pause", "loudly": True},
    ):
        with pytest.raises(ValidationError):
            Draft202012Validator(SOCKET).validate(wrong)


def test_the_lines_are_as_promised() -> None:
    assert encode(StreamEntry(entry=entry(Mentioned(about="note", text="å"), 3))).decode() == (
        '{"kind":"record","stream":3,"seq":null,"utc":"2026-10-03T12:00:00.000000+00:00","mono_ns":7,"boot":null,'
        '"record":"Mentioned","data":{"about":"note","text":"å"}}\n'
    )
    assert encode_request(Say(verb="close and keep", to=4)) == b'{"say":"close and keep","to":4}\n'
    assert json.loads(encode(Hello(facts=FACTS, clock=CLOCK, snapshot=Snapshot())))["schema"] == SCHEMA


def test_a_name_that_utf_8_cannot_say_harms_nothing() -> None:
    told = decode(encode(StreamEntry(entry=entry(home(1, "a\udcff.dng")))))
    assert told == StreamEntry(entry=entry(home(1, "a?.dng")))


@pytest.mark.parametrize(
    ("line", "to", "sentence"),
    [
        (b"", None, "not JSON"),
        (b"\xff\xfe", None, "not JSON"),
        (b"[" * 60_000, None, "not JSON"),
        (b"[1]", None, "not an object"),
        (b"{}", None, '"say" or "ask"'),
        (b'{"say":"pause","ask":"snapshot","to":3}', 3, '"say" or "ask"'),
        (b'{"say":"sneeze","to":3}', 3, '"sneeze" is not a word to a run; allowed: "answer",'),
        (b'{"say":["pause"],"to":3}', 3, "is not a word to a run"),
        (b'{"ask":"the way","to":3}', 3, 'allowed: "snapshot"'),
        (b'{"say":"pause","loudly":true,"to":3}', 3, '"loudly" is not a key'),
        (b'{"say":"pause","to":-1}', None, '"to" is -1; it must be a whole number'),
        (b'{"say":"pause","to":true}', None, '"to" is True; it must be a whole number'),
        (b'{"say":"pause","to":1.0}', None, '"to" is 1.0; it must be a whole number'),
    ],
)
def test_what_is_no_request_is_told_what_is_wrong_and_what_would_do(line: bytes, to: int | None, sentence: str) -> None:
    with pytest.raises(GarbledMessageError) as caught:
        decode_request(line)
    assert sentence in caught.value.sentences[0]
    assert '{"say": WORD, "to": NUMBER}' in caught.value.sentences[1]
    assert caught.value.to == to


def test_words_are_understood_in_any_case_and_spacing() -> None:
    assert decode_request(b'{"say": " Close  AND keep "}') == Say(verb="close and keep")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text() | WORDS,
    lambda inner: st.lists(inner) | st.dictionaries(st.sampled_from(["say", "ask", "to"]) | st.text(), inner),
    max_leaves=6,
)


@given(st.binary() | JSON.map(lambda value: json.dumps(value).encode()))
def test_any_bytes_are_a_request_or_get_a_short_sentence(line: bytes) -> None:
    try:
        request = decode_request(line)
    except GarbledMessageError as error:
        assert all(0 < len(sentence) < 500 for sentence in error.sentences)  # noqa: PT017 - either is right
    else:
        valid(encode_request(request), sent_by="from_face")


@pytest.mark.parametrize(
    "line", [b"", b"{}", b"3", b'{"kind":"sneeze"}', b'{"kind":"record","stream":1,"record":"Sneeze","data":{}}']
)
def test_a_run_that_cannot_be_understood_is_a_sentence(line: bytes) -> None:
    with pytest.raises(LostError, match="another version"):
        decode(line)


def test_the_schema_is_made_of_what_is_shown() -> None:
    """Else: python -m tests.control.socket_schema"""
    assert made() == SOCKET


def test_what_is_private_is_not_shown() -> None:
    """The card's list, the plan's text, serial numbers: in records that are only kept."""
    private = {"RunStarted", "LadderStarted", "CardListed", "Noted", "ApplyIntent", "ExposeIntent", "FetchIntent"}
    assert not private & SHOWN.keys()
    fields_shown = {one.name for kind in SHOWN.values() for one in fields(kind)}
    assert not fields_shown & {"plan_text", "files", "serial", "camera", "latitude", "longitude", "folder"}
