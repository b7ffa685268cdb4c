"""Starting later: what is kept, and the process that waits, also when killed."""

from __future__ import annotations

import logging
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tether.errors import BusyError, LostError, PlanError, SupplyError
from tether.journal.records import Noted
from tether.journal.store import Journal, read_contents
from tether.service import scheduler as later
from tether.service.scheduler import Planned, cancel, ensure_waiting, plan_start, planned, start_outing, waiting

BERLIN = ZoneInfo("Europe/Berlin")
#: 18:00 in Berlin, in summer.
NOW = datetime(2026, 10, 3, 16, 0, tzinfo=UTC)

# What is planned.


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep planned starts in a folder of the test's own, and return it."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state" / "tether"


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    return made(tmp_path / "Mill race: evening & night")


def made(folder: Path) -> Path:
    Journal.create(folder).close()
    return folder


def troubles(outing: Path) -> list[str]:
    records = [entry.record for entry in read_contents(outing).entries]
    return [one.text for one in records if isinstance(one, Noted) and one.about == "trouble"]


def ahead(seconds: float) -> datetime:
    return datetime.now(UTC) + timedelta(seconds=seconds)


def test_what_is_planned_is_kept_the_next_one_first(outing: Path, tmp_path: Path) -> None:
    other = made(tmp_path / "weir")
    plan_start(outing, NOW + timedelta(hours=2))
    plan_start(other, (NOW + timedelta(hours=1)).astimezone(BERLIN))
    assert planned() == (
        Planned(outing=other, when_utc=NOW + timedelta(hours=1)),
        Planned(outing=outing, when_utc=NOW + timedelta(hours=2)),
    )


