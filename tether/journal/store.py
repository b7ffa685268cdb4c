"""The journal on disk: one SQLite file in the outing's folder, only ever added to.

While a run writes, SQLite keeps a write-ahead log beside the file and flushes it at every record; `Journal.settle`
folds the log into the file, so that copying the folder copies the truth. Nobody but the one writer changes anything:
reading an outing leaves its files as they are, also while it is being written.

When the disk is full, a record of something that *begins* (a run, a ladder, an intent) is refused, so nothing more is
begun; a record of what *happened* is still written, from room that was kept for it.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TypeVar

from tether.errors import BusyError, LostError, PlanError, SupplyError
from tether.journal.codec import Entry, decode, encode
from tether.journal.guards import Reserve, WriterLock, no_writer
from tether.journal.records import Begins, Kept

T = TypeVar("T")

JOURNAL_NAME = "journal.sqlite"
#: "TETH" in ASCII; marks the file as ours in its SQLite header.
APPLICATION_ID = 0x54455448
#: From 2 on a row says of which boot its moment is, and its kind may have a version.
SCHEMA_VERSION = 2

_SCHEMA = """
CREATE TABLE records (
    seq INTEGER PRIMARY KEY,
    utc TEXT NOT NULL,
    mono_ns INTEGER NOT NULL,
    kind TEXT NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body)),
    boot TEXT
) STRICT;
CREATE TRIGGER records_follow_without_gap BEFORE INSERT ON records
WHEN NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM records)
BEGIN SELECT RAISE(ABORT, 'a record must follow the last one without a gap'); END;
CREATE TRIGGER records_stay_as_they_are BEFORE UPDATE ON records
BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER records_stay BEFORE DELETE ON records
BEGIN SELECT RAISE(ABORT, 'a record is never taken out'); END;
"""
_TO_2 = "BEGIN; ALTER TABLE records ADD COLUMN boot TEXT; PRAGMA user_version = 2; COMMIT;"
#: How long a reader in the way may delay the writer [s].
_BUSY_S = 1.0
#: How long a run waits for a journal that another program has locked in its midst, before it ends [s].
_WRITES_WITHIN_S = 15.0


def _uri(path: Path, options: str) -> str:
    return f"{path.resolve().as_uri()}?{options}"


def _no_room(error: sqlite3.OperationalError) -> bool:
    return error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR)


def _sync_folder(folder: Path) -> None:
    file = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(file)
    finally:
        os.close(file)


@contextmanager
def _in_sentences(path: Path) -> Iterator[None]:
    """Turn what SQLite finds wrong with a file into sentences."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # an error of the binding itself has none
        if code == sqlite3.SQLITE_NOTADB:
            raise _foreign(path) from error
        if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise BusyError(
                f"The journal {path} is locked by another program. Close whatever has it open beside this one, then try"
                " again. Nothing in it is changed."
            ) from error
        raise LostError(
            f"The journal {path} is damaged or cannot be read: {error}. The frames are untouched."
        ) from error
    except OSError as error:
        raise PlanError(f"The journal {path} cannot be read or written: {error.strerror}.") from error


def _foreign(path: Path) -> PlanError:
    return PlanError(f"{path} is not a journal of this program. Name the folder of an outing.")


def _damaged(path: Path, how: str) -> LostError:
    return LostError(f"The journal {path} is damaged or cannot be read: {how}. The frames are untouched.")


def _journal_in(folder: Path) -> Path:
    path = folder / JOURNAL_NAME
    if not path.is_file():
        raise PlanError(f"{folder} is not the folder of an outing: there is no {JOURNAL_NAME} in it.")
    return path


def _check_file(db: sqlite3.Connection, path: Path) -> None:
    """Refuse a file that is not ours, newer than this program, or damaged."""
    if db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise _foreign(path)
    version = _version(db)
    if version > SCHEMA_VERSION:
        raise PlanError(
            f"The journal {path} was written by a newer version of this program (journal version {version}; "
            f"this one reads up to {SCHEMA_VERSION}). Use the newer version."
        )
    found = db.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise _damaged(path, found)


def _version(db: sqlite3.Connection) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])


