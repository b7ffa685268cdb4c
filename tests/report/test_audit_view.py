"""The audit in the terminal: every frame with its parts, and what the water says."""

from __future__ import annotations

import pytest

from tests.journal.outings import applied, frame_begun, frame_exposed, ladder_started, run_started, told
from tests.report.printing import printed
from tests.report.test_audit import base, held
from tether.journal.readings import Definition, FrameReadings, StreakSaid
from tether.journal.records import FrameRead, Record
from tether.report.audit_view import AuditView


def lines(*frames: Record, width: int = 80) -> list[str]:
    return printed(AuditView(told([run_started(), ladder_started(), *frames])), width).splitlines()


@pytest.mark.parametrize("width", [80, 120])
def test_each_frame_stands_on_a_line_with_its_parts_within_the_terminal(width: int) -> None:
    """128 s planned where the plan wants 0.3 darker, 256 asked, 128 held: 0.40 darker than the base in all."""
    between = held(2, planned_s=128.0, asked_s=256.0, held_s=128.0, brighter=-0.4)
    found = lines(*base(), *between, *base(3), width=width)
    assert max(map(len, found)) <= width
    assert found[0].startswith("SIMULATED")
    row = next(line.split() for line in found if line.startswith("5 "))
    assert row[:7] == ["5", "2", "-0.40", "-0.30", "+0.30", "+1.00", "-1.00"]
    assert [line.split()[:2] for line in found if line.startswith("base")] == [["base", "1"], ["base", "3"]]
    assert "level = wanted + rounding + changed + hold + light + rest" in " ".join(" ".join(found).split())


def test_frames_whose_rock_is_clipped_are_named_below() -> None:
    clipped = FrameReadings(headroom_stops=None, clipped_share=0.97, rock_clipped=True)
    tests = [one for frame in (2, 3) for one in frame_begun(frame, 5, applied(2.0, "2"), kind="proof")]
    said = [FrameRead(frame=frame, readings=clipped) for frame in (2, 3)]
    text = " ".join(" ".join(lines(*base(), *tests, *said)).split())
    assert "Clipped where all stands still, so that nothing is measured there: frame 2 and 3." in text


def test_where_no_frame_could_be_read_it_says_so() -> None:
    assert "No frame of it could be read against its base." in lines()


@pytest.mark.parametrize(
    ("streak", "shown", "planned"),
    [
        (StreakSaid(length_px=400.4, uncertainty_px=3.0, predicted_px=390.0), "400 ±6", "390"),
        (StreakSaid(at_least_px=800.0), "over 800", "–"),
        (StreakSaid(at_most_px=3.0), "under 3", "–"),
        (StreakSaid(why="the water has no texture"), "–", "–"),
        (None, "–", "–"),
    ],
)
def test_the_water_is_told_with_its_streak_as_far_as_that_is_known(
    streak: StreakSaid | None, shown: str, planned: str
) -> None:
    water = Definition(value=0.4, uncertainty=0.05, water=0.1, rock=0.25)
    says = FrameReadings(headroom_stops=1.0, clipped_share=0.0, definition=water, streak=streak)
    begun = frame_begun(1, 2, applied(2**-3, "1/8"))
    found = lines(*begun, frame_exposed(1, None), FrameRead(frame=1, readings=says))
    row = next(line for line in found if line.startswith("2 "))
    assert row.split() == f"2 1 1/8 s 0.40 ±0.10 {shown} {planned}".split()
