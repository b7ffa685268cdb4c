"""Runs: begun now and watched or left, or planned for later; the sun is that of the plan's place."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result, _NamedTextIOWrapper

from tests.command.test_light import PLAN
from tests.engine.rig import BASE
from tests.journal.outings import weir, write_outing
from tests.plan.plans import HEAD
from tether.command import running
from tether.command.commands import tether
from tether.errors import PlanError
from tether.journal.records import LadderEnded
from tether.journal.store import JOURNAL_NAME
from tether.light.spot import Spot
from tether.light.sun import altitude
from tether.outing.job import read_job
from tether.service import scheduler
from tether.service.launch import StartedJob, give_plan
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
    light = read_job(Path("dusk")).world.sun
    assert light is not None
    assert light.base_utc == start, "the light that is simulated follows the sun from then on"


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


def test_where_the_last_ladder_is_not_done_it_says_how_that_is_resumed(starts: list[datetime]) -> None:
    records = weir()
    done = [replace(one, outcome="done") if isinstance(one, LadderEnded) else one for one in records]
    for told, said in ((records, True), (done, False)):
        Path("dusk").mkdir(exist_ok=True)
        (Path("dusk") / JOURNAL_NAME).unlink(missing_ok=True)
        write_outing(Path("dusk"), told)
        result = run(PLAN, "--in", "2h")
        assert ("To resume that: tether run dusk" in " ".join(result.output.split())) == said
    assert len(starts) == 2


@pytest.mark.parametrize(("words", "answer", "begun"), [((), "n\n", False), ((), "y\n", True), (("--yes",), "", True)])
def test_another_ladder_beside_one_that_is_not_done_is_begun_when_the_person_says_so(
    starts: list[datetime], monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], answer: str, begun: bool
) -> None:
    """Of six rungs the second was done in part only; which are open is said before anything is asked."""
    Path("dusk").mkdir()
    write_outing(Path("dusk"), weir())
    Path("weir.toml").write_text(PLAN)
    monkeypatch.setattr(_NamedTextIOWrapper, "isatty", lambda _self: True)
    result = CliRunner().invoke(tether, ["run", "weir.toml", "--outing", "dusk", "--in", "2h", *words], input=answer)
    said = " ".join(result.output.split())
    assert "The last ladder of dusk is not done: rung 2 is open. To resume that: tether run dusk." in said
    assert ("Begin another [y/N]:" in said) == (not words)
    assert (len(starts) == 1) == begun
    assert begun or str(result.exception) == "No other ladder is begun."


# Now, and for later


@pytest.fixture
def given(tmp_path: Path) -> StartedJob:
    """A run that was given, and not begun."""
    plan = tmp_path / "plan.toml"
    plan.write_text(HEAD + BASE + '[rungs]\ntimes = ["1/125"]\n')
    return give_plan(plan, pace=1.0, root=tmp_path, outing=tmp_path / "dusk")


@pytest.fixture
def done(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """What was done, in the order in which it was; nothing is begun."""
    done: list[object] = []

    def ended(_outing: Path, *, started: bool, over: object) -> None:
        done.append(("end", started, over))

    def watched(started: object, _talk: object, _ringer: object) -> str:
        done.append(("watch", started))
        return "over"

    monkeypatch.setattr(running, "watch", watched)
    monkeypatch.setattr(running, "end_of_watching", ended)
    return done


@pytest.mark.parametrize("detach", [False, True])
def test_a_run_that_could_not_be_begun_is_not_watched_and_its_end_is_shown(
    given: StartedJob, done: list[object], monkeypatch: pytest.MonkeyPatch, detach: bool
) -> None:
    monkeypatch.setattr(running, "start", lambda _outing: None)
    running._start_and_watch(given, detach)
    assert done == [("end", False, None)]


def test_a_run_is_watched_to_its_end(
    given: StartedJob, done: list[object], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(running, "start", lambda _outing: "a run")
    running._start_and_watch(given, False)
    assert done == [("watch", "a run"), ("end", True, "over")]
    assert "1/125" in capsys.readouterr().out, "its ladder is shown first"


def test_a_run_that_is_left_says_how_to_come_back_to_it(
    given: StartedJob, done: list[object], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(running, "start", lambda _outing: "a run")
    running._start_and_watch(given, True)
    assert done == []
    said = capsys.readouterr().out
    assert f"The run of {given.outing} continues by itself.\n" in said
    assert f"Watch it: tether watch {given.outing} " in said


@pytest.mark.parametrize("trusted", [True, False])
def test_a_run_for_later_says_when_and_how_to_call_it_off(
    given: StartedJob, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], trusted: bool
) -> None:
    planned: list[object] = []
    monkeypatch.setattr(scheduler, "plan_start", lambda outing, start_utc: planned.append((outing, start_utc)))
    monkeypatch.setattr(scheduler, "ensure_waiting", lambda: planned.append("waits"))
    monkeypatch.setattr(running, "clock_trusted", lambda _clock: trusted)
    monkeypatch.setattr(running, "clock_sentence", lambda _clock: "The clock may be wrong.")
    start_utc = datetime(2026, 10, 3, 18, 0, tzinfo=UTC)
    running._plan_for_later(given, start_utc)
    assert planned == [(given.outing, start_utc), "waits"]
    said = capsys.readouterr()
    assert f"The run of {given.outing} starts at {start_utc.astimezone():%Y-%m-%d %H:%M:%S %Z}.\n" in said.out
    assert f"Call it off: tether stop {given.outing}\n" in said.out
    assert ("The clock may be wrong." in said.err) is not trusted


def test_nothing_is_for_later_where_no_moment_is_said(given: StartedJob) -> None:
    assert running._start_utc(None, None, given.ready) is None
    start_utc = running._start_utc(None, "10m", given.ready)
    assert start_utc is not None
    assert timedelta(minutes=9) < start_utc - datetime.now(UTC) <= timedelta(minutes=10)


def test_through_the_driver_the_pace_is_that_of_the_clock_on_the_wall(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match=r"the driver works in real time only; leave --pace 60\.0 out"):
        running.rehearse_plan(tmp_path / "x", 60.0, None, tmp_path, None, False, "eos", (), False)


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
