"""Times of the standard, and numbers as bytes."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tether.body.responder.parts import seconds_of, time_units, u32s
from tether.exposure.marks import Mark, Step, time_marks


@pytest.mark.parametrize(
    ("label", "seconds"),
    [("30", 30), ("0.3", Fraction(3, 10)), ("1/60", Fraction(1, 60)), ("2:00", 120), ("1:30", 90), ("1:01:05", 3665)],
)
def test_a_label_says_its_seconds(label: str, seconds: Fraction | int) -> None:
    assert seconds_of(label) == seconds


def labelled(label: str) -> Mark:
    return next(mark for mark in time_marks(Step.THIRD) if mark.label == label)


@pytest.mark.parametrize(
    ("label", "units"),
    # 10 000 units a second: 1/60 s is 166.67 of them, 1/16000 s 0.625.
    [("30", 300_000), ("1", 10_000), ("1/60", 167), ("1/8000", 1), ("1/10000", 1), ("1/16000", 1)],
)
def test_a_time_is_told_by_its_label_in_tenths_of_a_millisecond(label: str, units: int) -> None:
    assert time_units(labelled(label)) == units


def test_a_time_shorter_than_half_a_unit_can_not_be_told() -> None:
    assert time_units(labelled("1/32000")) is None


def test_numbers_have_their_lowest_byte_first() -> None:
    assert u32s(1, 0x01020304) == b"\x01\0\0\0\x04\x03\x02\x01"
    assert u32s() == b""