def _entries(db: sqlite3.Connection, since: int = 1) -> tuple[Entry, ...]:
    rows = db.execute("SELECT * FROM records WHERE seq >= ? ORDER BY seq", (since,))
    return tuple(
        Entry(
            seq=seq, utc=_moment(seq, utc), mono_ns=mono_ns, boot=boot[0] if boot else None, record=decode(kind, body)
        )
        for seq, utc, mono_ns, kind, body, *boot in rows
    )


def _bring_up(db: sqlite3.Connection) -> None:
    """Bring a journal of an earlier version up to this one: its rows stay as they are."""
    if _version(db) == 1:
        db.executescript(
            f"BEGIN; ALTER TABLE records ADD COLUMN boot TEXT; PRAGMA user_version = {SCHEMA_VERSION}; COMMIT;"
        )


def _moment(seq: int, utc: str) -> datetime:
    try:
        moment = datetime.fromisoformat(utc)
    except ValueError as error:
        raise LostError(f"Record {seq} of the journal is of no time that can be read: {utc[:40]}") from error
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


class Journal:
    """The journal of one outing, open for writing. Made by `create` or `open`; used from one thread."""

    def __init__(self, folder: Path, lock: WriterLock) -> None:
        self.folder = folder
        self._lock: WriterLock | None = lock
        self._reserve = Reserve(folder)
        path = folder / JOURNAL_NAME
        self._db = sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None)
        try:
            with _in_sentences(path):
                _check_file(self._db, path)
                self._db.execute("PRAGMA journal_mode = WAL")
                self._db.execute("PRAGMA synchronous = FULL")
                _bring_up(self._db)
                self._last: int = self._db.execute("SELECT coalesce(max(seq), 0) FROM records").fetchone()[0]
                _sync_folder(folder)
                self._wait_for_others(_WRITES_WITHIN_S)
        except BaseException:
            self._db.close()
            raise

    @classmethod
    def create(cls, folder: Path) -> Journal:
        """Begin the journal of a new outing.

        Parameters
        ----------
        folder
            The outing's folder; made if it is not there.

        Raises
        ------
        PlanError
            If the folder already holds an outing or cannot be written.
        BusyError
            If another process is writing there.
        """
        path = folder / JOURNAL_NAME
        with _in_sentences(path):
            folder.mkdir(parents=True, exist_ok=True)
            lock = WriterLock(folder)
        try:
            if path.exists():
                raise PlanError(f"{folder} already holds an outing. Name a new folder, or resume that outing.")
            # Made whole under another name first, so that a journal is there entirely or not at all.
            being_made = folder / f"{JOURNAL_NAME}.new"
            with _in_sentences(path):
                being_made.unlink(missing_ok=True)
                with closing(sqlite3.connect(being_made, isolation_level=None)) as db:
                    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                    db.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
                    db.executescript(_SCHEMA)
                being_made.rename(path)
            return cls(folder, lock)
        except BaseException:
            lock.release()
            raise

    @classmethod
    def open(cls, folder: Path) -> Journal:
        """Open the journal of an outing that is to go on.

        Raises
        ------
        PlanError
            If there is no journal, it is not ours, newer than this program, or cannot be written.
        BusyError
            If another process is writing it.
        LostError
            If it is damaged.
        """
        path = _journal_in(folder)
        with _in_sentences(path):
            lock = WriterLock(folder)
        try:
            return cls(folder, lock)
        except BaseException:
            lock.release()
            raise

    def add(self, record: Kept, *, utc: datetime, mono_ns: int, boot: str | None = None) -> int:
        """Append one record and return its number once it is safely on disk.

        Parameters
        ----------
        record
            What is to be kept.
        utc
            Wall time, aware.
        mono_ns, boot
            The run's monotonic clock [ns], and the boot of the machine that it belongs to.

        Raises
        ------
        SupplyError
            If the disk is full and the record begins something (nothing was written, so nothing is to be begun), or
            if even the reserve is used up.
        BusyError, LostError
            If another program has it locked, or it is damaged.
        ValueError
            If the record could not be read back.
        """
        if utc.tzinfo is None:
            raise ValueError("a record's wall time must be aware")
        stamp = utc.astimezone(UTC).isoformat(timespec="microseconds")
        row = (self._last + 1, stamp, mono_ns, *encode(record), boot)
        with _in_sentences(self.folder / JOURNAL_NAME):
            if isinstance(record, Begins):
                self._begin(row)
            else:
                self._from_reserve(lambda: self._insert(row))
        self._last += 1
        return self._last

    def _begin(self, row: tuple[object, ...]) -> None:
        try:
            self._reserve.keep()
            self._insert(row)
        except OSError as error:
            raise self._full() from error
        except sqlite3.OperationalError as error:
            if _no_room(error):
                raise self._full() from error
            raise

    def _from_reserve(self, write: Callable[[], T]) -> T:
        """Write; where the disk is full, give up the reserve and write again."""
        try:
            return write()
        except sqlite3.OperationalError as error:
            if not _no_room(error):
                raise
        self._reserve.release()
        try:
            return write()
        except sqlite3.OperationalError as error:
            raise self._full() from error

    def _insert(self, row: tuple[object, ...]) -> None:
        self._db.execute("INSERT INTO records (seq, utc, mono_ns, kind, body, boot) VALUES (?, ?, ?, ?, ?, ?)", row)

    def _wait_for_others(self, at_most_s: float) -> None:
        self._db.execute(f"PRAGMA busy_timeout = {round(at_most_s * 1000)}")

    def _full(self) -> SupplyError:
        return SupplyError(
            f"The disk that holds {self.folder} is full or cannot be written. Free some room on it, then go on; "
            "what was done so far is in the journal."
        )

    def entries(self) -> tuple[Entry, ...]:
        """Return every record so far, oldest first."""
        with _in_sentences(self.folder / JOURNAL_NAME):
            return _entries(self._db)

    def settle(self) -> bool:
        """Fold the write-ahead log into the file, so that copying the folder copies the truth.

        Returns
        -------
        bool
            False if a reader was in the way; then the log still stands beside the file and nothing is lost.

        Raises
        ------
        SupplyError
            If the disk is full and the reserve does not suffice.
        """
        with _in_sentences(self.folder / JOURNAL_NAME):
            self._wait_for_others(_BUSY_S)
            row = self._from_reserve(lambda: self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone())
            self._wait_for_others(_WRITES_WITHIN_S)
        return bool(row[0] == 0)

    def close(self) -> None:
        """Settle, leave one whole file, and let other writers in. Harmless when closed before."""
        if self._lock is None:
            return
        try:
            self._reserve.release()
            # A plain file needs nothing beside it to be read. With a reader in the way it stays as it is, whole too.
            with suppress(sqlite3.DatabaseError):
                self._wait_for_others(_BUSY_S)
                self._db.execute("PRAGMA journal_mode = DELETE")
        finally:
            self._db.close()
            self._lock.release()
            self._lock = None


