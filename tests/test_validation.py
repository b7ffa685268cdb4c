"""Mistakes in files as sentences: where, which key, which value, and what would be allowed."""

from __future__ import annotations

from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from tether.errors import PlanError
from tether.validation import LONGEST_SHOWN, key_path, key_sentence, key_sentences, line_of, read_toml


class Glass(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)

    name: str = "x"
    stops: Annotated[float, Field(gt=0, le=30)] = 1.0
    count: int = 1
    slots: Annotated[list[int], Field(min_length=1, max_length=3)] = [1]
    on: bool = True
    kind: Literal["nd", "graduated"] = "nd"
    odd: int = 1

    @field_validator("odd")
    @classmethod
    def _is_odd(cls, value: int) -> int:
        if value % 2 == 0:
            raise ValueError("must be odd, as feet are not")
        return value


class Bag(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)

    title: str
    filter: list[Glass] = []


def sentences(**keys: object) -> list[str]:
    """Return what is wrong with the second filter of a bag."""
    with pytest.raises(ValidationError) as raised:
        Bag.model_validate({"title": "A", "filter": [{}, keys]})
    return key_sentences("bag.toml", raised.value, Glass.model_fields)


@pytest.mark.parametrize(
    ("location", "path"),
    [(("title",), "title"), (("filter", 1, "stops"), "filter[2].stops"), (("a", "b", 0), "a.b[1]"), ((), "")],
)
def test_a_place_is_written_as_people_count(location: tuple[int | str, ...], path: str) -> None:
    assert key_path(location) == path


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"stops": "six"}, '.stops = "six": must be a number.'),
        ({"stops": -3.0}, ".stops = -3.0: must be more than 0.0."),
        ({"stops": 31.0}, ".stops = 31.0: must be at most 30.0."),
        ({"count": True}, ".count = true: must be a whole number."),
        ({"count": 1.5}, ".count = 1.5: must be a whole number."),
        ({"name": 3}, ".name = 3: must be a text in quotes."),
        ({"on": "yes"}, '.on = "yes": must be true or false.'),
        ({"slots": []}, ".slots: must have at least 1 entry."),
        ({"slots": [1, 2, 3, 4]}, ".slots: must have at most 3 entries."),
        ({"slots": 3}, ".slots = 3: must be a list in [ ]."),
        ({"kind": "pink"}, ".kind = \"pink\": is not a choice; allowed: 'nd' or 'graduated'."),
        ({"odd": 2}, ".odd = 2: must be odd, as feet are not."),
        ({"stps": 3}, '.stps: is not a key that is known here; did you mean "stops"?'),
        ({"colour": 3}, ".colour: is not a key that is known here."),
    ],
)
def test_a_mistake_names_file_key_value_and_what_would_be_allowed(keys: dict[str, object], said: str) -> None:
    assert sentences(**keys) == [f"bag.toml: filter[2]{said}"]


def test_every_mistake_is_told_in_the_order_of_the_file() -> None:
    with pytest.raises(ValidationError) as raised:
        Bag.model_validate({"filter": [{"stops": 0.0}, 3]})
    assert key_sentences("bag.toml", raised.value) == [
        "bag.toml: title: is missing; it must be given.",
        "bag.toml: filter[1].stops = 0.0: must be more than 0.0.",
        "bag.toml: filter[2] = 3: must be a table of keys.",
    ]


def test_a_value_that_is_long_is_cut_short() -> None:
    (sentence,) = sentences(stops="x" * 100)
    assert sentence == f'bag.toml: filter[2].stops = "{"x" * LONGEST_SHOWN}…": must be a number.'


def test_a_mistake_may_lie_under_another_key() -> None:
    with pytest.raises(ValidationError) as raised:
        Glass.model_validate({"stops": 0.0})
    (error,) = raised.value.errors()
    assert key_sentence("a.toml", error, under=("filter", 0)).startswith("a.toml: filter[1].stops = 0.0:")


def test_a_table_of_several_is_found_by_its_line() -> None:
    text = (
        'title = "A"\n[[filter]]\nname = "x"\n[[turn]]\nname = "y"\n  [[ filter ]]  # the other\non = true\n"stops"=3\n'
    )
    assert [line_of(text, "filter", 0, "name"), line_of(text, "filter", 0, "on")] == [3, 2]
    assert [line_of(text, "filter", 1, "stops"), line_of(text, "filter", 1, None)] == [8, 6]
    assert line_of(text, "filter", 2, "stops") is None


def test_a_text_that_is_no_toml_says_where_and_how_it_is_written() -> None:
    assert read_toml('a = "b"', "a.toml") == {"a": "b"}
    with pytest.raises(PlanError, match=r"a\.toml: this is not TOML.*line 1.*Texts stand in quotes"):
        read_toml("a = b", "a.toml")


@pytest.mark.parametrize("text", [f"a = {'9' * 5000}", f"a = {'[' * 5000}{']' * 5000}"])
def test_a_number_or_nesting_beyond_all_sense_is_told_too(text: str) -> None:
    with pytest.raises(PlanError, match=r"a\.toml: a number or a nesting in this file is too large"):
        read_toml(text, "a.toml")
