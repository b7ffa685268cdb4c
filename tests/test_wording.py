"""How values are written for people."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tether import wording as words


@pytest.mark.parametrize(
    ("write", "value", "text"),
    [
        (words.planned_time, 2**-7, "1/125 s"),
        (words.planned_time, 256.0, "4:16 min"),
        (words.planned_time, None, "–"),
        (words.measured_time, 2.0041, "2.004 s"),
        (words.measured_time, 124.3, "124.30 s"),
        (words.measured_time, 2**-10, "1/1000 s"),
        (words.stops, 0.0704, "+0.07"),
        (words.stops, -0.004, "0.00"),
        (words.stops, None, "–"),
        (words.count, 10.0, "10"),
        (words.count, 6.6439, "6.6"),
        (words.span, 45.2, "45 s"),
        (words.span, 600.0, "10 min"),
        (words.span, 7500.0, "2 h 05 min"),
        (words.aperture, 2**3.5, "f/11"),
        (words.aperture, 11.0, "f/11"),
        (words.aperture, 1.85, "f/1.85"),
        (words.iso, 100 * 2 ** (1 / 3), "125"),
        (words.iso, 3200.0, "3200"),
        (words.iso, 90.0, "90"),
    ],
)
def test_how_values_are_written(write: Any, value: float | None, text: str) -> None:
    assert write(value) == text


@pytest.mark.parametrize(("share", "text"), [(0, "0 %"), (0.0004, "<0.1 %"), (0.024, "2.4 %"), (0.31, "31 %")])
def test_shares_are_written_as_people_read_them(share: float, text: str) -> None:
    assert words.percent(share) == text


@pytest.mark.parametrize(
    ("left_s", "text"),
    [
        (-1.0, "0.0"),
        (0.04, "0.0"),
        (4.24, "4.2"),
        (9.94, "9.9"),
        (9.96, "0:10"),
        (37.01, "0:38"),
        (725.0, "12:05"),
        (3720.0, "1:02:00"),
    ],
)
def test_a_countdown_never_says_less_than_is_left_and_ends_at_nothing(left_s: float, text: str) -> None:
    assert words.countdown(left_s) == text


@pytest.mark.parametrize(
    ("seconds", "text"), [(89.4, "89 s"), (90.0, "2 min"), (5339.0, "89 min"), (5400, "1 h 30 min")]
)
def test_a_span_is_in_the_unit_that_people_think_in(seconds: float, text: str) -> None:
    """Up to a minute and a half in seconds, up to an hour and a half in minutes."""
    assert words.span(seconds) == text


@pytest.mark.parametrize(
    ("stops", "text"),
    [(0.334, "0.33 stop brighter"), (-1.0, "1.00 stop darker"), (-1.4, "1.40 stops darker")],
)
def test_brighter_and_darker_are_said_with_how_much(stops: float, text: str) -> None:
    assert words.brighter(stops) == text


@pytest.mark.parametrize(
    ("rung", "kind", "text"),
    [
        (7, "rung", "7"),
        (7, "proof", "7 test"),
        (None, "base", "base"),
        (None, "dark", "dark"),
        (None, "by hand", "by hand"),
    ],
)
def test_a_frame_is_placed_by_its_rung_and_what_it_is(rung: int | None, kind: str, text: str) -> None:
    assert words.place(rung, kind) == text


def test_what_is_stored_as_held_and_proof_people_call_bulb_and_test() -> None:
    assert [words.way(one) for one in ("timed", "held", "many")] == ["timed", "bulb", "many"]
    assert [words.kind(one) for one in ("rung", "proof")] == ["rung", "test"]


@pytest.mark.parametrize(
    ("headroom_stops", "clipped", "text"),
    [(0.84, 0.0, "0.8"), (0.0, 0.01, "0.0"), (None, 0.01, "clipped"), (None, 0.0, "–")],
)
def test_room_to_clipping_is_told_or_that_it_is_clipped(
    headroom_stops: float | None, clipped: float, text: str
) -> None:
    assert words.room(headroom_stops, clipped) == text


@pytest.mark.parametrize(
    ("numbers", "said"),
    [([3], "3"), ([6, 9], "6 and 9"), ([6, 7], "6 and 7"), ([6, 7, 8], "6 to 8"), ([1, 3, 4], "1, 3 and 4")],
)
def test_numbers_are_put_together(numbers: list[int], said: str) -> None:
    assert words.in_words(numbers) == said
    assert words.which_rungs(numbers) == f"{'rung' if len(numbers) == 1 else 'rungs'} {said}"


@pytest.mark.parametrize(
    ("changed", "text"),
    [
        ((0.67, 0.0, 0.0), "opened 0.67 stop longer"),
        ((-0.33, 1.0, -1.33), "opened 0.33 stop shorter, aperture 1.00 stop wider, ISO 1.33 stops lower"),
        ((0.0, -0.5, 0.33), "aperture 0.50 stop narrower, ISO 0.33 stop higher"),
        ((0.004, -0.004, 0.0), ""),
    ],
)
def test_what_settings_let_in_more_is_told_by_which_of_them_does(
    changed: tuple[float, float, float], text: str
) -> None:
    assert words.settings_changed(*changed) == text


@pytest.mark.parametrize(
    ("times_s", "text"),
    [
        ([2.0, 1.0, 0.5, 4.0], ""),
        ([16.0, 2.0], "15 s is a mark, exactly 16 s"),
        ([2 ** (8 / 3), 64.0, 2**-6], "6 s is a mark, exactly 6.35 s"),
        ([15.0, 0.0], ""),
        ([], ""),
    ],
)
def test_a_mark_that_is_written_far_from_what_it_is_is_explained(times_s: list[float], text: str) -> None:
    """Of a time that is no mark the number is what it says; below 0.3 s nobody reads figures."""
    assert words.exact_mark(times_s).partition(":")[0] == text


def test_filters_turns_and_places_on_the_earth() -> None:
    assert (words.filters([]), words.filters(["six", "ten"])) == ("none", "six + ten")
    assert (words.before(None), words.before(3)) == ("at the end", "before rung 3")
    assert words.spot(64.1, -21.9) == "64.1° N, 21.9° W"
    assert words.spot(-41.28664, 174.8) == "41.2866° S, 174.8° E"
    assert words.altitude(2.44) == "2.4° above the horizon"
    assert words.altitude(-6.0) == "6.0° below the horizon"


def test_a_path_is_written_from_the_working_folder_where_that_is_shorter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = tmp_path / "a-long-name" / "of-a-folder"
    here.mkdir(parents=True)
    monkeypatch.chdir(here)
    assert words.from_here(here / "outings" / "weir") == "outings/weir"
    assert words.from_here(Path("outings/two words")) == "'outings/two words'"
    assert words.from_here(Path("/srv")) == "/srv"