def open_journal(outing: Path) -> Journal:
    """Open the journal of an outing, or begin it where there is none."""
    return Journal.open(outing) if (outing / JOURNAL_NAME).exists() else Journal.create(outing)


@dataclass(frozen=True, kw_only=True)
class Contents:
    """What a journal holds, oldest first, and whether a run is still writing it."""

    entries: tuple[Entry, ...]
    running: bool


def _read(path: Path, uri: str, since: int) -> tuple[Entry, ...]:
    with _in_sentences(path), closing(sqlite3.connect(uri, uri=True, timeout=_BUSY_S)) as db:
        _check_file(db, path)
        return _entries(db, since)


def _read_at_rest(path: Path, since: int) -> tuple[Entry, ...]:
    """Read a journal that nobody writes; one that was never settled is read from a copy, so that it stays as it is."""
    beside = [side for side in (Path(f"{path}-wal"), Path(f"{path}-journal")) if side.exists() and side.stat().st_size]
    if not beside:
        return _read(path, _uri(path, "immutable=1"), since)
    with TemporaryDirectory(prefix="tether-") as there:
        for file in (path, *beside):
            shutil.copyfile(file, Path(there) / file.name)
        return _read(path, _uri(Path(there) / path.name, "mode=rw"), since)


def read_contents(folder: Path, since: int = 1) -> Contents:
    """Read an outing's journal without changing anything, also while a run writes it.

    Parameters
    ----------
    folder
        The outing's folder, or a copy of it.
    since
        The number of the first record that is wanted.

    Raises
    ------
    PlanError
        If there is no journal, it is not ours, or it is newer than this program.
    LostError
        If it is damaged.
    """
    path = _journal_in(folder)
    with _in_sentences(path), no_writer(folder) as at_rest:
        if at_rest:
            return Contents(entries=_read_at_rest(path, since), running=False)
        return Contents(entries=_read(path, _uri(path, "mode=ro"), since), running=True)
