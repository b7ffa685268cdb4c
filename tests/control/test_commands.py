"""What a person can say: verbs, their keys, and how they are written out."""

from __future__ import annotations

from typing import get_args

import pytest

from tether.command.talk import key_help
from tether.control.commands import WORDS, Verb, verb_of_key, verb_of_words


def test_keys_and_verbs_are_one_to_one() -> None:
    assert len({word.key for word in WORDS}) == len(WORDS)
    for word in WORDS:
        assert verb_of_key(word.key) == word.verb
        assert verb_of_words(f" {word.verb.upper()} ") == word.verb
        assert word.does in key_help()
    assert verb_of_key("?") is None


@pytest.mark.parametrize("key", [" ", "\r", "\n"])
def test_space_and_enter_answer(key: str) -> None:
    assert verb_of_key(key) == "answer"


def test_a_key_is_told_from_its_capital() -> None:
    """Dropping everything is on a capital, so that it is not said by a slip."""
    assert verb_of_key("X") == "drop everything"
    assert verb_of_key("x") is None


@pytest.mark.parametrize(
    ("text", "verb"), [("  Close   and KEEP ", "close and keep"), ("go on", "go on"), ("fly", None), ("", None)]
)
def test_a_verb_is_read_in_any_case_and_spacing(text: str, verb: str | None) -> None:
    assert verb_of_words(text) == verb


def test_every_verb_has_its_word_and_those_for_an_open_shutter_are_marked() -> None:
    assert {word.verb for word in WORDS} == set(get_args(Verb))
    assert {word.verb for word in WORDS if word.while_open} == {"longer", "shorter", "close and keep"}
