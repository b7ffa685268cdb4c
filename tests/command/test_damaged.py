"""A journal that is damaged or locked, a folder that was moved or lacks files: a sentence in every command, no more."""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.engine.rig import BASE, work
from tether.command.commands import tether
from tether.control.commands import Verb
from tether.desk.app import Desk
from tether.errors import BusyError, LostError, TetherError
from tether.journal.records import ExposeOutcome, Noted
from tether.journal.store import APPLICATION_ID, JOURNAL_NAME, Journal
from tether.outing.job import JOB_NAME
from tether.service import launch as start_module

PLAN = """
title = "Weir"
[body]
file = "simulated"
[lens]
focal_mm = 35
widest = "f/2.8"
narrowest = "f/22"
"""
RUNGS = '[rungs]\ntimes = ["1/125", "1/60"]\nframes = 1\n'
#: Everything that opens an outing, as typed.
COMMANDS = [
    ("log", "OUTING"),
    ("log", "OUTING", "--json"),
    ("log", "OUTING", "--audit"),
    ("export", "OUTING", "--csv", "out.csv", "--log", "out.json", "--xmp"),
    ("sheet", "OUTING", "--to", "sheet.jpg"),
    ("sheet", "OUTING", "--to", "sheet.html"),
    ("picks", "OUTING", "--to", "picks"),
    ("layers", "OUTING", "--water", "2", "--rest", "1", "--to", "layers"),
    ("average", "OUTING", "--rung", "1", "--to", "mean.dng"),
    ("finish", "OUTING"),
    ("run", "OUTING"),
    ("watch", "OUTING"),
    ("stop", "OUTING"),
    ("say", "pause", "--outing", "OUTING"),
    ("new", "plan-like.toml", "--like", "OUTING"),
    ("rehearse", "plan.toml", "--pace", "max", "--world", "world.toml", "--outing", "OUTING"),
    ("desk", "OUTING"),
]
Damage = Callable[[Path], None]
STOP: Verb = "stop after this frame"


def at_random(outing: Path) -> None:
    (outing / JOURNAL_NAME).write_bytes(random.Random(1).randbytes(20_000))


def in_the_middle(outing: Path) -> None:
    path = outing / JOURNAL_NAME
    data = bytearray(path.read_bytes())
    data[4096:12288] = random.Random(2).randbytes(8192)
    path.write_bytes(data)


def in_its_head(outing: Path) -> None:
    path = outing / JOURNAL_NAME
    data = bytearray(path.read_bytes())
    data[16:90] = random.Random(3).randbytes(74)
    path.write_bytes(data)


def cut_to(share: float) -> Damage:
    def cut(outing: Path) -> None:
        path = outing / JOURNAL_NAME
        path.write_bytes(path.read_bytes()[: int(share * path.stat().st_size)])

    return cut


def beside(name: str) -> Damage:
    def put(outing: Path) -> None:
        (outing / f"{JOURNAL_NAME}-{name}").write_bytes(random.Random(4).randbytes(5000))

    return put


def written(*statements: str) -> Damage:
    """Change what stands in the journal, past the triggers that forbid it."""

    def write(outing: Path) -> None:
        with closing(sqlite3.connect(outing / JOURNAL_NAME, isolation_level=None)) as db:
            for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                db.execute(f"DROP TRIGGER {name}")
            for statement in statements:
                db.execute(statement)

    return write


def without_tables(outing: Path) -> None:
    path = outing / JOURNAL_NAME
    path.unlink()
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute("CREATE TABLE other (a)")


def a_folder(outing: Path) -> None:
    (outing / JOURNAL_NAME).unlink()
    (outing / JOURNAL_NAME).mkdir()


def without(*names: str) -> Damage:
    def remove(outing: Path) -> None:
        for name in names:
            path = outing / name
            shutil.rmtree(path) if path.is_dir() else path.unlink()

    return remove


def job(text: str) -> Damage:
    def put(outing: Path) -> None:
        (outing / JOB_NAME).write_text(text)

    return put


def of_another_place(outing: Path) -> None:
    """Have the job name a body file and a folder that were at the place where the outing was."""
    path = outing / JOB_NAME
    told = json.loads(path.read_text())
    told["plan_text"] = told["plan_text"].replace('"simulated"', '"/gone/outings/bodies/mine.toml"')
    path.write_text(json.dumps(told))


DAMAGES: dict[str, Damage] = {
    "random bytes": at_random,
    "random bytes in the middle": in_the_middle,
    "random bytes in its head": in_its_head,
    "cut to nothing": cut_to(0),
    "cut in its head": cut_to(0.001),
    "cut in half": cut_to(0.5),
    "cut by little": cut_to(0.97),
    "a damaged log beside it": beside("wal"),
    "a damaged rollback beside it": beside("journal"),
    "no tables": without_tables,
    "a folder instead": a_folder,
    "a record of no kind": written("UPDATE records SET kind = 'Unheard' WHERE seq = 2"),
    "a record of another shape": written("UPDATE records SET body = '[1, 2]' WHERE seq = 3"),
    "a record that lacks something": written("UPDATE records SET body = '{}'"),
    "a record at no time": written("UPDATE records SET utc = 'yesterday' WHERE seq = 2"),
    "records out of place": written("DELETE FROM records WHERE seq < 4"),
    "no records": written("DELETE FROM records"),
    "a later version": written("PRAGMA user_version = 99"),
    "no journal": without(JOURNAL_NAME),
    "no job": without(JOB_NAME),
    "no frames": without("frames"),
    "no previews": without("previews"),
    "a job that is none": job("{"),
    "a job of another shape": job("[]"),
    "a job that lacks something": job('{"version": "tether-job/1"}'),
    "a job of another place": of_another_place,
}


