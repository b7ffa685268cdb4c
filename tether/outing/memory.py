"""Where outings are, and what they tell of how long things take: a small database in the user's data folder.

Nothing stands in it that the outings' journals do not tell. It can be deleted at any time: then nobody knows where
outings are until they are shown again, and no more is lost.
What stands in it is described in ``docs/learning.md``.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tether.errors import LostError, PlanError, SupplyError, system_reason
from tether.files.state import data_folder
from tether.plan.learned import Case

MEMORY_NAME = "outings.sqlite"
#: "TETM" in ASCII; marks the file as ours in its SQLite header.
APPLICATION_ID = 0x5445544D
SCHEMA_VERSION = 1

_SCHEMA = f"""
BEGIN IMMEDIATE;
CREATE TABLE IF NOT EXISTS outings (
    mark TEXT PRIMARY KEY,
    folder TEXT NOT NULL,
    title TEXT NOT NULL,
    begun_utc TEXT NOT NULL,
    seen_utc TEXT NOT NULL
) STRICT;
CREATE TABLE IF NOT EXISTS cases (
    mark TEXT NOT NULL REFERENCES outings (mark) ON DELETE CASCADE,
    what TEXT NOT NULL,
    of_what TEXT NOT NULL,
    value REAL NOT NULL
) STRICT;
PRAGMA application_id = {APPLICATION_ID};
PRAGMA user_version = {SCHEMA_VERSION};
COMMIT;
"""


@dataclass(frozen=True, kw_only=True)
class Remembered:
    """An outing that is remembered: its mark, where it was last seen, its title, and when it was begun."""

    mark: str
    folder: Path
    title: str
    begun_utc: datetime


def memory_path() -> Path:
    """Return where the memory lies; it need not exist."""
    return data_folder() / MEMORY_NAME


def remembered() -> tuple[Remembered, ...]:
    """Return the outings that are remembered, oldest first; none where there is no memory.

    Raises
    ------
    LostError, PlanError
        If the file is damaged, not ours, or newer than this program.
    """
    rows = _rows("SELECT mark, folder, title, begun_utc FROM outings ORDER BY begun_utc, mark")
    return tuple(
        Remembered(mark=mark, folder=Path(folder), title=title, begun_utc=datetime.fromisoformat(begun_utc))
        for mark, folder, title, begun_utc in rows
    )


def cases() -> tuple[Case, ...]:
    """Return what remembered outings tell of how long things take; none where there is no memory.

    Raises as `remembered` does.
    """
    rows = _rows("SELECT mark, what, of_what, value FROM cases ORDER BY rowid")
    return tuple(Case(outing=mark, what=what, of=of, value=value) for mark, what, of, value in rows)


def _rows(query: str) -> list[Any]:
    if not memory_path().exists():
        return []
    with _opened() as db:
        return db.execute(query).fetchall()


def remember(*outings: Remembered, told: Iterable[Case] = ()) -> None:
    """Remember outings as seen now, and what they tell, each in the place of what was known of it before.

    Raises
    ------
    LostError, PlanError
        As `remembered` does.
    SupplyError
        If it can't be written.
    """
    seen_utc = datetime.now(UTC)
    with _opened() as db, db:
        for one in outings:
            row = (one.mark, str(one.folder), one.title, _text(one.begun_utc), _text(seen_utc))
            db.execute("INSERT OR REPLACE INTO outings VALUES (?, ?, ?, ?, ?)", row)
            db.execute("DELETE FROM cases WHERE mark = ?", (one.mark,))
        rows = [(case.outing, case.what, case.of, case.value) for case in told]
        db.executemany("INSERT INTO cases VALUES (?, ?, ?, ?)", rows)


def forget(marks: set[str]) -> None:
    """Forget outings; nothing is done to the outings themselves. Raises as `remember` does."""
    with _opened() as db, db:
        db.executemany("DELETE FROM outings WHERE mark = ?", [(mark,) for mark in sorted(marks)])


def forget_all() -> None:
    """Delete the memory, even a damaged one. Raises SupplyError if it can't be deleted."""
    path = memory_path()
    try:
        for part in (path, Path(f"{path}-journal")):
            part.unlink(missing_ok=True)
    except OSError as error:
        raise SupplyError(f"{path}: cannot be deleted: {system_reason(error)}.") from error


def _text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds")


@contextmanager
def _opened() -> Iterator[sqlite3.Connection]:
    """Open the memory, made if need be, and turn what SQLite finds wrong with it into sentences."""
    path = memory_path()
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with closing(sqlite3.connect(path)) as db:
            _check(db, path)
            db.execute("PRAGMA foreign_keys = ON")
            yield db
    except OSError as error:
        raise SupplyError(f"{path}: cannot be written: {system_reason(error)}.") from error
    except sqlite3.OperationalError as error:
        raise SupplyError(f"{path}: cannot be read or written: {error}.") from error
    except sqlite3.DatabaseError as error:
        raise LostError(f"{path} is damaged: {error}. {_DELETE}") from error


#: What to do with a memory that can't be used.
_DELETE = "It only says where outings are, so delete it: tether outings --forget"


def _check(db: sqlite3.Connection, path: Path) -> None:
    """Begin a memory that is empty; refuse one that is not ours, or newer than this program."""
    if not db.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]:
        db.executescript(_SCHEMA)
    if db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise PlanError(f"{path} is not the memory of this program; move it away.")
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    if version > SCHEMA_VERSION:
        raise PlanError(
            f"{path} was written by a newer version of this program (version {version}; this one reads up to"
            f" {SCHEMA_VERSION}). {_DELETE}"
        )
