"""What was measured by light, in lines and as data."""

from __future__ import annotations

import pytest

from tether.frames.opening import Lying, ShutterTiming
from tether.frames.strength import Strength
from tether.frames.wandering import Interval
from tether.report.measured_view import (
    excess_line,
    opening_json,
    opening_lines,
    plus_minus,
    strength_json,
    strength_lines,
)


def about(value: float, half_width: float = 0.01) -> Interval:
    return Interval(value=value, half_width=half_width)


@pytest.mark.parametrize(
    ("one", "digits", "text"),
    [
        (about(10.374, 0.026), 2, "10.37 ± 0.03"),
        (about(10.374, 0.0001), 2, "10.37 ± 0.01"),  # no smaller than its last digit
        (about(41.26, 0.04), 1, "41.3 ± 0.1"),
    ],
)
def test_a_value_has_half_its_interval_beside_it_and_no_falser_figures(one: Interval, digits: int, text: str) -> None:
    assert plus_minus(one, digits) == text


def strength(leak: Interval | None = None) -> Strength:
    return Strength(
        stops={"R": about(10.1), "G": about(10.37, 0.026), "B": about(10.5)},
        cast_stops={"R": about(-0.27), "B": about(0.13)},
        light_per_minute=-0.104,
        wander_stops=0.0123,
        leak_stops=leak,
        moved=False,
        cells=200,
    )


def test_a_filter_is_told_with_its_channels_its_cast_and_the_light() -> None:
    assert strength_lines("Calder 10", strength(), ["The light wandered."]) == (
        "Calder 10: 10.37 ± 0.03 stop (95 %)",
        "  by channel: red 10.10 ± 0.01, green 10.37 ± 0.03, blue 10.50 ± 0.01; beyond green: red -0.270, blue +0.130",
        "  the light: -0.10 stop/min, and it wandered by 0.012 stop beside",
        "  ! The light wandered.",
    )


def test_as_data_a_leak_that_is_not_known_is_null() -> None:
    found = strength_json("Calder 10", strength(), [], stored=True)
    assert found["stops"]["G"] == {"value": 10.37, "half_width": 0.026}
    assert (found["leak_stops"], found["warnings"], found["cells"]) == (None, [], 200)
    assert strength_json("x", strength(about(14.0)), [], stored=False)["leak_stops"] == {
        "value": 14.0,
        "half_width": 0.01,
    }


@pytest.mark.parametrize(
    ("one", "verdict"), [(about(0.05, 0.01), "more or less than"), (about(0.005, 0.01), "as much as")]
)
def test_a_stack_takes_its_sum_where_the_interval_holds_nothing_else(one: Interval, verdict: str) -> None:
    assert excess_line(one) == f"Together they take {verdict} their sum: {one.value:+.3f} ± 0.010 stop."


def timing(delay_s: float) -> ShutterTiming:
    return ShutterTiming(
        delay_s=about(delay_s, 0.0012),
        spread_s=0.0031,
        each_s=((1.0, delay_s), (2.0, delay_s)),
        lying=(Lying(label="30", says_s=30.0, gives_s=about(32.01, 0.02)),),
        lamp_per_minute=-0.002,
    )


@pytest.mark.parametrize(
    ("delay_s", "flickers", "first", "last"),
    [
        (0.0412, True, "Bulb exposures are open 41.2 ± 1.2 ms longer than", ", IT FLICKERS"),
        (-0.0412, False, "Bulb exposures are open 41.2 ± 1.2 ms shorter than", ", it does not flicker"),
        (0.0412, None, "Bulb exposures are open", "-0.002 stop/min"),
    ],
)
def test_a_shutter_is_told_by_how_much_longer_it_is_open_and_which_times_lie(
    delay_s: float, flickers: bool | None, first: str, last: str
) -> None:
    found = opening_lines(timing(delay_s), flickers, simulated=False)
    assert found[0].startswith(first)
    assert found[1] == "  a single one is off by 3.1 ms from that (standard deviation)"
    assert found[2] == "30 s is not 30 s: it gives 32.010 ± 0.020 s."
    assert found[3].startswith("  2 bulb exposures")
    assert found[3].endswith(last)
    assert opening_lines(timing(delay_s), flickers, simulated=True)[0].startswith("SIMULATED")


def test_the_same_as_data() -> None:
    found = opening_json(timing(0.04), None, body_file="own.toml", simulated=True)
    assert found["delay_s"] == {"value": 0.04, "half_width": 0.0012}
    assert found["holds"][0] == {"between_commands_s": 1.0, "delay_s": 0.04}
    assert found["lying"] == [{"label": "30", "says_s": 30.0, "gives_s": {"value": 32.01, "half_width": 0.02}}]
    assert found["lamp_flickers"] is None
