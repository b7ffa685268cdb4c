"""What a frame was asked to be, held against what the body reads back and what its Exif says."""

from __future__ import annotations

import pytest

from tether.body.protocol import BULB, ReadBack, Settings
from tether.exposure.marks import Mark
from tether.journal.records import Applied
from tether.shot.comparison import AskedFrame, exif_differs, other_values
from tether.shot.shot import Shot


def shot(way: str = "held", time: str = BULB, time_s: float = 0.4) -> Shot:
    return Shot(
        kind="rung",
        rung=1,
        way="held" if way == "held" else "timed",
        time_s=time_s,
        time_label=time,
        aperture=Mark(label="f/8", exact=8.0),
        iso=Mark(label="100", exact=100.0),
        filters=(),
        filter_stops=0.0,
    )


def read(time: str, time_s: float | None) -> ReadBack:
    return ReadBack(settings=Settings(time=time, aperture="f/8", iso="100"), time_s=time_s, aperture=8.0, iso=100.0)


class TestReadBack:
    def test_bulb_for_a_hold_is_as_asked(self) -> None:
        assert other_values(shot(), read(BULB, None)) == []

    def test_a_time_for_a_hold_is_not(self) -> None:
        assert other_values(shot(), read("1/125", 1 / 128)) == ["the time is 1/125 s, not bulb"]

    def test_bulb_for_a_timed_frame_is_not(self) -> None:
        assert other_values(shot("timed", "1/500", 1 / 512), read(BULB, None)) == ["the time is bulb, not 1/500 s"]

    @pytest.mark.parametrize("told", ["", "auto", "–"])
    def test_a_time_that_is_not_told_is_neither_bulb_nor_another_time(self, told: str) -> None:
        assert other_values(shot("timed", "1/500", 1 / 512), read(told, None)) == []


def wanted(open_s: float, commands_s: float | None, *, way: str = "held", within_s: float = 0.0) -> AskedFrame:
    asked = shot().applied
    return AskedFrame(
        way="held" if way == "held" else "timed", asked=asked, open_s=open_s, commands_s=commands_s, within_s=within_s
    )


class TestExif:
    @pytest.mark.parametrize(
        ("exif_s", "open_s", "commands_s"),
        [
            (1 / 125, 0.4, 0.4),  # the dial silently left at 1/125 s
            (1 / 125, 0.8, 0.8),
            (0.5, 2.0, 2.0),  # closed by itself
            (2.0, 0.4, 2.0),  # opened two seconds late, and held on until the call was answered
            (0.1, 0.4, 0.4),  # a latency that left a quarter of it
        ],
    )
    def test_a_hold_that_is_stops_off_is_a_difference(self, exif_s: float, open_s: float, commands_s: float) -> None:
        (found,) = exif_differs(Applied(time_s=exif_s), wanted(open_s, commands_s))
        assert found.which == "time"
        assert found.value == exif_s

    def test_whole_seconds_are_no_difference_where_the_body_writes_them(self) -> None:
        assert exif_differs(Applied(time_s=13.0), wanted(12.4, 12.4), 1.0) == []
        assert exif_differs(Applied(time_s=2.0), wanted(1.2, 1.2), 1.0) == []

    def test_the_same_number_is_one_where_the_body_writes_fractions(self) -> None:
        assert [one.which for one in exif_differs(Applied(time_s=2.0), wanted(1.2, 1.2), 0.0)] == ["time"]

    def test_a_measured_delay_is_no_difference(self) -> None:
        assert exif_differs(Applied(time_s=0.33), wanted(0.4, 0.4, within_s=0.08)) == []

    def test_a_timed_frame_has_no_whole_seconds(self) -> None:
        assert [one.which for one in exif_differs(Applied(time_s=1.0), wanted(0.5, None, way="timed"), 1.0)] == ["time"]

    def test_without_exif_our_commands_decide(self) -> None:
        assert exif_differs(Applied(), wanted(0.4, 0.4)) == []
        (found,) = exif_differs(Applied(), wanted(0.4, 2.0))
        assert found.by_commands

    def test_a_hold_whose_end_is_uncertain_and_that_no_exif_tells_of_is_not_known(self) -> None:
        (found,) = exif_differs(Applied(), wanted(30.0, None))
        assert (found.which, found.value, found.clause) == ("time", None, "how long it was open is not known")

    def test_a_shutter_that_was_closed_as_it_opened_is_told_in_words(self) -> None:
        read = Applied(time_s=0.8, time_label="0.8", aperture=8.0, aperture_label="f/8", iso=100.0, iso_label="100")
        (found,) = exif_differs(read, wanted(0.0, 0.0))
        assert found.clause == "it was open 0.800 s, not 0 s"

    def test_aperture_and_iso_are_compared_in_stops(self) -> None:
        found = exif_differs(Applied(time_s=0.4, aperture=8.0, iso=400.0), wanted(0.4, 0.4))
        assert [(one.which, one.value) for one in found] == [("ISO", 400.0)]
