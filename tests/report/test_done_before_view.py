"""Outings in the terminal: one line each that fits, and where their folders are."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.report.printing import printed
from tests.report.test_done_before import CHOICES, done, read
from tether.light.spot import Spot
from tether.plan.file import Place
from tether.plan.learned import Figure
from tether.report.done_before import KeptFrame
from tether.report.done_before_view import DoneView, kept_times, place_words, streaks


def kept(time_s: float | None, streak_px: float | None = None) -> KeptFrame:
    return KeptFrame(frame=1, ladder=1, time_s=time_s, streak_px=streak_px, file=None)


@pytest.mark.parametrize("width", [80, 120])
def test_each_outing_is_told_within_the_width_with_its_folder_whole(width: int) -> None:
    one = done(read(5, streak_px=83.4), read(4, off_stops=-1.3), choices=CHOICES)
    page = printed(DoneView([one, one]), width)
    assert all(len(line) <= width for line in page.splitlines())
    words = " ".join(page.split())
    for said in ("2026-10-03", "5/6", "83", "-1.3", "/outings/weir"):
        assert said in words
    assert words.count("/outings/weir") == 2


def test_two_tries_at_a_ladder_are_told_one_by_one() -> None:
    two = replace(done(), ladders=tuple(replace(done().ladders[0], rungs=13, rungs_done=count) for count in (6, 2)))
    page = printed(DoneView([two]), 80)
    assert [word for word in page.split() if word.endswith("/13")] == ["6/13", "2/13"]
    assert "8/26" not in page
    assert "Rungs: finished of planned, a line for each ladder." in page


def test_a_folder_that_is_wider_than_the_terminal_is_told_to_its_last_letter() -> None:
    long = replace(done(), folder=Path("/pictures") / ("a-long-name-" * 9) / "weir")
    page = printed(DoneView([long]), 80)
    assert str(long.folder) in "".join(page.split())
    assert "…" not in page


def test_what_was_learned_is_told_below() -> None:
    page = printed(DoneView([done()], {("copying", "A body"): Figure(value=2.1, outings=3)}), 80)
    assert "From 3 outings: 2.1 s to copy a frame, A body." in page
    assert "Learned" not in printed(DoneView([done()]), 80)


def test_where_none_is_known_it_says_how_to_show_some() -> None:
    assert "Show a folder that has some: tether outings FOLDER" in printed(DoneView([]), 80)


def test_times_are_told_once_shortest_first_and_counted() -> None:
    assert kept_times([kept(2.0), kept(0.125), kept(2.0), kept(None)]) == "1/8 s, 2 s (2)"
    assert kept_times([]) == "–"


def test_streaks_are_a_span() -> None:
    assert streaks([kept(1, 83.4), kept(2, None), kept(3, 14.2)]) == "14 to 83"
    assert streaks([kept(1, 14.2), kept(2, 14.3)]) == "14"
    assert streaks([kept(1)]) == "–"


def test_a_place_is_called_by_its_name_else_by_where_it_is() -> None:
    assert place_words(Place(name="Elbow weir", latitude=64.1, longitude=-21.9)) == "Elbow weir"
    assert place_words(Place(latitude=64.1, longitude=-21.9)) == "64.1° N, 21.9° W"
    assert Place(latitude=64.1, longitude=-21.9).spot == Spot(latitude=64.1, longitude=-21.9)
    assert place_words(Place()) == ""


def test_a_folder_in_the_persons_home_is_written_short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", "/outings")
    assert "~/weir" in printed(DoneView([done()]), 80)
    assert str(Path.home()) == "/outings"
