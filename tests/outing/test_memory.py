"""The memory of where outings are: what it keeps, what it forgets, and what is said of one that can't be used."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tether.errors import LostError, PlanError, SupplyError
from tether.outing.memory import (
    MEMORY_NAME,
    Remembered,
    cases,
    forget,
    forget_all,
    memory_path,
    remember,
    remembered,
)
from tether.plan.learned import Case

WEIR = Remembered(
    mark="2026-10-03T16:30:05.000000+00:00 5000000000",
    folder=Path("/pictures/weir"),
    title="Weir below the mill",
    begun_utc=datetime(2026, 10, 3, 16, 30, 5, tzinfo=UTC),
)
COAST = replace(WEIR, mark="another", title="Coast", begun_utc=datetime(2026, 9, 1, 5, 0, tzinfo=UTC))


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data"


def test_nothing_is_remembered_at_first_and_asking_makes_no_file(home: Path) -> None:
    assert remembered() == ()
    assert not home.exists()


def test_what_is_remembered_comes_back_oldest_first_and_is_the_users_alone(home: Path) -> None:
    remember(WEIR, COAST)
    assert remembered() == (COAST, WEIR)
    assert (home / "tether").stat().st_mode & 0o777 == 0o700
    assert memory_path() == home / "tether" / MEMORY_NAME


def test_an_outing_is_remembered_once_where_it_was_last_seen() -> None:
    remember(WEIR)
    moved = replace(WEIR, folder=Path("/disk/weir"))
    remember(moved)
    assert remembered() == (moved,)


def test_what_is_forgotten_is_gone_from_it_alone() -> None:
    remember(WEIR, COAST)
    forget({COAST.mark})
    assert remembered() == (WEIR,)


def test_what_an_outing_tells_goes_with_it_and_is_told_anew_each_time() -> None:
    assert cases() == ()
    case = Case(outing=WEIR.mark, what="filter change", of="screwed", value=41.0)
    other = replace(case, outing=COAST.mark, value=38.5)
    remember(WEIR, COAST, told=[case, other])
    assert cases() == (case, other)
    again = replace(case, value=40.0)
    remember(WEIR, told=[again])
    assert set(cases()) == {other, again}
    forget({WEIR.mark})
    assert cases() == (other,)


@pytest.mark.parametrize("content", [b"no database at all, " * 100, b""], ids=["not one", "empty"])
def test_a_memory_that_is_no_database_can_be_forgotten(content: bytes) -> None:
    memory_path().parent.mkdir(parents=True)
    memory_path().write_bytes(content)
    if content:
        with pytest.raises(LostError, match=r"outings\.sqlite is damaged: .* delete it: tether outings --forget"):
            remembered()
    else:
        assert remembered() == ()
    forget_all()
    forget_all()
    assert remembered() == ()
    assert not memory_path().exists()


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("PRAGMA user_version = 99", "was written by a newer version of this program .version 99"),
        ("PRAGMA application_id = 7", "is not the memory of this program; move it away"),
    ],
)
def test_one_of_another_program_or_a_newer_one_is_left_alone(statement: str, said: str) -> None:
    remember(WEIR)
    with closing(sqlite3.connect(memory_path())) as db:
        db.execute(statement)
    with pytest.raises(PlanError, match=said):
        remembered()


def test_where_it_cannot_be_written_that_is_said(home: Path) -> None:
    home.write_text("in the way")
    with pytest.raises(SupplyError, match=r"outings\.sqlite: cannot be written: "):
        remember(WEIR)
