"""When two exposure times are the same: by the sixth of a stop, by how coarsely a body writes, by its own delay."""

from __future__ import annotations

import pytest

from tether.exposure.agreement import believed_open_s, rounded_to_s, times_agree


@pytest.mark.parametrize(
    ("said_s", "expected_s", "within_s", "same"),
    [
        (30.0, 32.0, 0.0, True),  # log2(32/30) = 0.093 stop
        (0.36, 0.4, 0.0, True),  # 0.152 stop
        (0.35, 0.4, 0.0, False),  # 0.193 stop
        (0.35, 0.4, 0.06, True),  # the body's delay
        (1 / 125, 0.4, 0.06, False),  # a dial left where it was: 5.6 stops
        (0.5, 2.0, 0.0, False),  # a body that closed by itself: 2 stops
        (2.0, 0.4, 0.0, False),  # an opening acted on late
        (13.0, 12.4, 1.0, True),  # written in whole seconds
    ],
)
def test_times_agree(said_s: float, expected_s: float, within_s: float, same: bool) -> None:
    assert times_agree(said_s, expected_s, within_s=within_s) is same


@pytest.mark.parametrize(
    ("said_s", "writes_fractions", "rounded_s"),
    [(2.0, False, 1.0), (2.0, True, 0.0), (0.4, False, 0.0), (1 / 125, False, 0.0), (2.5, False, 0.0)],
)
def test_only_whole_seconds_may_be_rounded_and_only_where_no_fraction_was_ever_written(
    said_s: float, writes_fractions: bool, rounded_s: float
) -> None:
    assert rounded_to_s(said_s, writes_fractions=writes_fractions) == rounded_s


@pytest.mark.parametrize(
    ("exif_s", "commands_s", "rounded_s", "believed_s"),
    [
        (101.0, 101.0004, 1.0, 101.0004),
        (0.4, 2.0, 0.0, 0.4),  # our command was acted on late: the body knows better
        (1 / 125, 0.4, 0.0, 1 / 125),
        (None, 0.4, 0.0, 0.4),
        (12.0, None, 1.0, 12.0),
        (None, None, 0.0, None),
    ],
)
def test_our_commands_are_believed_unless_the_exif_disagrees(
    exif_s: float | None, commands_s: float | None, rounded_s: float, believed_s: float | None
) -> None:
    assert believed_open_s(exif_s, commands_s, rounded_s=rounded_s) == believed_s
