"""`tether light`: what is shown of three places and dates, what is told where the sun does not set, and mistakes."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from tests.plan.plans import HEAD
from tether.checks.host_clocks import WallClock
from tether.command import light
from tether.command.commands import tether
from tether.errors import PlanError

SCHEMA = json.loads(files("tether").joinpath("schemas/light.schema.json").read_text(encoding="utf-8"))
PLAN = (
    HEAD
    + """
[place]
name = "a weir"
latitude = 51.5
longitude = 0.0
[base]
time = "1/125"
aperture = "f/8"
iso = 100
[rungs]
times = ["1/125", "30", "4m"]
[[filter]]
name = "Calder 6"
stops = 6
[[filter]]
name = "Calder 10"
stops = 10
"""
)
#: 18:00 at Greenwich, a quarter of an hour before the sunset of an equinox.
EVENING = datetime(2024, 3, 20, 18, 0, tzinfo=UTC)


def shown(*words: str, width: int = 80) -> Result:
    return CliRunner().invoke(tether, ["light", *words], env={"COLUMNS": str(width)})


def told(*words: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(shown(*words, "--json").output)
    Draft202012Validator(SCHEMA).validate(found)
    return found


@pytest.fixture(autouse=True)
def evening(monkeypatch: pytest.MonkeyPatch) -> None:
    at_evening(monkeypatch, EVENING)


def at_evening(patch: pytest.MonkeyPatch, utc: datetime, zone: str = "UTC") -> None:
    patch.setattr(WallClock, "now", lambda: WallClock(utc=utc, synchronised=True))
    patch.setattr(light, "get_localzone", lambda: ZoneInfo(zone))


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "weir.toml"
    path.write_text(PLAN)
    return path


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize(
    ("place", "date", "zone", "words"),
    [
        ("51.4733,-0.0008", "2015-12-01", "Europe/London", ("sunrise 07:43", "civil dawn 07:04", "sunset 15:55")),
        ("39,-105", "2015-01-02", "America/Denver", ("sunrise 07:19", "sunset 16:49")),
        ("39.917,116.383", "2015-01-02", "Asia/Shanghai", ("sunrise 07:36", "sunset 17:00")),
        ("64.1,-21.9", "2026-06-20", "Atlantic/Reykjavik", ("(2026-06-21)", "no civil dusk")),
        ("69.65,18.96", "2026-06-21", "Europe/Oslo", ("no sunset", "The sun does not set on this day")),
        ("69.65,18.96", "2026-12-21", "Europe/Oslo", ("no sunrise", "The sun does not rise on this day")),
        ("-41.3,174.8", "2026-11-27", "Pacific/Auckland", ("41.3° S, 174.8° E", "Pacific/Auckland")),
    ],
)
def test_places_and_dates_show_their_sun(
    place: str, date: str, zone: str, words: tuple[str, ...], width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Minutes of London, Denver's longitude and Beijing are those of published tables; see spa_example.csv."""
    at_evening(monkeypatch, EVENING, zone)
    result = shown(place, "--date", date, width=width)
    assert result.exit_code == 0, result.exception
    for one in words:
        assert one in result.output
    assert max(map(len, result.output.splitlines())) <= width
    assert "Cloud, terrain" in result.output
    assert "computer's clock" in " ".join(result.output.split())


def test_now_and_until_the_end_of_twilight_is_what_is_shown_of_a_place() -> None:
    """The nautical dusk of this evening is 55 minutes and a half after its sunset at 18:13:49, by the rates' table."""
    found = told("51.5,0")
    assert found["from_utc"] == "2024-03-20T18:00:00Z"
    assert "2024-03-20T19:20:00Z" <= found["until_utc"] <= "2024-03-20T19:30:00Z"
    assert found["course"][0]["light_stops"] == 0
    assert found["course"][-1]["sun_deg"] == pytest.approx(-12, abs=0.2)
    levels = [line["light_stops"] for line in found["course"]]
    assert levels == sorted(levels, reverse=True)
    assert found["plan"] is None


def test_the_clock_is_told_as_the_checks_know_it(monkeypatch: pytest.MonkeyPatch) -> None:
    assert told("51.5,0")["clock"]["trusted"] is False, "it is before this release"
    at_evening(monkeypatch, datetime(2027, 6, 1, 19, tzinfo=UTC))
    assert told("51.5,0")["clock"]["trusted"] is True


def test_a_plan_is_told_how_much_darker_its_long_rungs_would_be(plan: Path) -> None:
    found = told(str(plan))["plan"]
    assert [rung["time_s"] for rung in found["long_rungs"]] == [pytest.approx(32), pytest.approx(240, rel=0.1)]
    last = found["long_rungs"][-1]
    assert last["light_stops"] < found["long_rungs"][0]["light_stops"] < 0
    assert last["same_light_s"] > last["time_s"] * 2 ** -last["light_stops"], "it falls while it is open, too"
    assert not any(rung["after_leave_by"] for rung in found["long_rungs"])
    assert "Same light" in shown(str(plan)).output


def test_a_rung_that_no_time_suffices_for_is_told_of(plan: Path) -> None:
    """At -8 degrees the light to come is worth some five minutes of its own, and falls until the rung opens."""
    found = told(str(plan), "--from", "19:00")
    assert found["plan"]["long_rungs"][-1]["same_light_s"] is None
    assert "too little light left" in shown(str(plan), "--from", "19:00").output


