"""The pieces of the screens, without a screen: a head that keeps its mark, lines that keep theirs, keys for verbs."""

from __future__ import annotations

from typing import Any

import pytest
from textual.content import Content
from textual.geometry import Size

from tether.control.commands import WORDS
from tether.desk.widgets import Head, Key, Keys, Large, Lines, TextLine, steering


def sized(kind: type[Any], columns: int, rows: int = 1) -> Any:
    """Return a kind of widget that has a size without a screen."""

    class Sized(kind):  # type: ignore[misc]
        refreshed = 0

        @property
        def size(self) -> Size:
            return Size(columns, rows)

        def refresh(self, *_: Any, **__: Any) -> Any:
            self.refreshed += 1
            return self

    return Sized


def drawn(widget: Any) -> str:
    content = widget.render()
    assert isinstance(content, Content)
    return content.plain


@pytest.mark.parametrize(
    ("columns", "what", "line"),
    [
        (30, "Weir", " Weir              SIMULATED "),
        (30, "Weir below the old mill", " Weir below the o…  SIMULATED "),
        (34, "Weir below the old mill  |  log", " Weir below t…  |  log  SIMULATED "),
        (16, "Weir", " We…  SIMULATED "),
    ],
)
def test_the_mark_keeps_its_room_and_what_it_is_about_is_cut(columns: int, what: str, line: str) -> None:
    head = sized(Head, columns)()
    head.say(what, "SIMULATED")
    shown = drawn(head)
    assert shown.endswith("  SIMULATED ")
    assert shown.split() == line.split()
    assert len(shown) == columns


def test_a_head_is_drawn_anew_only_where_it_says_something_else() -> None:
    head = sized(Head, 40)()
    before = head.refreshed
    for what in ("Weir", "Weir", "Mill"):
        head.say(what, "")
    assert head.refreshed - before == 2


def test_text_that_would_steer_the_terminal_is_shown_by_signs() -> None:
    head = sized(Head, 60)()
    head.say("\x1b[2J", "")
    assert "\x1b" not in drawn(head)
    large = sized(Large, 3, 1)("")
    large.say("\x07")
    assert large.text == "␇"


def test_a_large_text_is_drawn_where_there_is_room_and_else_left_to_plain_letters() -> None:
    small, big = sized(Large, 4, 1)("12:05"), sized(Large, 60, 8)("12:05")
    assert drawn(small) == "12:05"
    assert "12:05" not in drawn(big)
    assert len(drawn(big).splitlines()) > 1


def test_an_empty_line_takes_no_room() -> None:
    line = TextLine("something")
    shown = [line.display]
    line.say("")
    assert [*shown, line.display, line.text] == [True, False, ""]


def test_the_marked_line_stays_marked_as_far_as_there_are_so_many() -> None:
    lines = Lines(id="x")
    marked = [lines.highlighted]
    for said in (["a", "b", "c"], ["a", "b", "d", "e"], ["a", "b"], []):
        lines.say(said)
        marked.append(lines.highlighted)
        if len(said) == 3:
            lines.highlighted = 2
    assert marked == [None, 0, 2, 1, None]


def test_verbs_are_offered_on_their_own_keys_and_a_click_says_them() -> None:
    by_verb = {word.verb: word.key for word in WORDS}
    assert steering("pause", "close and keep") == [
        Key(key=by_verb["pause"], label="pause", action="app.say('pause')"),
        Key(key=by_verb["close and keep"], label="close and keep", action="app.say('close and keep')"),
    ]


@pytest.mark.parametrize(
    ("columns", "lines"),
    [
        # Each is its key, a space and its label: 7, 10 and 11 columns, two between; two are left free.
        (40, ["a again  space done  ^q leave it"]),
        (24, ["a again  space done", "^q leave it"]),
        (12, ["a again", "space done", "^q leave it"]),
    ],
)
def test_keys_stand_beside_each_other_as_far_as_there_is_room_and_stay_with_their_meaning(
    columns: int, lines: list[str]
) -> None:
    shown: list[Content] = []

    class Laid(Keys):
        @property
        def app(self) -> Any:  # type: ignore[override]
            class App:
                size = Size(columns, 24)

            return App()

        def update(self, content: Any = "", **_: Any) -> None:
            shown.append(content)

    offered = (
        Key(key="a", label="again", action="x"),
        Key(key=" ", label="done", action="x"),
        Key(key="ctrl+q", label="leave it", action="x"),
    )
    keys = Laid()
    keys.offer(offered)
    keys.offer(offered)
    (content,) = shown
    assert content.plain.splitlines() == lines
