"""What people read has the trade's words and plain English; the words that went out of use do not come back."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from tests.docs.sentences import Sentence, sentences

GLOSSARY = (Path(__file__).parents[2] / "docs" / "glossary.md").read_text(encoding="utf-8")
#: Words that were replaced, each with what is said now.
GONE = {
    r"(?<!view)finder\b": "viewfinder",
    r"\bburn(s|t|ed)?\b": "clipped",
    r"\breckon": "expected",
    r"\bgone on with\b": "resumed",
    r"\bgoes on\b": "continues",
    r"\b(can(not)? be had|not to be had)\b": "possible, not possible with this kit",
    r"\bmend(s|ed)?\b": "correct, repair",
    r"\bprice\b": "cost",
    r"\btint\b": "colour cast",
    r"\bfetched\b": "copied",
    r"^Home:|\b(comes?|brings?|bringing|is|are|not) home\b": "copied",
    r"\bproof\b": "test exposure",
    r"\bby leave of\b": "allowed by",
    r"\blooked at and\b": "checked",
    r"\b(is|are) meant\b": "did you mean",
    r"\bverdict\b": "result",
    r"\b(unasked|without goodbye|greeted)\b": "unexpectedly",
    r"\bis no (TOML|address|text|UTF-8|outing|socket)\b": "is not …",
    r"\btake the \w+ out\b": "remove",
    r"\bas it (now )?stands\b": "with its present settings",
}
#: Stored words, which stay: keys of plans, kinds of frames and turns, SQL, names in files.
STORED = re.compile(r"cover the finder|proof_over|-proof|INSERT|SELECT|CREATE|\bproof = |optical_finder")


@cache
def read() -> list[Sentence]:
    return [one for one in sentences() if not STORED.search(one.text)]


@pytest.mark.parametrize("word", GONE)
def test_no_text_has_a_word_that_went_out_of_use(word: str) -> None:
    pattern = re.compile(word, re.IGNORECASE)
    found = [f"{one.file}:{one.line} {one.text[:80]!r}" for one in read() if pattern.search(one.text)]
    assert not found, f"say {GONE[word]!r} instead"


def test_the_search_finds_what_it_looks_for() -> None:
    assert len(read()) > 1500
    assert any(one.file.startswith("page/static") for one in read())
    assert any("Work a ladder of exposures" in one.text for one in read()), "help is among them"


def test_the_glossary_tells_each_word_once_and_every_change() -> None:
    ours, stored, changes = GLOSSARY.split("\n## ")[0:3]
    words = [line.split("|")[1].strip() for line in ours.splitlines() if line.startswith("| ")][2:]
    assert len(words) == len(set(words)) >= 20
    assert stored.count("\n| ") >= 8
    rows = [re.split(r"(?<!\\)\|", line)[1:3] for line in changes.splitlines() if line.startswith("| ")][2:]
    assert len(rows) > 150
    assert [before for before, after in rows if before.strip() == after.strip()] == [], "it was not changed"
