"""The ladder in lines of text: bars as high as their times are long, and a marker where the run is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import reduce

import pytest

from tests.desk.rig import NOW_NS, asked, begun, held, planned
from tests.journal.shown import rung_ended
from tether.desk.ladder_lines import ladder_lines, share_taken
from tether.journal.records import LadderBegun, Record
from tether.journal.snapshot import Snapshot, after

#: 14 rungs in 118 columns: 8 each, of which the first is between bars.
EACH = 8


def stood(records: Iterable[Record]) -> Snapshot:
    return reduce(after, records, Snapshot())


def lines(records: Iterable[Record], height: int = 6, share: float = 0.0) -> tuple[str, ...]:
    return ladder_lines(stood(records), 118, height, share)


def column(drawn: tuple[str, ...], rung: int) -> str:
    """Return what stands over the middle of a rung, from below."""
    at = (rung - 1) * EACH + EACH // 2
    return "".join(f"{row:<118}"[at] for row in reversed(drawn[1:-1])).rstrip()


def test_each_bar_is_as_high_as_its_time_is_long_in_stops() -> None:
    """1/2000 s to 3:59 min are 18.9 stops, over 5.75 rows: half a second, rung 8, is 10.0 stops up, 3.3 rows."""
    drawn = lines(begun())
    assert len(drawn) == 8
    assert [len(column(drawn, rung)) for rung in (1, 8, 14)] == [1, 4, 6]
    assert column(drawn, 8) == "⣿⣿⣿⣀"


def test_what_is_taken_is_full_and_what_is_not_is_dotted() -> None:
    drawn = lines([*begun(), rung_ended(5, "left out")])
    assert column(drawn, 4) == "██▁"
    assert set(column(drawn, 5)) <= set("⣀⣤⣶⣿")
    assert set(column(drawn, 14)) == {"⣿"}


def test_a_task_stands_before_its_rung() -> None:
    """The demonstration changes filters before rungs 6, 12 and 14."""
    top = f"{lines(begun())[1]:<118}"
    assert [at // EACH + 1 for at, sign in enumerate(top) if sign == "╎"] == [6, 12, 14]


@pytest.mark.parametrize(("share", "filled"), [(0.0, 0), (0.5, 3), (0.99, 6)])
def test_the_marker_moves_through_the_rung_in_hand_and_fills_it(share: float, filled: int) -> None:
    drawn = lines(asked(), share=share)
    first = 4 * EACH + 1
    assert drawn[-1].index("▲") == first + filled
    assert "▲ rung 5, 1/15 s" in drawn[-1]
    assert drawn[-2][first : first + EACH - 1] == "█" * filled + "⣿" * (EACH - 1 - filled)


def test_the_last_rung_is_named_before_its_marker() -> None:
    assert lines(held())[-1].endswith("rung 14, 4:16 min ▲")


def test_between_rungs_the_ends_are_named() -> None:
    row = lines(begun())[-1]
    assert row.startswith(" 1/2000 s")
    assert row.endswith("4:16 min")


def test_a_rung_is_taken_by_its_frames_and_the_part_of_the_open_one() -> None:
    """295.1 s set, 73.775 s left: three quarters of its only frame; past its moment it is all."""
    assert share_taken(stood(begun()), NOW_NS) == 0.0
    assert share_taken(stood(held(73.775)), NOW_NS) == pytest.approx(0.75)
    assert share_taken(stood(held(-5)), NOW_NS) == 1.0


def test_where_there_is_no_ladder_or_no_room_nothing_is_drawn() -> None:
    assert ladder_lines(Snapshot(), 118, 6, 0.0) == ()
    assert ladder_lines(stood(begun()), 118, 0, 0.0) == ()
    assert ladder_lines(stood(begun()), 13, 6, 0.0) == ()


def test_as_many_rungs_as_there_are_columns_have_room() -> None:
    rungs = tuple(replace(planned().rungs[0], rung=number + 1, time_s=2.0**-number) for number in range(118))
    drawn = ladder_lines(stood([LadderBegun(planned=replace(planned(), rungs=rungs))]), 118, 1, 0.0)
    assert len(drawn) == 2
    assert max(map(len, drawn)) <= 118
