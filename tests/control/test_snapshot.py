"""A snapshot says how a run stands: after single events, after a whole ladder, and wherever the events are split."""

from __future__ import annotations

from dataclasses import replace
from functools import reduce
from pathlib import Path
from typing import Any, get_args

from hypothesis import given
from hypothesis import strategies as st

from tests.engine.rig import BASE, SIX, TEN, work
from tests.journal.test_codec import records
from tether.clock import AffineClock
from tether.control.events import (
    CloseMoved,
    Event,
    FrameHome,
    FrameOpened,
    FrameOver,
    LadderBegun,
    LadderOver,
    RungBegun,
    RungOver,
    Said,
    StateChanged,
    TurnOver,
    YourTurn,
)
from tether.control.messages import Facts, Hello, Told, decode, encode
from tether.control.snapshot import SENTENCES_KEPT, FrameSoFar, Snapshot, after

EVENTS: st.SearchStrategy[Any] = st.one_of([records(kind) for kind in get_args(Event)])
FACTS = Facts(outing="/outings/weir", title="Weir", simulated=True)
OPENED = FrameOpened(frame=3, rung=2, kind="rung", way="held", open_s=128.0, at_ns=10, closes_at_ns=138)
OVER = FrameOver(frame=3, rung=2, kind="rung", outcome="made", held_s=128.0)


def folded(*events: Event, start: Snapshot | None = None) -> Snapshot:
    return reduce(after, events, start or Snapshot())


@given(st.lists(EVENTS, max_size=20), st.data())
def test_a_snapshot_and_the_events_after_it_tell_the_same_as_all(events: list[Event], data: st.DataObject) -> None:
    split = data.draw(st.integers(0, len(events)))
    hello = decode(encode(Hello(facts=FACTS, clock=AffineClock(), snapshot=folded(*events[:split]))))
    assert isinstance(hello, Hello)
    snapshot = hello.snapshot
    for event in events[split:]:
        told = decode(encode(Told(seq=snapshot.seq + 1, event=event)))
        assert isinstance(told, Told)
        snapshot = after(snapshot, told.event)
    assert snapshot == folded(*events)
    assert snapshot.seq == len(events)


def test_an_open_frame_closes_when_it_was_said_last() -> None:
    snapshot = folded(OPENED, CloseMoved(frame=3, closes_at_ns=200))
    assert snapshot.open == replace(OPENED, closes_at_ns=200)
    assert folded(CloseMoved(frame=4, closes_at_ns=300), start=snapshot).open == snapshot.open


def test_a_frame_is_followed_from_its_opening_to_its_file() -> None:
    snapshot = folded(OPENED, OVER)
    assert snapshot.open is None
    (frame,) = snapshot.frames
    assert frame == FrameSoFar(frame=3, rung=2, kind="rung", outcome="made", held_s=128.0)
    home = folded(FrameHome(frame=3, name="weir_0003.dng", differs=["ISO 200"]), start=snapshot)
    assert home.frames == (replace(frame, name="weir_0003.dng", differs=("ISO 200",)),)


def test_the_kind_of_a_frame_that_never_opened_is_not_known() -> None:
    (frame,) = folded(FrameOver(frame=4, rung=2, kind="rung", outcome="failed", held_s=None)).frames
    assert frame.kind is None


def test_files_of_no_frame_so_far_have_entries_of_their_own() -> None:
    snapshot = folded(OVER, FrameHome(frame=None, name="a.dng"), FrameHome(frame=None, name="b.dng"))
    assert [(one.frame, one.name) for one in snapshot.frames] == [(3, None), (None, "a.dng"), (None, "b.dng")]


def test_a_turn_stands_until_it_is_over() -> None:
    turn = YourTurn(rung=5, what="fit Calder 10", reason="the rung needs it")
    assert folded(turn).turn == turn
    assert folded(turn, TurnOver(what=turn.what, how="answered")).turn is None


def test_a_rung_is_in_hand_until_it_is_over() -> None:
    begun = RungBegun(rung=1, label="1/8 s", frames=3)
    assert folded(begun).rung == begun
    over = RungOver(rung=1, outcome="skipped", note="the person left it")
    assert folded(begun, over).rung is None
    assert folded(begun, over).rungs == (over,)


def test_only_the_latest_sentences_are_kept() -> None:
    said = [Said(about="note", text=str(number)) for number in range(SENTENCES_KEPT + 3)]
    assert folded(*said).said == tuple(said[3:])


def test_a_new_ladder_starts_afresh_with_the_count_and_the_sentences_kept() -> None:
    said, state = Said(about="note", text="x"), StateChanged(before="ready", state="ended", at_ns=1)
    old = (said, OPENED, OVER, RungOver(rung=1, outcome="done"), state, LadderOver(outcome="done"))
    assert folded(*old, LadderBegun(planned={"rungs": []})) == Snapshot(
        seq=len(old) + 1, state="ended", said=(said,), planned={"rungs": []}
    )


def test_the_snapshot_of_a_whole_rehearsal_agrees_with_its_journal(tmp_path: Path) -> None:
    worked = work(tmp_path, BASE + '[rungs]\ntimes = ["1/125", "2m"]\n' + SIX + TEN)
    snapshot = folded(*worked.events)
    assert snapshot.planned == worked.ladder.planned
    assert [one.outcome for one in snapshot.rungs] == worked.rung_outcomes()
    assert [(one.frame, one.rung, one.kind, one.outcome, f"frames/{one.name}") for one in snapshot.frames] == [
        (one.frame, one.rung, one.kind, one.outcome, one.files[0].name) for one in worked.frames
    ]
    assert (snapshot.state, snapshot.open, snapshot.turn, snapshot.rung) == ("ended", None, None, None)
    assert snapshot.over == LadderOver(outcome="done")
