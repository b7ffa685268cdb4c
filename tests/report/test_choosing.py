"""What there is to choose from: frames of rungs by their true open time, all shown alike."""

from __future__ import annotations

from dataclasses import replace
from math import log2
from pathlib import Path

import pytest

from tests.journal.outings import weir, write_outing
from tether.journal.readings import FrameReadings, RockSaid
from tether.journal.records import FrameRead
from tether.journal.telling import read_outing
from tether.report.choices import Choice, choose
from tether.report.choosing import file_of, settings_of, to_choose


def read(frame: int, headroom_stops: float, brighter: dict[str, float]) -> FrameRead:
    rock = RockSaid(brighter_stops=brighter, uncertainty_stops=0.01, lifted_share=0.0)
    return FrameRead(
        frame=frame,
        readings=FrameReadings(headroom_stops=headroom_stops, clipped_share=0.0, rock=rock),
        problem=None,
    )


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    brighter = {"R": -0.5, "G": -1.0, "B": 0.0}
    write_outing(tmp_path, [*weir(), read(1, 1.15, dict.fromkeys("RGB", 0.0)), read(5, 2.0, brighter)])
    return tmp_path


def test_frames_of_rungs_stand_by_true_open_time_the_shortest_first(outing: Path) -> None:
    found = to_choose(outing)
    frames = [one.frame for one in found.candidates]
    assert frames == [2, 3, 4, 5, 6, 8, 9]  # no base, no test exposure
    assert found.candidates[0].at_stops == pytest.approx(log2(2**-10))
    assert found.candidates[5].at_stops == pytest.approx(log2(101.0004))  # closed early: what it really was, not 2:04


def test_all_are_shown_as_the_base_is_and_that_as_bright_as_its_headroom_lets(outing: Path) -> None:
    by_frame = {one.frame: one for one in to_choose(outing).candidates}
    # 1.15 stops of headroom less 0.15 below white: twice as bright; frame 5's rock is darker by 0.5 and 1 stop besides.
    assert by_frame[2].shown.gains == pytest.approx((2.0, 2.0, 2.0))
    assert by_frame[5].shown.gains == pytest.approx((2 * 2**0.5, 4.0, 2.0))
    assert {one.shown.base for one in by_frame.values()} == {by_frame[2].shown.base}
    assert by_frame[2].shown.base == "frames/weir_l1_0001_SIM_0001.dng"


def test_of_a_frame_whose_task_was_taken_back_no_filter_is_told(outing: Path) -> None:
    frame = read_outing(outing).ladders[0].frames[4]
    assert settings_of(frame) == "f/11, ISO 100, Fenwick 4"
    assert settings_of(replace(frame, void=True)) == "f/11, ISO 100, filters not known"


def test_what_was_thought_of_a_frame_comes_with_it(outing: Path) -> None:
    choose(outing, 5, Choice(verdict="keep", note="the thread"))
    by_frame = {one.frame: one for one in to_choose(outing).candidates}
    assert by_frame[5].choice == Choice(verdict="keep", note="the thread")
    assert by_frame[2].choice == Choice()


def test_of_a_raw_file_with_another_beside_it_the_raw_one_is_shown(outing: Path) -> None:
    frame = read_outing(outing).ladders[0].frames[1]
    beside = replace(frame.files[0], name="frames/beside.jpg", preview=None)
    assert file_of(replace(frame, files=(beside, *frame.files))) == frame.files[0].name
    assert file_of(replace(frame, files=())) is None
