"""Text from plans, cameras and file names does no harm at any edge: terminal, desk, SVG, tables, JSON."""

from __future__ import annotations

import asyncio
import csv
import io
import json
import unicodedata
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console
from rich.text import Text
from textual.app import App, ComposeResult

from tests.journal.outings import PLANNED, as_entries, weir
from tether.desk.widgets import Head, Lines, TextLine
from tether.journal.records import LadderStarted
from tether.journal.telling import tell
from tether.report.export import csv_bytes, json_bytes
from tether.report.harmless import cell, json_text, plain, plain_data, xml_text
from tether.report.ladder_picture import ladder_picture
from tether.report.printed import Harmless

#: Steals the clipboard, clears the screen, changes the title; C1; direction of writing; a name that is no UTF-8.
HOSTILE = [
    "\x1b]52;c;ZXZpbA==\x07",
    "\x1b[2J\x1b[H",
    "\x1b]0;title\x1b\\",
    "\x9b31m",
    "\x08\x08\x7f",
    "weir\r\x1b[1A",
    "\u202egpj.exe",
    "\u2066\u2069",
    "outing\udcff",
    "\u2028",
]
#: Everything, lone surrogates too.
ANY = st.text(alphabet=st.characters(), max_size=40)
FORMULAS = ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "  =HYPERLINK(1)", "＝1+1", "=-0.3"]
NUMBERS = ["-0.3", "+1", "-12", "1e-3", "-.5", "-3.", "+2.5E+10"]


def steers(text: str) -> bool:
    """Say whether a terminal would take anything in a text for more than letters, tabs and ends of lines."""
    harmful = {"Cc", "Cs", "Zl", "Zp"}
    turning = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
    return any((unicodedata.category(one) in harmful and one not in "\n\t") or one in turning for one in text)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_told_by_signs_in_a_terminal(text: str) -> None:
    assert not steers(plain(text))
    assert len(plain(text)) == len(text)


@given(ANY)
def test_any_text_is_harmless_in_a_terminal_and_ordinary_text_stays(text: str) -> None:
    assert not steers(plain(text))
    plain(text).encode()
    if not steers(text):
        assert plain(text) == text


def test_what_is_printed_on_a_terminal_that_is_not_ours_is_harmless_too() -> None:
    page = Console(file=io.StringIO())
    page.print(Harmless(Text(HOSTILE[0])))
    assert not steers(page.file.getvalue())  # type: ignore[attr-defined]


def test_the_desk_shows_it_harmless() -> None:
    class Bench(App[None]):
        CSS = "Head, Line { height: 1; }"

        def compose(self) -> ComposeResult:
            yield Head()
            yield TextLine("".join(HOSTILE), id="line")
            yield Lines(id="lines")

    async def sit() -> str:
        bench = Bench()
        async with bench.run_test(size=(100, 12)) as pilot:
            bench.query_one(Head).say("".join(HOSTILE), "[bold]x[/bold]")
            bench.query_one(Lines).say(HOSTILE)
            bench.query_one(Lines).say(HOSTILE)
            await pilot.pause()
            strips = bench.screen._compositor.render_strips()
            return "\n".join(segment.text for strip in strips for segment in strip)

    shown = asyncio.run(sit())
    assert "␛[2J" in shown
    assert "[bold]x[/bold]" in shown
    assert not steers(shown)


@given(ANY)
def test_any_text_can_stand_in_a_picture_and_comes_out_as_it_is_told(text: str) -> None:
    element = ET.Element("text")
    element.text = xml_text(text)
    written = ET.tostring(element, encoding="unicode")
    assert (ET.fromstring(written).text or "").replace("\r", "\n") == xml_text(text)  # noqa: S314 - our own


def test_a_plan_s_title_and_filters_are_no_part_of_a_picture_s_markup() -> None:
    evil = '</text><script>alert(1)</script>&"' + "".join(HOSTILE)
    first, *rungs = PLANNED.rungs
    turn, *turns = PLANNED.turns
    planned = replace(
        PLANNED,
        plan=evil,
        rungs=(replace(first, filters=(evil,)), *rungs),
        turns=(replace(turn, what=evil), *turns),
    )
    root = ET.fromstring(ladder_picture(planned))  # noqa: S314 - our own
    assert not [one for one in root.iter() if one.tag.endswith("script")]
    assert xml_text(evil) in [one.text for one in root.iter()]


@pytest.mark.parametrize("text", FORMULAS)
def test_a_formula_is_text_in_a_cell(text: str) -> None:
    assert cell(text).startswith("'")


@pytest.mark.parametrize("text", [*NUMBERS, "1/125", "bulb", "", "Calder 10", "a=b", "frames/L1_R01.dng"])
def test_numbers_and_words_stay_as_they_are_in_a_cell(text: str) -> None:
    assert cell(text) == text


@given(ANY)
def test_no_cell_begins_as_a_formula_does(text: str) -> None:
    told = cell(text)
    first = told.lstrip()[:1]
    assert told[:1] not in ("\t", "\r")
    if first in tuple("=+-@＝＋－＠"):
        float(told)


@given(ANY)
def test_json_is_the_same_data_and_can_always_be_written(text: str) -> None:
    written = json_text({"a": text})
    assert json.loads(written) == {"a": text}
    assert not steers(written)
    written.encode()
    assert not steers(plain_data({"a": [text, {"b": (text,)}], "c": 1.5})["a"][1]["b"][0])


def test_an_outing_of_hostile_texts_is_exported() -> None:
    records = [
        LadderStarted(ladder=one.ladder, title="=1+1\x1b[2J", plan_text="", planned=one.planned)
        if isinstance(one, LadderStarted)
        else one
        for one in weir()
    ]
    told = tell(as_entries(records), name="outing\udcff", running=False)
    rows = list(csv.DictReader(io.StringIO(csv_bytes(told).decode(), newline="")))
    assert {row["title"] for row in rows} == {"'=1+1␛[2J"}
    assert {row["outing"] for row in rows} == {"outing�"}
    assert any(row["brighter than planned [stops]"].startswith("-") for row in rows)
    assert json.loads(json_bytes(told))["outing"] == "outing\udcff"
