"""Every kind of record goes to text and comes back equal; what could not come back is refused at the door."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import Any, Literal, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.journal.shown import readings
from tether.errors import LostError
from tether.journal.codec import decode, encode
from tether.journal.records import Applied, ApplyIntent, FrameRead, Kept, LadderEnded, Record, Steered, Turn

NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | NUMBERS | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
SIMPLE: dict[object, st.SearchStrategy[Any]] = {
    float: NUMBERS,
    int: st.integers(-(2**63), 2**63 - 1),
    str: st.text(),
    bool: st.booleans(),
    type(None): st.none(),
    dict[str, Any]: st.dictionaries(st.text(), PLAIN, max_size=4),
}


def values(hint: Any) -> st.SearchStrategy[Any]:
    """Anything that a field of this type may hold and JSON can say."""
    if hint in SIMPLE:
        return SIMPLE[hint]
    if get_origin(hint) is Literal:
        return st.sampled_from(get_args(hint))
    if get_origin(hint) is dict:
        return st.dictionaries(st.text(), values(get_args(hint)[1]), max_size=2)
    if get_origin(hint) is tuple:
        return st.lists(values(get_args(hint)[0]), max_size=1).map(tuple)
    if get_origin(hint) is list:
        return st.lists(values(*get_args(hint)), max_size=3)
    return st.one_of(*map(values, get_args(hint))) if get_args(hint) else records(hint)


def records(kind: type) -> st.SearchStrategy[Any]:
    names = {field.name for field in fields(kind)}
    return st.builds(kind, **{name: values(hint) for name, hint in get_type_hints(kind).items() if name in names})


@pytest.mark.parametrize("kind", [kind for kind in get_args(Record) if issubclass(kind, Kept)])
def test_every_kind_of_kept_record_comes_back_equal(kind: type) -> None:
    @given(records(kind))
    def comes_back(record: Any) -> None:
        back = decode(*encode(record))
        assert back == record
        assert type(back) is kind

    comes_back()


def test_text_is_kept_readable() -> None:
    assert encode(Steered(verb="pause", effect="Vänta på vågen")) == (
        "Steered",
        '{"verb":"pause","effect":"Vänta på vågen"}',
    )


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_refused(number: float) -> None:
    with pytest.raises(ValueError, match="JSON"):
        encode(ApplyIntent(frame=1, asked=Applied(time_s=number)))
    with pytest.raises(ValueError, match="JSON"):
        encode(FrameRead(frame=1, readings=readings(off_stops=number)))


def test_a_word_outside_its_list_is_refused() -> None:
    with pytest.raises(ValueError, match="outcome"):
        encode(LadderEnded(ladder=1, outcome="fine"))  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", ["Sneezed", "Turn 99"])
def test_a_kind_or_a_version_that_is_not_known_is_a_sentence(kind: str) -> None:
    with pytest.raises(LostError, match=f'kind "{kind}"'):
        decode(kind, "{}")


def test_a_row_of_an_earlier_version_is_brought_up() -> None:
    """As release 0.1 wrote them."""
    turn = decode("Turn", '{"ladder":1,"rung":1,"what":"cap on","reason":"","state":"asked","fitted":null}')
    assert turn == Turn(ladder=1, rung=1, what="cap on", reason="", state="asked")
    assert turn == decode("Turn 2", encode(turn)[1].replace("{", '{"picture":"readings/ladder-1.jpg",', 1))
    assert encode(turn)[0] == "Turn 3"
    assert decode("FrameRead", '{"frame":1,"readings":{},"problem":"?"}') == FrameRead(
        frame=1, readings=None, problem="?"
    )


def test_a_record_that_does_not_fit_its_kind_is_a_sentence() -> None:
    with pytest.raises(LostError, match='kind "Steered" in the journal cannot be read'):
        decode("Steered", '{"verb":1}')
