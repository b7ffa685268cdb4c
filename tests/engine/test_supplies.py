"""What is left to work with, and what was said and is still to be done: told to the faces while a ladder is worked."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from functools import reduce
from pathlib import Path

import pytest

from tests.engine.rig import BASE, Worked, work, world
from tether.body.protocol import Status
from tether.body.simulated.body import SimulatedBody
from tether.journal.history import known_files
from tether.journal.records import (
    CardListed,
    ExposeOutcome,
    FrameOpened,
    Record,
    RungEnded,
    SuppliesSeen,
    WishesChanged,
)
from tether.journal.snapshot import Snapshot, after
from tether.journal.store import open_journal
from tether.report.told import supplies

THREE = BASE + '[rungs]\ntimes = ["1/250", "1/125", "1/60"]\nframes = 2\n'


def test_battery_card_and_disk_are_told_before_each_rung_and_never_while_open(tmp_path: Path) -> None:
    worked = work(tmp_path, THREE, truth=world(battery=0.5, battery_per_frame=0.05, card_frames=100))
    seen = [one for one in worked.events if isinstance(one, SuppliesSeen)]
    assert [one.to_come for one in seen] == [6, 4, 2]
    assert [one.battery for one in seen] == pytest.approx([0.5, 0.4, 0.3], abs=1e-4)
    assert [one.card_frames for one in seen] == [100, 98, 96]
    assert all(one.disk_bytes and one.disk_frames for one in seen)
    open_now = False
    for event in worked.events:
        open_now = isinstance(event, FrameOpened) or (open_now and not isinstance(event, ExposeOutcome))
        assert not (open_now and isinstance(event, SuppliesSeen))


def test_a_new_battery_is_told_at_once(tmp_path: Path) -> None:
    worked = work(tmp_path, THREE, truth=world(battery=0.3, battery_per_frame=0.14))
    seen = [one.battery for one in worked.events if isinstance(one, SuppliesSeen)]
    assert seen == pytest.approx([0.3, 0.02, 1.0, 0.72], abs=1e-4)
    assert [turn.what for turn in worked.ladder.turns] == ["change the battery"]


def turns(worked: Worked) -> list[str]:
    """Return what was asked for, in order."""
    return [turn.what for turn in worked.ladder.turns]


def unchanged(monkeypatch: pytest.MonkeyPatch, says: Callable[[Status, int], Status]) -> None:
    """Have the simulated body tell something else of itself once frames were made, whatever the person does."""
    told = SimulatedBody.status
    monkeypatch.setattr(SimulatedBody, "status", lambda body: says(told(body), body.made) if body.made else told(body))


def low(status: Status, _made: int) -> Status:
    return replace(status, battery=None, battery_low=True)


def test_a_battery_that_is_low_by_a_word_is_asked_for_and_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    unchanged(monkeypatch, low)
    worked = work(tmp_path, THREE)
    assert {one.battery_low for one in worked.events if isinstance(one, SuppliesSeen)} == {None, True}
    assert worked.ladder.turns[0].reason == "the camera says that its battery is low"


def test_a_turn_that_was_answered_and_changed_nothing_is_asked_again_but_not_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    unchanged(monkeypatch, low)
    worked = work(tmp_path, THREE)
    assert turns(worked) == ["change the battery"] * 2, "twice at the second rung, and then no more"
    assert worked.notes().count("Nothing has changed: the camera says that its battery is low.") == 2
    assert worked.outcome == "done"


def test_on_another_card_the_names_of_the_one_before_are_new_again(tmp_path: Path) -> None:
    worked = work(tmp_path, THREE, truth=world(card_frames=3))
    assert turns(worked)[0] == "change the card"
    with closing(open_journal(worked.folder)) as journal:
        entries = journal.entries()
    listed = [at for at, one in enumerate(entries) if isinstance(one.record, CardListed)]
    assert len(listed) == 1 + turns(worked).count("change the card")
    assert len(known_files(entries[: listed[1]])) == 2
    assert known_files(entries[: listed[1]]).isdisjoint(known_files(entries))
    assert worked.outcome == "done"


def test_battery_goes_before_card(tmp_path: Path) -> None:
    worked = work(tmp_path, THREE, truth=world(battery=0.09, battery_per_frame=0.03, card_frames=3))
    assert turns(worked)[:2] == ["change the battery", "change the card"]
    assert "Nothing has changed" not in worked.notes()


def test_a_card_that_was_not_changed_is_asked_for_again_when_less_room_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    unchanged(monkeypatch, lambda status, made: replace(status, card_frames_left=(4 - made) // 2))
    worked = work(tmp_path, THREE)
    assert turns(worked) == ["change the card"] * 4, "twice for one frame too few, twice for a full card"


def test_a_frame_refused_for_want_of_a_card_is_asked_for_and_taken_again(tmp_path: Path) -> None:
    worked = work(tmp_path, THREE, truth=world(faults=[{"what": "card full", "at_frame": 3}]))
    assert turns(worked) == ["change the card"]
    assert worked.ladder.turns[0].reason == "The card of the simulated body is full; change or clear it."
    assert worked.outcome == "done"
    assert worked.rung_outcomes() == ["done"] * 3


def test_what_was_said_is_told_as_still_to_be_done_until_it_is(tmp_path: Path) -> None:
    said: list[str] = []

    def when(event: Record) -> str | None:
        if isinstance(event, FrameOpened) and not said:
            said.append("again")
            return "again"
        return None

    worked = work(tmp_path, THREE, when=when)  # type: ignore[arg-type]
    told = [one.pending for one in worked.events if isinstance(one, WishesChanged)]
    assert told == [["1 more of this rung"], []]
    over = next(at for at, one in enumerate(worked.events) if isinstance(one, RungEnded))
    cleared = next(at for at, one in enumerate(worked.events) if isinstance(one, WishesChanged) and not one.pending)
    assert cleared > over
    assert len(worked.frames) == 7
    snapshot = reduce(after, worked.events, Snapshot())
    assert snapshot.pending == ()
    assert snapshot.supplies is not None


def left(
    battery: float | None,
    card: int | None,
    disk_bytes: int | None,
    disk: int | None,
    *,
    battery_low: bool | None = None,
) -> SuppliesSeen:
    """Return supplies of which 12 frames are still to come."""
    return SuppliesSeen(
        battery=battery,
        card_frames=card,
        temperature_c=None,
        disk_bytes=disk_bytes,
        disk_frames=disk,
        to_come=12,
        battery_low=battery_low,
    )


@pytest.mark.parametrize(
    ("battery", "card", "disk_frames", "low"),
    [
        (0.21, 40, 40, [False, False, False]),
        (0.19, 11, 11, [True, True, True]),
        (None, None, None, [False]),
    ],
)
def test_what_is_low_is_said_to_be(
    battery: float | None, card: int | None, disk_frames: int | None, low: list[bool]
) -> None:
    found = supplies(left(battery, card, 3_000_000_000, disk_frames))
    assert [is_low for _, is_low in found] == low
    assert supplies(left(None, None, None, None, battery_low=True)) == [("battery low", True)]
    if card == 11:
        assert "card 11 frames, 12 to come" in [text for text, _ in found]
