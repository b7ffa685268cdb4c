"""A ladder every so many minutes until an end: which moments, what is too late, begun, missed and called off."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tests.plan.plans import HEAD
from tether.command.attached import stop_run
from tether.errors import PlanError
from tether.guard import LOCK_NAME
from tether.journal.records import LadderEnded, LadderStarted, Noted
from tether.journal.store import Journal, read_contents
from tether.outing.job import read_job
from tether.outing.prepare import Prepared, prepare
from tether.plan.as_json import planned_of
from tether.plan.file import plan_from_text
from tether.service import scheduler as later
from tether.service.launch import give_plan
from tether.service.scheduler import Planned, plan_series, planned
from tether.service.series import Series, ends_late, parse_series, under_way, within_leave_by

BERLIN = ZoneInfo("Europe/Berlin")
#: 18:00 in Berlin, in summer.
FIRST = datetime(2026, 10, 3, 16, 0, tzinfo=UTC)
EVERY = timedelta(minutes=20)
#: Two base frames and a rung: some seconds in all.
PLAN = HEAD + '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1/125"]\nframes = 1\n'


def series(first: datetime = FIRST, every: str = "20m", until: str = "19:30") -> Series:
    return parse_series(first, every, until, BERLIN, None)


def local(moments: list[datetime]) -> list[str]:
    return [f"{one.astimezone(BERLIN):%H:%M}" for one in moments]


# Which moments.


def test_ladders_begin_every_so_often_and_none_after_the_end() -> None:
    assert local(series().moments()) == ["18:00", "18:20", "18:40", "19:00", "19:20"]
    assert local(series(until="19:20").moments())[-1] == "19:20"


def test_the_end_is_the_next_such_time_after_the_first() -> None:
    assert len(series(every="4h", until="01:00").moments()) == 2


def test_over_the_change_of_the_clocks_they_stay_as_far_apart() -> None:
    """2026-10-25, 01:00 UTC: from 02:30 summer time to 03:00 winter time lie ninety minutes."""
    found = parse_series(datetime(2026, 10, 25, 0, 30, tzinfo=UTC), "30m", "03:00", BERLIN, None)
    assert local(found.moments()) == ["02:30", "02:00", "02:30", "03:00"]


@pytest.mark.parametrize(
    ("every", "until", "said"),
    [
        ("20", "19:30", "--every 20: cannot be read as a length of time"),
        ("30s", "19:30", "--every 30s: a ladder may begin every 60 s at the most."),
        ("20m", "soon", "--until soon: cannot be read as a moment"),
        ("20m", "2026-10-03T17:00", "--until 2026-10-03T17:00: that is not ahead"),
        ("1m", "2026-10-05T17:00", "--until 2026-10-05T17:00: that would be more than 200 ladders"),
    ],
)
def test_what_is_no_series_is_refused(every: str, until: str, said: str) -> None:
    with pytest.raises(PlanError) as caught:
        series(every=every, until=until)
    assert str(caught.value).startswith(said)


def ready(leave: datetime | None, time_s: str = "1/125") -> Prepared:
    run = "" if leave is None else f"[run]\nleave_by = {leave.isoformat()}\n"
    return prepare(plan_from_text(PLAN.replace('times = ["1/125"]', f'times = ["{time_s}"]') + run))


def test_without_a_time_to_leave_by_all_are_begun() -> None:
    assert within_leave_by(ready(None), series()) == (
        Series(first=FIRST, every=EVERY, until=FIRST + 4 * EVERY),
        [],
    )


def test_none_is_planned_that_could_not_end_before_the_person_leaves() -> None:
    """They want to leave half a minute after the fourth would begin; a ladder of a second takes less."""
    leave = FIRST + 3 * EVERY + timedelta(seconds=30)
    found, left_out = within_leave_by(ready(leave), series())
    assert local(found.moments()) == ["18:00", "18:20", "18:40", "19:00"]
    assert local(left_out) == ["19:20"]
    assert ends_late(ready(leave), FIRST + 3 * EVERY + timedelta(seconds=29))


def test_where_no_ladder_would_end_in_time_nothing_is_planned() -> None:
    with pytest.raises(PlanError, match="No ladder of this plan would end by its run"):
        within_leave_by(ready(FIRST), series())


# What is planned, begun and missed.


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Start nothing; return the list of what would have been started."""
    commands: list[list[str]] = []
    monkeypatch.setattr(later, "_detach", lambda *command: commands.append([*command]))
    return commands


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    """An outing that was given the job of its first ladder."""
    return give_plan(plan_from_text(PLAN), pace=1.0, root=tmp_path, outing=tmp_path / "weir").outing


