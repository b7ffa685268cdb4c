"""A ladder over its evening as a picture: bars stand where the numbers say, and what is to come after what is done."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from xml.etree import ElementTree as ET

import pytest

from tests.report.test_light_picture import SVG, between, number
from tether.report.evening_told import Evening, Present, RungCourse, expected_spans
from tether.report.rungs_picture import rungs_picture

LEAVE_S = datetime(2026, 10, 3, 18, 40, tzinfo=UTC).timestamp()


def before(minutes: float) -> float:
    return LEAVE_S - 60 * minutes


def rung(
    at: int,
    spans: list[tuple[float, float]],
    outcome: str | None = None,
    *,
    tasks: tuple[str, ...] = (),
    frames: int = 1,
) -> RungCourse:
    """Return a rung by when it was open [minutes until leaving]; its tasks take two minutes, a frame four."""
    return RungCourse(
        rung=at,
        label=f"{at} s",
        tasks=tasks,
        spans=tuple((before(one), before(other)) for one, other in spans),
        outcome=outcome,
        waits_s=120.0 if tasks else 0.0,
        frames=frames,
        frame_s=240.0,
    )


#: Twenty minutes before leaving: one rung done, one skipped, one of two frames with its second open, two to come.
EVENING = Evening(
    begins_s=before(40),
    leave_s=LEAVE_S,
    rungs=(
        rung(1, [(40, 38), (37, 35)], "done", frames=2),
        rung(2, [], "skipped"),
        rung(3, [(28, 24)], frames=2, tasks=("fit Calder 6",)),
        rung(4, [], tasks=("take off Calder 6, fit Calder 10, then cover the viewfinder",)),
        rung(5, []),
    ),
)
NOW = Present(at_s=before(20), rung=3, open=(before(21), before(17)))


class Read:
    """A picture as a person reads it."""

    def __init__(self, svg: str | None) -> None:
        assert svg is not None
        self.root = ET.fromstring(svg)  # noqa: S314 (our own text)
        labels = [one for one in self.root.iter(f"{SVG}text") if re.fullmatch(r"−?\d+", one.text or "")]
        self.columns = [(number(one), float(one.get("x", ""))) for one in labels if one.get("text-anchor") == "middle"]
        self.bottom = min(float(one.get("y", "")) for one in labels if one.get("text-anchor") == "middle")

    def bars(self, kind: str) -> list[tuple[float, float]]:
        """Return from when to when bars go [minutes until leaving]; those of the explanation stand below the axis."""
        found = [one.attrib for one in self.root.iter(f"{SVG}rect") if one.get("class") == kind]
        places = [(float(one["x"]), float(one["x"]) + float(one["width"])) for one in found if self.is_above(one["y"])]
        return [(between(left, self.columns), between(right, self.columns)) for left, right in places]

    def is_above(self, y: str) -> bool:
        return float(y) < self.bottom

    def words(self) -> dict[str, tuple[float, str]]:
        return {one.text or "": (float(one.get("y", "")), one.get("class", "")) for one in self.root.iter(f"{SVG}text")}


def flat(bars: list[tuple[float, float]]) -> list[float]:
    return [one for bar in bars for one in bar]


@pytest.mark.parametrize("width", [280, 358, 1200])
def test_bars_stand_where_frames_were_open_and_are_expected(width: float) -> None:
    """The open frame closes at 17; rung 4 waits two minutes and takes four, so 15 to 11; rung 5 then 11 to 7."""
    found = Read(rungs_picture(EVENING, width, NOW))
    assert flat(found.bars("done")) == pytest.approx([40, 38, 37, 35, 28, 24], abs=0.2)
    assert flat(found.bars("open")) == pytest.approx([21, 17], abs=0.2)
    assert flat(found.bars("to-come")) == pytest.approx([15, 11, 11, 7], abs=0.2)


def test_what_has_begun_waits_for_no_task_and_what_is_left_of_it_comes_first() -> None:
    """Nothing is open: the second frame of rung 3 goes from now for four minutes, then rung 4 after its task."""
    spans = expected_spans(EVENING, Present(at_s=before(20), rung=3))
    assert spans == {
        3: (before(20), before(16)),
        4: (before(14), before(10)),
        5: (before(10), before(6)),
    }


def test_when_it_is_over_nothing_is_to_come_and_what_was_not_taken_says_so() -> None:
    over = replace(EVENING, over=True)
    assert expected_spans(over, None) == {}
    found = Read(rungs_picture(over, 358, None))
    assert not found.bars("to-come")
    assert {"skipped", "not taken"} <= set(found.words())
    assert "now" not in found.words()
    assert "to come, about" not in found.words()


def test_rows_are_in_order_and_each_task_stands_above_its_rung() -> None:
    said = Read(rungs_picture(EVENING, 358, NOW)).words()
    order = ["1 s", "2 s", "fit Calder 6", "3 s", "4 s", "5 s"]
    assert sorted(order, key=lambda one: said[one][0]) == order


def test_a_long_task_is_broken_and_not_cut() -> None:
    said = Read(rungs_picture(EVENING, 358, NOW)).words()
    parts = [one for one, (_, kind) in said.items() if kind == "task"]
    assert " ".join(parts) == "fit Calder 6 take off Calder 6, fit Calder 10, then cover the viewfinder"
    assert len(parts) == 3


def test_the_rung_in_hand_is_marked_and_now_stands_at_its_minute() -> None:
    found = Read(rungs_picture(EVENING, 358, NOW))
    assert [one for one, (_, kind) in found.words().items() if kind == "strong"] == ["now", "3 s"]
    (now,) = [one for one in found.root.iter(f"{SVG}g") if one.get("class") == "now"]
    assert between(float(now.get("data-at", "")), found.columns) == pytest.approx(20, abs=0.1)


def test_leaving_far_off_does_not_crowd_the_ladder() -> None:
    """Six hours until leaving, a ladder of half an hour: it has nearly all of the width."""
    early = replace(EVENING, leave_s=LEAVE_S + 6 * 3600)
    found = Read(rungs_picture(early, 358, NOW))
    assert not [one for one in found.root.iter(f"{SVG}line") if one.get("class") == "leave"]
    rects = [one for one in found.root.iter(f"{SVG}rect") if found.is_above(one.get("y", ""))]
    assert max(float(one.get("x", "")) + float(one.get("width", "")) for one in rects) > 320


def test_before_anything_was_begun_and_without_rungs_nothing_is_drawn() -> None:
    assert rungs_picture(replace(EVENING, begins_s=None), 358, None) is None
    assert rungs_picture(Evening(begins_s=0.0), 358, None) is None