def test_the_table_goes_until_the_plan_is_left_and_marks_what_would_end_later(plan: Path) -> None:
    plan.write_text(f'{PLAN}[run]\nleave_by = "18:05"\n')
    found = told(str(plan))
    assert found["plan"]["leave_by_utc"] is not None
    assert found["until_utc"] == found["plan"]["leave_by_utc"]
    assert found["plan"]["long_rungs"][-1]["after_leave_by"]
    assert "* ends later" in shown(str(plan)).output


def test_a_time_to_leave_that_is_past_leaves_everything_out_now_and_says_nothing_of_another_day(plan: Path) -> None:
    plan.write_text(f'{PLAN}[run]\nleave_by = "17:00"\n')
    assert all(rung["after_leave_by"] for rung in told(str(plan))["plan"]["long_rungs"])
    tomorrow = told(str(plan), "--date", "2024-03-21", "--from", "17:30")["plan"]
    assert tomorrow["leave_by_utc"] is None
    assert not any(rung["after_leave_by"] for rung in tomorrow["long_rungs"])


@pytest.mark.parametrize("width", [80, 120])
def test_a_plan_fits_the_terminal(plan: Path, width: int) -> None:
    plan.write_text(f'{PLAN}[run]\nleave_by = "18:05"\n')
    lines = shown(str(plan), "--from", "17:50", width=width).output.splitlines()
    assert max(map(len, lines)) <= width
    assert sum("…" in line for line in lines) == 0


def test_a_plan_without_long_rungs_says_so(plan: Path) -> None:
    plan.write_text(PLAN.replace('"1/125", "30", "4m"', '"1/125", "1/60"'))
    assert "no rung of 30 s or more" in shown(str(plan)).output


def test_by_night_the_table_begins_with_the_dawn(monkeypatch: pytest.MonkeyPatch) -> None:
    at_evening(monkeypatch, datetime(2024, 3, 20, 23, 0, tzinfo=UTC))
    found = told("51.5,0")
    assert found["day"]["date"] == "2024-03-21"
    assert found["course"][0]["sun_deg"] == pytest.approx(-12, abs=0.2)
    assert found["course"][-1]["sun_deg"] > 5


def test_what_is_asked_for_is_shown() -> None:
    found = told("51.5,0", "--date", "2024-06-21", "--from", "22:00", "--until", "01:00")
    assert (found["from_utc"], found["until_utc"]) == ("2024-06-21T22:00:00Z", "2024-06-22T01:00:00Z")
    offset = told("51.5,0", "--from", "2024-06-21T22:00+02:00", "--until", "2024-06-21T21:00Z")
    assert (offset["from_utc"], offset["until_utc"]) == ("2024-06-21T20:00:00Z", "2024-06-21T21:00:00Z")


def test_the_sun_and_the_dark_have_their_cautions() -> None:
    assert [one[:20] for one in told("51.5,0")["cautions"]] == ["A photographic filte", "For long waits near "]
    assert [one[:20] for one in told("51.5,0", "--from", "12:00", "--until", "13:00")["cautions"]] == [
        "A photographic filte"
    ]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("91,0",), "latitude goes from -90 to 90"),
        (("-41.3,190",), "longitude from -180 to 180"),
        (("nowhere.toml",), "there is no plan of this name"),
        (("51.5,0", "--date", "tomorrow"), "--date tomorrow: cannot be read"),
        (("51.5,0", "--date", "1800-01-01"), "from 1950 to 2099"),
        (("demo",), "demo.toml: the plan does not say where it is"),
        (("51.5,0", "--from", "late"), "--from late: cannot be read"),
        (("51.5,0", "--from", "0001-01-01T00:00"), "from 1950 to 2099"),
        (("51.5,0", "--until", "2024-03-19T10:00"), "after the start"),
        (("51.5,0", "--until", "2024-03-22T10:00"), "24 hours at most"),
    ],
)
def test_a_mistake_is_a_sentence(words: tuple[str, ...], says: str) -> None:
    result = shown(*words)
    assert isinstance(result.exception, PlanError)
    assert says in str(result.exception)


def test_a_plan_without_a_place_says_what_to_write(plan: Path) -> None:
    plan.write_text(PLAN.replace("latitude = 51.5\nlongitude = 0.0\n", ""))
    result = shown(str(plan))
    assert isinstance(result.exception, PlanError)
    assert "write latitude and longitude in its [place]" in str(result.exception)


@pytest.mark.parametrize("place", ["90,0", "-90,0", "0,180", "0,-180", "89.9,179.9"])
@pytest.mark.parametrize("date", ["2026-03-20", "2026-06-21", "2026-09-23", "2026-12-21"])
def test_the_ends_of_the_earth_are_told_of(place: str, date: str) -> None:
    assert told(place, "--date", date)["day"]["date"] == date
    assert shown(place, "--date", date).exit_code == 0


def test_a_new_plan_may_have_its_place(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    made = CliRunner().invoke(tether, ["new", str(path), "--place", "-41.28664,174.8"])
    assert made.exit_code == 0, made.exception
    assert told(str(path))["place"] == {"name": "", "latitude": -41.28664, "longitude": 174.8}
    wrong = CliRunner().invoke(tether, ["new", str(tmp_path / "other.toml"), "--place", "Wellington"])
    assert "--place Wellington: “Wellington” is not a place; write latitude,longitude" in str(wrong.exception)