def worked(outing: Path, began: datetime, lasted: timedelta) -> None:
    """Write into the journal that the ladder of the outing's job was worked."""
    number = read_job(outing).ladder
    plan = planned_of(prepare(plan_from_text(PLAN)).ladder)
    begun = LadderStarted(ladder=number, title="A test", plan_text=PLAN, planned=plan)
    ended = LadderEnded(ladder=number, outcome="done", note=None, trouble=None)
    with closing(Journal.open(outing)) as journal:
        for record, utc in ((begun, began), (ended, began + lasted)):
            journal.add(record, utc=utc, mono_ns=1, boot="boot")


def notes(outing: Path) -> list[str]:
    return [entry.record.text for entry in read_contents(outing).entries if isinstance(entry.record, Noted)]


def now() -> datetime:
    return datetime.now(UTC)


def guard_of(outing: Path) -> list[str]:
    return ["tether.guard", str(outing)]


def test_a_series_is_kept_with_how_often_and_until_when(outing: Path) -> None:
    first = now().replace(microsecond=0) + timedelta(hours=1)
    plan_series(outing, Series(first=first, every=EVERY, until=first + timedelta(hours=2)))
    assert planned() == (Planned(outing=outing, when_utc=first, every=EVERY, until_utc=first + timedelta(hours=2)),)


def stepped(monkeypatch: pytest.MonkeyPatch, by: list[timedelta]) -> None:
    """Have the wall clock of the waiting process go on by a step at each of its looks, the last one for ever."""
    from datetime import tzinfo

    class Wall(datetime):
        looks = 0

        @classmethod
        def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
            return datetime.now(tz) + by[min(cls.looks, len(by) - 1)]

    def looked(self: later._Waiting) -> float:
        found = process(self)
        Wall.looks += 1
        return found

    process = later._Waiting._process_jobs
    monkeypatch.setattr(later._Waiting, "_process_jobs", looked)
    monkeypatch.setattr("apscheduler.schedulers.base.datetime", Wall)
    monkeypatch.setattr("apscheduler.executors.base.datetime", Wall)
    monkeypatch.setattr(later, "datetime", Wall)
    monkeypatch.setattr(later, "_LOOK_S", 0.01)


