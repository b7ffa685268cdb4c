"""`tether run --at sunset`: the place is the plan's, and the moment is worked out once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.command.test_light import PLAN
from tether.command import running
from tether.command.commands import tether
from tether.errors import PlanError
from tether.light.spot import Spot
from tether.light.sun import altitude
from tether.service.launch import StartedJob
from tether.service.series import Series

QUITO = "latitude = -0.2\nlongitude = -78.5\n"


@pytest.fixture
def starts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    """The moments that runs were planned for; none is planned."""
    found: list[datetime] = []

    def kept(_given: StartedJob, start_utc: datetime) -> None:
        found.append(start_utc)

    monkeypatch.setattr(running, "_plan_for_later", kept)
    monkeypatch.chdir(tmp_path)
    return found


def run(plan: str, *words: str) -> Result:
    Path("weir.toml").write_text(plan)
    return CliRunner().invoke(tether, ["run", "weir.toml", "--outing", "dusk", *words])


def test_a_run_is_planned_for_the_sun_of_its_plan(starts: list[datetime]) -> None:
    plan = PLAN.replace("latitude = 51.5\nlongitude = 0.0\n", QUITO)
    result = run(plan, "--at", "sunset-40m")
    assert result.exit_code == 0, result.exception
    (start,) = starts
    assert altitude(Spot(latitude=-0.2, longitude=-78.5), start + timedelta(minutes=40)) == pytest.approx(
        -0.833, abs=0.01
    )
    assert timedelta(0) < start - datetime.now(UTC) < timedelta(hours=25)


def test_an_outing_has_its_place_from_its_plan(starts: list[datetime]) -> None:
    plan = PLAN.replace("latitude = 51.5\nlongitude = 0.0\n", QUITO)
    run(plan, "--at", "sunset")
    again = CliRunner().invoke(tether, ["run", "dusk", "--at", "sunset"])
    assert again.exit_code == 0, again.exception
    assert abs(starts[1] - starts[0]) < timedelta(seconds=1)


def test_without_a_place_nothing_is_made(starts: list[datetime]) -> None:
    result = run(PLAN.replace("latitude = 51.5\nlongitude = 0.0\n", ""), "--at", "sunset")
    assert isinstance(result.exception, PlanError)
    assert "write latitude and longitude in its [place]" in str(result.exception)
    assert not Path("dusk").exists()
    assert starts == []


def test_a_ladder_every_so_often_is_planned_from_the_sun_on(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """From forty minutes before sunset until sunset every twenty: three; each is said before the first begins."""
    found: list[Series] = []
    monkeypatch.setattr("tether.service.scheduler.plan_series", lambda _outing, series: found.append(series))
    monkeypatch.setattr("tether.service.scheduler.ensure_waiting", lambda: None)
    monkeypatch.chdir(tmp_path)
    plan = PLAN.replace("latitude = 51.5\nlongitude = 0.0\n", QUITO)
    result = run(plan, "--at", "sunset-40m", "--every", "20m", "--until", "sunset+1m")
    assert result.exit_code == 0, result.exception
    (series,) = found
    times = ", ".join(f"{one.astimezone():%H:%M}" for one in series.moments())
    assert len(series.moments()) == 3
    assert f"3 ladders of their own in dusk, {series.first.astimezone():%Y-%m-%d}: {times}." in result.output
    assert "Call off those that are still to come: tether stop dusk" in result.output


@pytest.mark.parametrize("words", [("--every", "20m"), ("--until", "21:30")])
def test_how_often_and_until_when_go_together(starts: list[datetime], words: tuple[str, ...]) -> None:
    result = run(PLAN, *words)
    assert "--every and --until go together" in str(result.exception)
    assert starts == []


def test_an_outing_is_not_begun_every_so_often(starts: list[datetime]) -> None:
    run(PLAN, "--in", "45m")
    starts.clear()
    again = CliRunner().invoke(tether, ["run", "dusk", "--every", "20m", "--until", "21:30"])
    assert "dusk is an outing; ladders are begun of a plan: write that." in str(again.exception)
