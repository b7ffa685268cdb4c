"""The strip at the desk: captions whole, a stop as wide everywhere, what is looked at always in sight."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from textual.geometry import Size

from tests.desk.alone import Alone
from tests.report.test_axis import LADDER
from tether.desk.pictures import Picture
from tether.desk.strip_row import CAPTION_LINES, LEAST_WIDE, StripRow, caption_of, strip_axis
from tether.report.choices import Choice
from tether.report.choosing import Candidate
from tether.report.crops_asked import Shown


class Row(Alone, StripRow):  # type: ignore[override]
    """A strip of a given size, without a desk."""

    def __init__(self, columns: int, lines: int, theme: str = "plain") -> None:
        super().__init__(id="strip")
        self.given, self.theme = Size(columns, lines), theme
        self.picked: list[int] = []

    def post_message(self, message: Any) -> bool:
        self.picked.append(message.frame)
        return True

    def texts(self) -> list[str]:
        return ["".join(segment.text for segment in self.render_line(y)) for y in range(self.size.height)]


def frames(at: list[float]) -> list[Candidate]:
    return [
        Candidate(
            frame=number + 1,
            ladder=1,
            rung=number + 1,
            at_stops=stops,
            time="1/2000 s" if stops < 0 else "34:08 min",
            settings="",
            says=(),
            shown=Shown(frame="", base="", gains=(1.0, 1.0, 1.0)),
            choice=Choice(verdict="maybe"),
        )
        for number, stops in enumerate(at)
    ]


def grey(shade: int) -> Picture:
    return np.full((40, 20, 3), shade, dtype=np.uint8)


@pytest.mark.parametrize(
    ("time", "verdict", "captions"),
    [
        ("1/2000 s", None, ("1/2000 s", "rung 12")),
        ("53.7 s", "maybe", ("53.7 s", "12 maybe")),
        ("3:52 min", "keep", ("3:52 min", "12 keep")),
        ("34:08 min", "no", ("34:08", "12 no")),
        ("1:08:16 h", None, ("1:08:16", "rung 12")),
    ],
)
def test_a_caption_says_time_rung_and_choice_and_is_whole(
    time: str, verdict: str | None, captions: tuple[str, str]
) -> None:
    assert caption_of(time, 12, verdict) == captions
    assert all(len(one) <= LEAST_WIDE for one in captions)


@pytest.mark.parametrize("columns", [80, 120, 160, 200])
def test_pictures_never_touch_and_fill_the_room_where_all_have_room(columns: int) -> None:
    axis = strip_axis(LADDER, columns)
    lefts = [one.left for one in axis.places]
    assert axis.wide >= LEAST_WIDE
    assert min(after - before for before, after in pairwise(lefts)) > axis.wide
    few = strip_axis([0.0, 1.0, 3.0], columns)
    assert columns - 4 <= few.width <= columns or few.wide == 30


@pytest.mark.parametrize("marked", range(len(LADDER)))
@pytest.mark.parametrize("columns", [80, 120])
def test_what_is_looked_at_is_in_sight_with_its_captions(columns: int, marked: int) -> None:
    row = Row(columns, 6)
    row.say(frames(LADDER), marked + 1, None)
    time, rung = row.texts()[-2:]
    assert f"{marked + 1} maybe" in rung
    assert [len(one) for one in row.texts()] == [columns] * 6
    words = time.split()
    assert set(words) <= {"1/2000", "s", "34:08"}  # what the edge would cut is left out
    assert len(words) > 3


def test_each_picture_stands_above_its_caption_at_true_distance() -> None:
    row = Row(35, 5)
    row.say(frames([0.0, 1.0, 3.0]), 1, None)
    row.show({1: grey(10), 2: grey(120), 3: grey(250)})
    assert (row.axis.wide, row.axis.stop) == (8, 9.0)
    colours = [
        segment.style.color.triplet.red if segment.text == "▀" and segment.style and segment.style.color
        and segment.style.color.triplet else None for segment in row.render_line(0)
        for _ in segment.text
    ]  # fmt: skip
    assert colours == [*[10] * 8, None, *[120] * 8, *[None] * 10, *[250] * 8]
    assert row.dots == (8, 2 * (5 - CAPTION_LINES))


def test_marks_are_told_without_colour() -> None:
    row = Row(35, 5)
    row.say(frames([0.0, 1.0, 3.0]), 2, 1)
    styles = {segment.text.strip(): segment.style for segment in row.render_line(4) if segment.text.strip()}
    assert {text for text, style in styles.items() if style and style.reverse} == {"2 maybe"}
    assert {text for text, style in styles.items() if style and style.underline} == {"1 maybe"}


def test_in_ember_pictures_are_red_only() -> None:
    row = Row(35, 5, "ember")
    row.say(frames([0.0, 1.0]), 1, None)
    row.show({1: grey(200)})
    cell = next(one for one in row.render_line(0) if one.text == "▀")
    assert cell.style is not None
    assert cell.style.color is not None
    assert cell.style.color.triplet is not None
    assert cell.style.color.triplet.blue == 0


@pytest.mark.parametrize(("x", "picked"), [(0, [1]), (7, [1]), (8, []), (12, [2]), (34, [3])])
def test_a_click_picks_the_frame_that_is_there(x: int, picked: list[int]) -> None:
    row = Row(35, 5)
    row.say(frames([0.0, 1.0, 3.0]), 1, None)
    row.on_click(type("Click", (), {"x": x, "y": 1})())
    assert row.picked == picked