def not_started(_outing: Path) -> None:
    raise LostError("Nothing is started here.")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make an outing of two rungs, of which only one is done, with its job."""
    folder = tmp_path_factory.mktemp("made")
    (folder / "plan.toml").write_text(PLAN + BASE + RUNGS)
    (folder / "world.toml").write_text("sensor = { window_px = [240, 160] }\n")
    given = start_module.give_plan(
        folder / "plan.toml", pace=1.0, root=folder, outing=folder / "outing", world=folder / "world.toml"
    )
    work(
        folder, BASE + RUNGS, outing=given.outing, when=lambda event: STOP if isinstance(event, ExposeOutcome) else None
    )
    return folder


@pytest.fixture
def outing(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(made, tmp_path / "here", dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path / "here")
    # Nothing is started, and nobody waits.
    monkeypatch.setattr("tether.command.running.start", not_started)
    return tmp_path / "here" / "outing"


def typed(words: tuple[str, ...], outing: Path) -> Result:
    return CliRunner().invoke(tether, [str(outing) if word == "OUTING" else word for word in words])


def in_words(done: Result) -> bool:
    """Say whether a command ended well, or with sentences."""
    return done.exception is None or isinstance(done.exception, TetherError | SystemExit)


@pytest.mark.parametrize("damage", DAMAGES)
def test_no_damage_is_more_than_a_sentence(damage: str, outing: Path) -> None:
    DAMAGES[damage](outing)
    failed = []
    for words in COMMANDS:
        done = typed(words, outing)
        if not in_words(done):
            failed.append((words, repr(done.exception)))
    assert failed == []


def test_what_is_whole_is_gone_on_with(outing: Path) -> None:
    done = typed(("run", "OUTING"), outing)
    assert isinstance(done.exception, LostError)
    assert "Nothing is started here" in str(done.exception)


def test_a_journal_that_another_program_has_locked_is_a_sentence_and_is_read_all_the_same(outing: Path) -> None:
    with closing(sqlite3.connect(outing / JOURNAL_NAME, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        done = {words: typed(words, outing) for words in COMMANDS}
    assert all(in_words(one) for one in done.values())
    assert done["log", "OUTING"].exit_code == 0
    locked = done["run", "OUTING"].exception
    assert isinstance(locked, BusyError)
    assert "locked by another program" in str(locked)


def test_a_journal_that_stays_locked_in_the_midst_of_a_run_is_a_sentence(
    outing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tether.journal.store._WRITES_WITHIN_S", 0.0)
    with closing(Journal.open(outing)) as journal, closing(sqlite3.connect(outing / JOURNAL_NAME)) as other:
        other.isolation_level = None
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(BusyError, match="locked by another program"):
            journal.add(Noted(about="note", text="seen"), utc=datetime.now(UTC), mono_ns=1)
        other.execute("ROLLBACK")
        assert journal.add(Noted(about="note", text="seen"), utc=datetime.now(UTC), mono_ns=1)


def test_a_journal_that_is_locked_for_a_while_in_the_midst_of_a_run_is_waited_for(outing: Path) -> None:
    """A backup or a look into it from outside takes seconds, and nobody is there to go on with the run."""
    with (
        closing(Journal.open(outing)) as journal,
        closing(sqlite3.connect(outing / JOURNAL_NAME, isolation_level=None, check_same_thread=False)) as other,
    ):
        other.execute("BEGIN IMMEDIATE")
        given_up_ms = journal._db.execute("PRAGMA busy_timeout").fetchone()[0]
        freed = threading.Timer(0.05, other.execute, ("ROLLBACK",))
        freed.start()
        assert journal.add(Noted(about="note", text="seen"), utc=datetime.now(UTC), mono_ns=1)
        freed.join()
    assert given_up_ms >= 10_000


def test_a_folder_that_was_moved_is_told_and_gone_on_with_where_it_is_now(outing: Path) -> None:
    moved = outing.with_name("elsewhere")
    outing.rename(moved)
    done = {words: typed(words, moved) for words in COMMANDS}
    assert [words for words, one in done.items() if not in_words(one)] == []
    assert done["log", "OUTING"].exit_code == 0
    assert "Nothing is started here" in str(done["run", "OUTING"].exception)
    gone = {words: typed(words, outing) for words in COMMANDS if words[0] != "rehearse"}
    assert [words for words, one in gone.items() if not in_words(one) or not one.exit_code] == []


@pytest.mark.parametrize("name", ["outing", "outing/frames", "outing/previews"])
def test_a_folder_that_can_not_be_written_is_a_sentence(name: str, outing: Path) -> None:
    folder = outing.parent / name
    folder.chmod(0o500)
    try:
        done = {words: typed(words, outing) for words in COMMANDS}
    finally:
        folder.chmod(0o700)
    assert [words for words, one in done.items() if not in_words(one)] == []


@pytest.mark.parametrize("damage", ["random bytes", "a record at no time"])
def test_the_desk_says_why_there_is_no_log(damage: str, outing: Path) -> None:
    DAMAGES[damage](outing)
    desk = Desk(outing)
    assert desk.told() is None
    assert JOURNAL_NAME in desk.why_not_told or "journal" in desk.why_not_told
