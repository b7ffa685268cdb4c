"""The journal on disk: durable, append-only, one writer, readers that change nothing, room for a full disk."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from tests.journal.outings import START, as_entries, ladder_started, run_started, weir, write_outing
from tether.errors import BusyError, LostError, PlanError, SupplyError
from tether.journal.guards import RESERVE_NAME, Reserve
from tether.journal.records import FetchIntent, Noted, Steered
from tether.journal.store import JOURNAL_NAME, Journal, read_contents

ROOT = Path(__file__).parents[2]
NOTE = Noted(about="note", text="The wind dropped.")
INTENT = FetchIntent(frame=1, folder="/DCIM", name="SIM_0001.DNG")


def add(journal: Journal, *records: object) -> None:
    for record in records:
        journal.add(record, utc=START, mono_ns=1)  # type: ignore[arg-type]


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def picture_of(folder: Path) -> dict[str, tuple[bytes, int]]:
    return {path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in folder.iterdir()}


def test_what_was_added_is_read_back_in_order(tmp_path: Path) -> None:
    write_outing(tmp_path / "weir", weir())
    assert read_contents(tmp_path / "weir").entries == as_entries(weir())


def test_each_record_is_flushed_to_a_write_ahead_log(tmp_path: Path) -> None:
    write_outing(tmp_path, [run_started()])
    with closing(Journal.open(tmp_path)) as journal:
        assert journal._db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert journal._db.execute("PRAGMA synchronous").fetchone() == (2,)  # 2 is FULL


def test_numbers_go_on_without_a_gap_when_opened_again(tmp_path: Path) -> None:
    write_outing(tmp_path, [run_started(), NOTE])
    journal = Journal.open(tmp_path)
    assert journal.add(NOTE, utc=START, mono_ns=1) == 3
    assert [entry.seq for entry in journal.entries()] == [1, 2, 3]
    journal.close()


def test_wall_time_is_kept_in_utc_to_the_microsecond(tmp_path: Path) -> None:
    local = datetime(2026, 10, 3, 18, 30, 0, 123456, tzinfo=timezone(timedelta(hours=2)))
    journal = Journal.create(tmp_path)
    journal.add(NOTE, utc=local, mono_ns=7)
    (entry,) = journal.entries()
    journal.close()
    assert (entry.utc, entry.utc.tzinfo, entry.mono_ns) == (local, UTC, 7)


def test_a_time_without_zone_is_refused(tmp_path: Path) -> None:
    with closing(Journal.create(tmp_path)) as journal, pytest.raises(ValueError, match="aware"):
        journal.add(NOTE, utc=datetime(2026, 10, 3), mono_ns=1)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE records SET kind = 'Steered' WHERE seq = 1",
        "DELETE FROM records WHERE seq = 2",
        "INSERT INTO records VALUES (4, '', 1, 'Noted', '{}', NULL)",
        "INSERT OR REPLACE INTO records VALUES (1, '', 1, 'Noted', '{}', NULL)",
        "INSERT INTO records VALUES (3, '', 1, 'Noted', 'not json', NULL)",
    ],
)
def test_the_file_itself_refuses_to_change_what_is_written(tmp_path: Path, change: str) -> None:
    write_outing(tmp_path, [run_started(), NOTE])
    with closing(sqlite3.connect(tmp_path / JOURNAL_NAME)) as db, pytest.raises(sqlite3.IntegrityError):
        db.execute(change)


def test_a_killed_writer_loses_nothing_that_was_added(tmp_path: Path) -> None:
    script = (
        "import os, sys\nfrom pathlib import Path\n"
        "from tests.journal.outings import START, run_started\nfrom tether.journal.store import Journal\n"
        "journal = Journal.create(Path(sys.argv[1]))\n"
        "journal.add(run_started(), utc=START, mono_ns=1)\nos.kill(os.getpid(), 9)\n"
    )
    outing = tmp_path / "weir"
    done = subprocess.run([sys.executable, "-c", script, str(outing)], cwd=ROOT, check=False)
    assert done.returncode == -9
    before = picture_of(outing)
    contents = read_contents(outing)
    assert [entry.record for entry in contents.entries] == [run_started()]
    assert not contents.running
    assert picture_of(outing) == before
    journal = Journal.open(outing)
    assert journal.add(NOTE, utc=START, mono_ns=2) == 2
    journal.close()


def test_reading_while_a_run_writes_sees_all_and_says_so(tmp_path: Path) -> None:
    with closing(Journal.create(tmp_path)) as journal:
        add(journal, run_started(), NOTE)
        names = names_in(tmp_path)
        kept = (tmp_path / JOURNAL_NAME).read_bytes()
        contents = read_contents(tmp_path)
        assert [entry.record for entry in contents.entries] == [run_started(), NOTE]
        assert contents.running
        assert names_in(tmp_path) == names
        assert (tmp_path / JOURNAL_NAME).read_bytes() == kept
        add(journal, NOTE)


def test_a_settled_journal_is_whole_in_its_one_file(tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    copy.mkdir()
    with closing(Journal.create(tmp_path / "weir")) as journal:
        add(journal, run_started(), NOTE)
        assert journal.settle()
        shutil.copy(tmp_path / "weir" / JOURNAL_NAME, copy)
    assert [entry.record for entry in read_contents(copy).entries] == [run_started(), NOTE]
    assert names_in(copy) == [JOURNAL_NAME]


def test_a_reader_in_the_way_of_settling_loses_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tether.journal.store._BUSY_S", 0.0)
    with closing(Journal.create(tmp_path)) as journal:
        add(journal, run_started())
        with closing(sqlite3.connect(tmp_path / JOURNAL_NAME, isolation_level=None)) as reader:
            reader.execute("BEGIN")
            reader.execute("SELECT * FROM records").fetchall()
            add(journal, NOTE)
            assert not journal.settle()
        assert journal.settle()
        assert len(journal.entries()) == 2


def test_a_copy_with_an_unsettled_log_is_read_and_left_as_it_is(tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    with closing(Journal.create(tmp_path / "weir")) as journal:
        add(journal, run_started(), NOTE)
        shutil.copytree(tmp_path / "weir", copy)
    before = picture_of(copy)
    assert [entry.record for entry in read_contents(copy).entries] == [run_started(), NOTE]
    assert picture_of(copy) == before


def test_a_closed_journal_needs_nothing_beside_it_and_closes_twice(tmp_path: Path) -> None:
    journal = Journal.create(tmp_path)
    add(journal, run_started())
    journal.close()
    journal.close()
    assert names_in(tmp_path) == ["journal.lock", JOURNAL_NAME]
    before = picture_of(tmp_path)
    read_contents(tmp_path)
    assert picture_of(tmp_path) == before


def test_a_second_writer_is_refused_and_told_who_writes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tether.journal.guards._PATIENCE_S", 0.0)
    with (
        closing(Journal.create(tmp_path)),
        pytest.raises(BusyError, match=f"process {os.getpid()}"),
    ):
        Journal.open(tmp_path)
    Journal.open(tmp_path).close()


def test_creating_over_an_outing_is_refused(tmp_path: Path) -> None:
    write_outing(tmp_path, weir())
    with pytest.raises(PlanError, match="already holds an outing"):
        Journal.create(tmp_path)
    assert len(read_contents(tmp_path).entries) == len(weir())


def test_a_half_made_journal_is_made_anew(tmp_path: Path) -> None:
    (tmp_path / f"{JOURNAL_NAME}.new").write_bytes(b"half")
    Journal.create(tmp_path).close()
    assert read_contents(tmp_path).entries == ()


@pytest.mark.parametrize("read", [read_contents, Journal.open])
class TestWrongFiles:
    def test_missing(self, tmp_path: Path, read: type) -> None:
        with pytest.raises(PlanError, match=r"not the folder of an outing: there is no journal\.sqlite"):
            read(tmp_path)

    @pytest.mark.parametrize("content", [b"", b"a letter from home, rather longer than a header would be" * 20])
    def test_not_ours(self, tmp_path: Path, read: type, content: bytes) -> None:
        (tmp_path / JOURNAL_NAME).write_bytes(content)
        with pytest.raises(PlanError, match="not a journal of this program"):
            read(tmp_path)
        assert (tmp_path / JOURNAL_NAME).read_bytes() == content

    def test_another_programs_database(self, tmp_path: Path, read: type) -> None:
        with closing(sqlite3.connect(tmp_path / JOURNAL_NAME)) as db:
            db.execute("CREATE TABLE records (seq)")
        with pytest.raises(PlanError, match="not a journal of this program"):
            read(tmp_path)

    def test_newer(self, tmp_path: Path, read: type) -> None:
        write_outing(tmp_path, [run_started()])
        with closing(sqlite3.connect(tmp_path / JOURNAL_NAME)) as db:
            db.execute("PRAGMA user_version = 3")
        with pytest.raises(PlanError, match=r"newer version of this program \(journal version 3"):
            read(tmp_path)

    def test_damaged(self, tmp_path: Path, read: type) -> None:
        write_outing(tmp_path, weir())
        path = tmp_path / JOURNAL_NAME
        whole = path.read_bytes()
        path.write_bytes(whole[:8192] + b"\xa5" * 4096 + whole[12288:])
        with pytest.raises(LostError, match="damaged"):
            read(tmp_path)

    def test_cut_off(self, tmp_path: Path, read: type) -> None:
        write_outing(tmp_path, weir())
        path = tmp_path / JOURNAL_NAME
        path.write_bytes(path.read_bytes()[:-5000])
        with pytest.raises(LostError, match="damaged"):
            read(tmp_path)


def test_a_folder_that_cannot_be_made_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(PlanError, match="cannot be read or written"):
        Journal.create(tmp_path / "file" / "outing")


def cap_pages(journal: Journal) -> None:
    """Let the database grow no further, as a full disk would."""
    journal.settle()
    pages = journal._db.execute("PRAGMA page_count").fetchone()[0]
    journal._db.execute(f"PRAGMA max_page_count = {pages}")


@pytest.fixture
def full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Journal:
    """A journal on a disk with no more room than what the reserve gives back."""
    journal = Journal.create(tmp_path)
    add(journal, run_started(), ladder_started())
    give_back, keep = Reserve.release, Reserve.keep

    def release(reserve: Reserve) -> None:
        give_back(reserve)
        journal._db.execute("PRAGMA max_page_count = 100000")

    def keep_if_room(reserve: Reserve) -> None:
        if not (tmp_path / RESERVE_NAME).exists():
            raise OSError(28, "No space left on device")
        keep(reserve)

    monkeypatch.setattr(Reserve, "release", release)
    monkeypatch.setattr(Reserve, "keep", keep_if_room)
    cap_pages(journal)
    return journal


LONG = Steered(verb="pause", effect="a" * 50_000)


def test_on_a_full_disk_what_happened_is_kept_from_the_reserve(full: Journal) -> None:
    add(full, LONG)
    assert not (full.folder / RESERVE_NAME).exists()
    assert full.entries()[-1].record == LONG
    full.close()
    assert read_contents(full.folder).entries[-1].record == LONG


def test_on_a_full_disk_nothing_more_is_begun(full: Journal) -> None:
    add(full, LONG)
    with pytest.raises(SupplyError, match="full"):
        add(full, INTENT)
    assert full.entries()[-1].record == LONG
    add(full, NOTE)
    assert full.entries()[-1].record == NOTE
    full.close()


def test_an_intent_that_finds_the_disk_full_is_not_written_and_spares_the_reserve(full: Journal) -> None:
    with pytest.raises(SupplyError, match="Free some room"):
        add(full, FetchIntent(frame=1, folder="a" * 50_000, name="SIM_0001.DNG"))
    assert (full.folder / RESERVE_NAME).exists()
    assert full.entries()[-1].record == ladder_started()
    full.close()


def test_when_room_was_freed_the_run_goes_on_with_a_new_reserve(full: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    add(full, LONG)
    monkeypatch.undo()
    add(full, INTENT)
    assert (full.folder / RESERVE_NAME).stat().st_size > 1_000_000
    assert full.entries()[-1].record == INTENT
    full.close()


def test_a_disk_full_beyond_the_reserve_is_a_sentence(full: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Reserve, "release", lambda _: None)
    with pytest.raises(SupplyError, match="full"):
        add(full, LONG)
    assert full.entries()[-1].record == ladder_started()
    full.close()


def test_no_room_for_a_reserve_refuses_the_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_room(*_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "posix_fallocate", no_room)
    with closing(Journal.create(tmp_path)) as journal:
        with pytest.raises(SupplyError, match="full"):
            add(journal, run_started())
        assert journal.entries() == ()
        assert not (tmp_path / RESERVE_NAME).exists()


def test_a_journal_of_version_1_is_read_as_it_is_and_brought_up_where_it_is_written(tmp_path: Path) -> None:
    """It was written by release 0.1."""
    before = Path(__file__).parents[1] / "data" / "outings-0.1" / "finished"
    (tmp_path / JOURNAL_NAME).write_bytes((before / JOURNAL_NAME).read_bytes())
    read = read_contents(tmp_path).entries
    with closing(Journal.open(tmp_path)) as journal:
        journal.add(NOTE, utc=START, mono_ns=1, boot="this one")
        assert journal.entries()[:-1] == read
    *old, new = read_contents(tmp_path).entries
    assert tuple(old) == read
    assert {one.boot for one in old} == {None}
    assert (new.record, new.boot) == (NOTE, "this one")