def test_a_start_planned_anew_stands_instead_of_the_old_one(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan_start(outing, NOW)
    monkeypatch.chdir(outing.parent)
    plan_start(Path(outing.name), NOW + timedelta(hours=3))
    assert planned() == (Planned(outing=outing, when_utc=NOW + timedelta(hours=3)),)


def test_a_cancelled_start_is_gone_and_cannot_be_cancelled_again(outing: Path, tmp_path: Path) -> None:
    other = made(tmp_path / "weir")
    plan_start(outing, NOW)
    plan_start(other, NOW)
    cancel(outing)
    assert [one.outing for one in planned()] == [other]
    with pytest.raises(PlanError, match=f"No run is planned for .*night. Planned are: {other}"):
        cancel(outing)
    cancel(other)
    with pytest.raises(PlanError, match="Nothing is planned"):
        cancel(other)


def test_only_an_outing_can_be_planned(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="is not the folder of an outing"):
        plan_start(tmp_path, NOW)
    assert planned() == ()


def test_a_moment_without_a_zone_is_no_moment(outing: Path) -> None:
    with pytest.raises(ValueError, match="aware"):
        plan_start(outing, NOW.replace(tzinfo=None))


def test_a_damaged_store_is_said_and_nothing_else_is_touched(outing: Path, state: Path) -> None:
    state.mkdir(parents=True)
    (state / later.STORE_NAME).write_bytes(b"not a database" * 100)
    with pytest.raises(LostError, match=r"later\.sqlite cannot be read or written \(file is not a database\)"):
        plan_start(outing, NOW)


def test_without_a_state_folder_of_ones_own_the_usual_one_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    for value in ("", "relative"):
        monkeypatch.setenv("XDG_STATE_HOME", value)
        assert planned() == ()
    assert (tmp_path / "home/.local/state/tether" / later.STORE_NAME).is_file()


def test_a_state_folder_that_cannot_be_made_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    with pytest.raises(SupplyError, match="cannot be made"):
        planned()


# Starting, within this process.


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Start nothing; return the list of what would have been started."""
    commands: list[list[str]] = []
    monkeypatch.setattr(later, "_detach", lambda *command: commands.append([*command]))
    return commands


def guard_of(outing: Path) -> list[str]:
    return ["tether.guard", str(outing)]


@pytest.mark.parametrize("late_s", [-0.3, 0, later.LATEST_S - 30])
def test_a_start_is_made_at_its_moment_or_at_once_if_missed_by_little(
    outing: Path, started: list[list[str]], late_s: float
) -> None:
    plan_start(outing, ahead(-late_s))
    assert later.main() == 0
    assert started == [guard_of(outing)]
    assert planned() == ()
    assert troubles(outing) == []


def test_a_start_missed_by_more_is_not_made_and_the_journal_says_so(
    outing: Path, tmp_path: Path, started: list[list[str]]
) -> None:
    other = made(tmp_path / "weir")
    when = ahead(-7260)
    plan_start(outing, when)
    plan_start(other, ahead(-5))
    assert later.main() == 0
    assert started == [guard_of(other)]
    assert planned() == ()
    (text,) = troubles(outing)
    assert text == (
        f"The start planned for {when:%Y-%m-%d %H:%M} UTC was missed by 2 h 01 min: the machine was off or asleep, its "
        "clock was set, or nothing waited for the start. One missed by more than 10 min is not made. Start the run by "
        f"hand: tether run {outing}"
    )


def test_a_start_that_goes_wrong_is_said_in_the_journal(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_command: str) -> None:
        raise OSError("no more processes")

    monkeypatch.setattr(later, "_detach", fail)
    plan_start(outing, ahead(0))
    assert later.main() == 0
    assert planned() == ()
    (text,) = troubles(outing)
    assert text.endswith(f"UTC went wrong: no more processes. Start the run by hand: tether run {outing}")


def test_what_cannot_be_noted_in_the_journal_stands_in_the_log(
    outing: Path, tmp_path: Path, started: list[list[str]], caplog: pytest.LogCaptureFixture
) -> None:
    gone = made(tmp_path / "gone")
    plan_start(outing, ahead(-7200))
    plan_start(gone, ahead(0))
    (gone / "journal.sqlite").unlink()
    (gone / "journal.lock").unlink()
    gone.rmdir()
    with closing(Journal.open(outing)), caplog.at_level(logging.INFO):
        assert later.main() == 0
    assert started == []
    assert f"{outing}: The start planned for " in caplog.text
    assert f"written into the outing's journal: The outing {outing} is being written by another run" in caplog.text
    assert f"went wrong: {gone}: the outing's folder is not there. Start the run by hand" in caplog.text


@pytest.mark.parametrize(("stepped_s", "made_it"), [(3600, True), (3600 + 2 * later.LATEST_S, False)])
def test_a_clock_set_forward_past_a_start_is_seen_while_waiting(
    outing: Path, started: list[list[str]], monkeypatch: pytest.MonkeyPatch, stepped_s: float, made_it: bool
) -> None:
    class Wall(datetime):
        """A wall clock that is set forward after it has been looked at a few times."""

        looks = 0

        @classmethod
        def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
            cls.looks += 1
            return datetime.now(tz) + timedelta(seconds=stepped_s if cls.looks > 3 else 0)

    plan_start(outing, ahead(3590))
    monkeypatch.setattr("apscheduler.schedulers.base.datetime", Wall)
    monkeypatch.setattr("apscheduler.executors.base.datetime", Wall)
    monkeypatch.setattr(later, "_LOOK_S", 0.01)
    assert later.main() == 0
    assert started == ([guard_of(outing)] if made_it else [])
    assert len(troubles(outing)) == (0 if made_it else 1)


def test_looking_at_what_is_planned_starts_nothing(outing: Path, started: list[list[str]]) -> None:
    plan_start(outing, ahead(-5))
    for _ in range(20):
        assert [one.outing for one in planned()] == [outing]
    assert started == []


def test_with_nothing_planned_nobody_waits(started: list[list[str]]) -> None:
    assert later.main() == 0
    assert started == []


def test_what_is_started_has_no_part_in_our_terminal_session_or_folder(
    tmp_path: Path, state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    says = "import os, sys; print(os.getsid(0) == os.getpid(), os.getcwd(), sys.argv[1:], sys.stdin.read(), flush=True)"
    script = tmp_path / "python"
    script.write_text(f'#!/bin/sh\nexec {sys.executable} -c "{says}" "$@"\n')
    script.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(script))
    start_outing(str(tmp_path))
    until(lambda: (state / later.LOG_NAME).read_text() == f"True / ['-P', '-m', 'tether.guard', '{tmp_path}'] \n")


# The waiting process, as a process.


def until(done: Callable[[], bool]) -> None:
    """Wait for what another process does."""
    give_up_s = time.monotonic() + 60
    while not done():
        assert time.monotonic() < give_up_s
        time.sleep(0.02)


@pytest.fixture
def no_waiter_left() -> Iterator[None]:
    yield
    pid = waiting()
    if pid is not None:
        os.kill(pid, signal.SIGKILL)


@pytest.mark.usefixtures("no_waiter_left")
def test_one_process_waits_apart_from_us_is_replaced_when_killed_and_ends_when_nothing_is_planned(
    outing: Path, caplog: pytest.LogCaptureFixture
) -> None:
    assert waiting() is None
    plan_start(outing, ahead(3600))
    first = ensure_waiting()
    assert first is not None
    assert os.getsid(first) == first
    assert ensure_waiting() == first
    assert later.main() == BusyError.exit_code
    assert f"Process {first} waits for the planned starts already" in caplog.text

    os.kill(first, signal.SIGKILL)
    until(lambda: waiting() is None)
    assert [one.outing for one in planned()] == [outing]
    second = ensure_waiting()
    assert second not in (None, first)
    assert waiting() == second

    cancel(outing)
    until(lambda: waiting() is None)


def test_a_waiting_process_that_has_done_all_at_once_is_no_trouble(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/bin/true")
    assert ensure_waiting() is None


def test_a_waiting_process_that_does_not_begin_is_said(state: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/bin/false")
    with pytest.raises(LostError, match=f"did not begin; the starts stay planned.*{state / later.LOG_NAME}"):
        ensure_waiting()


#: A waiting process that writes down what it would start, and may be struck dead by that.
WAITER = """
import os, sys
from pathlib import Path
from tether.service import scheduler as later
def note(*command):
    with Path(sys.argv[1]).open("a") as file:
        file.write(command[-1] + "\\n")
    if sys.argv[2:]:
        os._exit(9)
later._detach = note
sys.exit(later.main())
"""


def test_a_start_survives_the_death_of_the_waiting_process_and_is_made_once(outing: Path, tmp_path: Path) -> None:
    made_starts = tmp_path / "starts"
    other = made(tmp_path / "weir")
    plan_start(outing, ahead(3600))
    with subprocess.Popen([sys.executable, "-c", WAITER, made_starts]) as first:
        until(lambda: waiting() == first.pid)
        first.kill()
    with subprocess.Popen([sys.executable, "-c", WAITER, made_starts]) as second:
        until(lambda: waiting() == second.pid)
        # Planned, and planned anew, while it waits.
        plan_start(other, ahead(1.5))
        plan_start(outing, ahead(0.5))
        assert second.wait(60) == 0
    assert made_starts.read_text() == f"{outing}\n{other}\n"
    assert planned() == ()


def test_a_process_killed_between_starting_and_striking_off_has_the_next_one_start_again(
    outing: Path, tmp_path: Path, started: list[list[str]]
) -> None:
    made_starts = tmp_path / "starts"
    plan_start(outing, ahead(0))
    assert subprocess.run([sys.executable, "-c", WAITER, made_starts, "dies"]).returncode == 9
    assert made_starts.read_text() == f"{outing}\n"
    assert [one.outing for one in planned()] == [outing]
    assert later.main() == 0
    assert started == [guard_of(outing)]


def test_a_start_that_an_earlier_release_planned_is_still_planned_and_finds_what_it_calls(state: Path) -> None:
    """The store names the function by its old path; it was written by release 0.1 before the rooms were divided."""
    kept = Path(__file__).parents[1] / "data" / "later-0.1.sqlite"
    state.mkdir(parents=True)
    shutil.copy(kept, state / later.STORE_NAME)
    assert planned() == (
        Planned(outing=Path("/home/ida/outings/2026-11-26_weir"), when_utc=datetime(2036, 5, 1, 17, 30, tzinfo=UTC)),
    )
    with later._opened_store() as store:
        (job,) = store.get_jobs()
    assert job.func is start_outing