def test_a_ladder_is_begun_at_each_moment_and_then_nothing_is_planned_any_more(
    outing: Path, started: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    first = now() + timedelta(seconds=1)
    plan_series(outing, Series(first=first, every=EVERY, until=first + 2 * EVERY))
    stepped(monkeypatch, [timedelta(0), *(timedelta(seconds=2) + at * EVERY for at in range(3))])
    assert later.main() == 0
    assert started == [guard_of(outing)] * 3
    assert planned() == ()
    assert notes(outing) == []


def test_each_is_a_ladder_of_its_own(outing: Path, started: list[list[str]]) -> None:
    """The first is the one whose job was given; once that was begun the next has the next number."""
    later.start_ladder(str(outing), EVERY.total_seconds())
    assert read_job(outing).ladder == 1
    worked(outing, now() - timedelta(minutes=20), timedelta(minutes=5))
    later.start_ladder(str(outing), EVERY.total_seconds())
    job = read_job(outing)
    assert job.ladder == 2
    assert job.after_seq == 2
    assert job.plan_text == PLAN
    assert started == [guard_of(outing)] * 2
    assert notes(outing) == []


def test_none_is_begun_while_the_one_before_is_under_way(
    outing: Path, started: list[list[str]], caplog: pytest.LogCaptureFixture
) -> None:
    import fcntl

    assert not under_way(outing)
    with (outing / LOCK_NAME).open("a") as guard:
        fcntl.flock(guard, fcntl.LOCK_EX)
        assert under_way(outing)
        later.start_ladder(str(outing), EVERY.total_seconds())
    assert started == []
    assert "is not begun: the one before is still under way." in caplog.text
    assert not under_way(outing)


def test_moments_that_had_none_are_said_in_the_journal_at_the_next(outing: Path, started: list[list[str]]) -> None:
    """The last one was begun an hour ago and took fifty minutes: those after twenty and forty had none."""
    began = now() - timedelta(hours=1)
    worked(outing, began, timedelta(minutes=50))
    later.start_ladder(str(outing), EVERY.total_seconds())
    assert notes(outing) == [
        f"No ladder was begun at {began + at * EVERY:%Y-%m-%d %H:%M} UTC: the one before was still under way."
        for at in (1, 2)
    ]
    assert started == [guard_of(outing)]


def test_one_that_would_end_after_leave_by_is_not_begun_and_the_journal_says_so(
    tmp_path: Path, started: list[list[str]]
) -> None:
    leave = (now() + timedelta(seconds=20)).replace(microsecond=0)
    text = PLAN.replace('times = ["1/125"]', 'times = ["30"]')
    text += (
        f'[limits]\niso_stops = 3\n[[filter]]\nname = "Calder 10"\nstops = 10\n[run]\nleave_by = {leave.isoformat()}\n'
    )
    outing = give_plan(plan_from_text(text), pace=1.0, root=tmp_path, outing=tmp_path / "weir").outing
    later.start_ladder(str(outing), EVERY.total_seconds())
    (said,) = notes(outing)
    assert said.endswith("UTC: it would end after the plan's leave_by.")
    assert started == []


def test_every_moment_that_is_missed_is_said(outing: Path, started: list[list[str]]) -> None:
    """The machine slept from before the first to five minutes after the third: two are missed, the third is made."""
    first = now() - 2 * EVERY - timedelta(minutes=5)
    plan_series(outing, Series(first=first, every=EVERY, until=first + 2 * EVERY))
    assert later.main() == 0
    assert started == [guard_of(outing)]
    missed = notes(outing)
    for at, text in enumerate(missed):
        assert text.startswith(f"The start planned for {first + at * EVERY:%Y-%m-%d %H:%M} UTC was missed by ")
    assert len(missed) == 2
    assert all(text.endswith(f"Begin a ladder by hand: tether run PLAN --outing {outing}") for text in missed)
    assert planned() == ()


def test_those_still_to_come_are_called_off_together(outing: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first = now() + timedelta(hours=1)
    plan_series(outing, Series(first=first, every=EVERY, until=first + 2 * EVERY))
    stop_run(str(outing), now=False, drop=False)
    said = "".join(capsys.readouterr())
    times = f"{first.astimezone():%H:%M} to {(first + 2 * EVERY).astimezone():%H:%M}"
    assert f"still to come, {times}, are called off" in said
    assert planned() == ()


def test_a_series_stands_instead_of_a_start_planned_before(outing: Path) -> None:
    first = now().replace(microsecond=0) + timedelta(hours=1)
    later.plan_start(outing, first)
    plan_series(outing, Series(first=first, every=EVERY, until=first))
    (one,) = planned()
    assert one.every == EVERY
    later.plan_start(outing, first)
    assert planned() == (Planned(outing=outing, when_utc=first),)
