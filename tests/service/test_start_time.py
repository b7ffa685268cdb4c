"""When a run is to start: what a person writes as a moment, also where the clocks are changed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tether.errors import PlanError
from tether.service.start_time import parse_start

BERLIN = ZoneInfo("Europe/Berlin")


#: 18:00 in Berlin, in summer.
NOW = datetime(2026, 10, 3, 16, 0, tzinfo=UTC)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


# Changes of the clocks in Berlin at 01:00 UTC, 2026-03-29 and 2026-10-25: IANA time zone database.
TWICE = (
    "2026-10-25 02:30 comes twice in Europe/Berlin, where the clocks are changed then. It may mean "
    "2026-10-25 00:30 UTC (--at 2026-10-25T02:30:00+02:00) or 2026-10-25 01:30 UTC (--at 2026-10-25T02:30:00+01:00); "
    "write the one you mean."
)
NEVER = (
    "2026-03-29 02:30 does not exist in Europe/Berlin, where the clocks are changed then. It may mean "
    "2026-03-29 00:30 UTC (--at 2026-03-29T01:30:00+01:00) or 2026-03-29 01:30 UTC (--at 2026-03-29T03:30:00+02:00); "
    "write the one you mean."
)
SPRING, AUTUMN = utc("2026-03-28T20:00"), utc("2026-10-24T20:00")


@pytest.mark.parametrize(
    ("at", "start"),
    [
        ("18:01", "2026-10-03T16:01"),
        ("18:00", "2026-10-04T16:00"),
        ("05:40", "2026-10-04T03:40"),
        ("5:40", "2026-10-04T03:40"),
        ("5:40:30", "2026-10-04T03:40:30"),
        ("05:40Z", "2026-10-04T05:40"),
        ("2026-10-05T05:40", "2026-10-05T03:40"),
        ("2026-10-05 05:40", "2026-10-05T03:40"),
        ("2026-10-05T05:40-07:00", "2026-10-05T12:40"),
        ("2026-10-25T01:59", "2026-10-24T23:59"),
        ("2026-10-25T03:00", "2026-10-25T02:00"),
        ("2027-03-28T03:00", "2027-03-28T01:00"),
    ],
)
def test_a_time_of_day_is_the_next_such_and_a_day_is_that_day(at: str, start: str) -> None:
    assert parse_start(at, None, NOW, BERLIN) == utc(start)


@pytest.mark.parametrize(
    ("in_", "seconds"), [("90s", 90), ("45m", 2700), ("2h", 7200), ("2h30m", 9000), ("1h0m5s", 3605), (" 45m ", 2700)]
)
def test_a_length_counts_from_now(in_: str, seconds: int) -> None:
    start = parse_start(None, in_, NOW.astimezone(BERLIN), BERLIN)
    assert start == NOW + timedelta(seconds=seconds)
    assert start.tzinfo is UTC


def refusal(at: str | None, in_: str | None = None, now: datetime = NOW) -> str:
    with pytest.raises(PlanError) as caught:
        parse_start(at, in_, now, BERLIN)
    return str(caught.value)


@pytest.mark.parametrize("at", ["25:00", "5", "05.40", "0540", "2026-02-30T05:40", "05:61", "tomorrow", "", "١٢:٣٠"])
def test_what_is_no_moment_is_refused_with_the_forms_that_are(at: str) -> None:
    assert refusal(at).startswith(f"--at {at}: cannot be read as a moment; write a time as 05:40, ")


@pytest.mark.parametrize("in_", ["45", "m", "", "-5m", "1.5h", "2:30", "soon", "30m2h"])
def test_what_is_no_length_is_refused_with_the_forms_that_are(in_: str) -> None:
    assert refusal(None, in_) == (
        f"--in {in_}: cannot be read as a length of time; write hours, minutes and seconds as 2h30m, 45m or 90s."
    )


@pytest.mark.parametrize(
    ("at", "in_"), [("2026-10-03T17:59", None), ("2026-10-03T18:00", None), ("2025-10-04T05:40", None), (None, "0m")]
)
def test_a_moment_that_is_not_ahead_is_refused(at: str | None, in_: str | None) -> None:
    assert "that is not ahead (202" in refusal(at, in_)


@pytest.mark.parametrize(("at", "in_"), [("2036-10-04T05:40", None), (None, "9999h"), (None, "99999999s")])
def test_a_moment_far_ahead_is_taken_for_a_slip(at: str | None, in_: str | None) -> None:
    assert "up to 366 days ahead" in refusal(at, in_)


@pytest.mark.parametrize(("at", "in_"), [(None, None), ("05:40", "45m")])
def test_exactly_one_of_the_two_is_wanted(at: str | None, in_: str | None) -> None:
    assert "one of them only" in refusal(at, in_)


@pytest.mark.parametrize(
    ("at", "now", "said"),
    [
        ("2026-10-25T02:30", NOW, TWICE),
        ("02:30", AUTUMN, TWICE),
        ("2026-03-29T02:30", SPRING, NEVER),
        ("02:30", SPRING, NEVER),
    ],
)
def test_a_time_that_comes_twice_or_never_is_refused_with_both_readings(at: str, now: datetime, said: str) -> None:
    assert refusal(at, now=now) == f"--at {at}: {said}"


@pytest.mark.parametrize(
    ("at", "now", "start"),
    [
        ("2026-10-25T02:30:00+02:00", AUTUMN, "2026-10-25T00:30"),
        ("2026-10-25T02:30:00+01:00", AUTUMN, "2026-10-25T01:30"),
        ("2026-03-29T01:30:00+01:00", SPRING, "2026-03-29T00:30"),
        ("2026-03-29T03:30:00+02:00", SPRING, "2026-03-29T01:30"),
    ],
)
def test_the_forms_that_a_refusal_offers_are_taken(at: str, now: datetime, start: str) -> None:
    assert parse_start(at, None, now, BERLIN) == utc(start)


def test_when_the_first_of_two_readings_is_past_the_second_is_meant() -> None:
    for at in ("02:30", "2026-10-25T02:30"):
        assert parse_start(at, None, utc("2026-10-25T00:45"), BERLIN) == utc("2026-10-25T01:30")
    assert parse_start("02:30", None, utc("2026-10-25T01:30"), BERLIN) == utc("2026-10-26T01:30")


@given(
    now=st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 31), timezones=st.just(UTC)),
    hour=st.integers(0, 23),
    minute=st.integers(0, 59),
)
def test_the_next_such_time_is_at_most_a_day_ahead_or_lies_in_a_change_of_the_clocks(
    now: datetime, hour: int, minute: int
) -> None:
    try:
        start = parse_start(f"{hour:02d}:{minute:02d}", None, now, BERLIN)
    except PlanError as error:
        assert "2026-03-29 02:" in str(error) or "2026-10-25 02:" in str(error)  # noqa: PT017
        return
    assert timedelta(0) < start - now <= timedelta(hours=25)
    local = start.astimezone(BERLIN)
    assert (local.hour, local.minute, local.second) == (hour, minute, 0)
