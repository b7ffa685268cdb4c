"""What is told is kept before it is shown; what can't be kept is shown all the same, and nothing more is begun."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, TEN, work
from tests.journal.shown import exposed, rung_ended
from tether.clock import AffineClock, SteppedClock, boot_id
from tether.control.commands import Verb
from tether.control.stream import Stream
from tether.errors import SupplyError
from tether.journal.codec import Entry
from tether.journal.records import (
    Applied,
    ApplyIntent,
    CardListed,
    ExposeOutcome,
    FrameOpened,
    Kept,
    LadderEnded,
    Mentioned,
    Record,
    Steered,
)
from tether.journal.store import Journal, read_contents

FULL = SupplyError("The disk is full.")
INTENT = ApplyIntent(frame=1, asked=Applied())


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with closing(Journal.create(tmp_path / "outing")) as journal:
        yield journal


def full(_self: Journal, _record: Kept | None = None, **_at: object) -> int:
    raise FULL


def test_what_faces_hear_is_on_disk_already(journal: Journal) -> None:
    on_disk: list[int | None] = []
    stream = Stream(
        journal, SteppedClock(), lambda _entry: on_disk.append(read_contents(journal.folder).entries[-1].seq)
    )
    stream.tell(CardListed(ladder=1, files=[]))
    stream.tell(exposed(1))
    assert on_disk == [2]


def test_numbers_of_journal_and_stream_are_apart_and_without_a_gap(journal: Journal) -> None:
    shown: list[Entry] = []
    stream = Stream(journal, SteppedClock(), shown.append)
    for record in (INTENT, exposed(1), Mentioned(about="note", text=""), rung_ended(1)):
        stream.tell(record)
    assert [(one.stream, one.seq) for one in shown] == [(1, 2), (2, None), (3, 3)]


@pytest.mark.parametrize(("clock", "boot"), [(AffineClock(), boot_id() or None), (SteppedClock(), None)])
def test_a_moment_says_of_which_boot_it_is_where_it_is_of_one(
    journal: Journal, clock: AffineClock | SteppedClock, boot: str | None
) -> None:
    Stream(journal, clock, lambda _entry: None).tell(exposed(1))
    assert journal.entries()[0].boot == boot


def test_what_could_not_be_kept_is_shown_and_nothing_more_is_begun(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[Record] = []
    stream = Stream(journal, SteppedClock(), lambda entry: shown.append(entry.record))
    with monkeypatch.context() as patch:
        patch.setattr(Journal, "add", full)
        stream.tell(exposed(1))
    assert shown == [exposed(1)]
    with pytest.raises(SupplyError):
        stream.tell(INTENT)
    assert journal.entries() == ()


def test_what_may_not_begin_is_no_loss(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Stream(journal, SteppedClock(), lambda _entry: None)
    with monkeypatch.context() as patch:
        patch.setattr(Journal, "add", full)
        with pytest.raises(SupplyError):
            stream.tell(INTENT)
    stream.tell(INTENT)  # once there is room
    assert [entry.record for entry in journal.entries()] == [INTENT]


def test_a_stop_is_heard_in_a_hold_though_the_disk_is_full_and_faces_hear_the_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The hold is of two minutes; the disk is full to the last byte from the moment the shutter is open."""

    def when(record: Record) -> Verb | None:
        if isinstance(record, FrameOpened) and record.way == "held":
            monkeypatch.setattr(Journal, "add", full)
            monkeypatch.setattr(Journal, "settle", full)
            return "stop now and keep"
        return None

    worked = work(tmp_path, BASE + '[rungs]\ntimes = ["2m"]\n[run]\nproof = false\n' + SIX + TEN, when=when)
    assert any(isinstance(one, Steered) for one in worked.events)
    (over,) = (one for one in worked.events if isinstance(one, ExposeOutcome))
    assert over.outcome == "closed early"
    assert over.held_s is not None
    assert over.held_s < 1.0
    ended = worked.events[-1]
    assert isinstance(ended, LadderEnded)
    assert (ended.outcome, ended.note, ended.trouble) == ("failed", "The disk is full.", "supply")
