"""A snapshot says how a run stands: after single events, after a whole ladder, and wherever the events are split."""

from __future__ import annotations

from dataclasses import replace
from functools import reduce
from pathlib import Path
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from tests.engine.rig import BASE, SIX, TEN, work
from tests.journal.planned import a_ladder
from tests.journal.shown import differs, entry, exposed, home, ladder_ended, rung_ended, turn
from tests.journal.test_codec import records
from tether.clock import AffineClock
from tether.control.messages import SHOWN, Facts, Hello, StreamEntry, decode, encode
from tether.journal.records import (
    CloseMoved,
    FrameOpened,
    FrameSoFar,
    LadderBegun,
    Record,
    RungBegun,
    Said,
    StateChanged,
)
from tether.journal.snapshot import SENTENCES_KEPT, Sentence, Snapshot, after

EVENTS: st.SearchStrategy[Any] = st.one_of([records(kind) for kind in SHOWN.values()])
FACTS = Facts(outing="/outings/weir", title="Weir", simulated=True)
OPENED = FrameOpened(frame=3, rung=2, kind="rung", way="held", open_s=128.0, at_ns=10, closes_at_ns=138)
OVER = exposed(3, 2, "rung", outcome="made", held_s=128.0)


def folded(*events: Record, start: Snapshot | None = None) -> Snapshot:
    return reduce(after, events, start or Snapshot())


@given(st.lists(EVENTS, max_size=20), st.data())
def test_a_snapshot_and_the_events_after_it_tell_the_same_as_all(events: list[Record], data: st.DataObject) -> None:
    split = data.draw(st.integers(0, len(events)))
    hello = decode(encode(Hello(facts=FACTS, clock=AffineClock(), snapshot=folded(*events[:split]))))
    assert isinstance(hello, Hello)
    snapshot = hello.snapshot
    for event in events[split:]:
        told = decode(encode(StreamEntry(entry=entry(event, snapshot.stream + 1))))
        assert isinstance(told, StreamEntry)
        snapshot = after(snapshot, told.entry.record)
    assert snapshot == folded(*events)
    assert snapshot.stream == len(events)


def test_an_open_frame_closes_when_it_was_said_last() -> None:
    snapshot = folded(OPENED, CloseMoved(frame=3, closes_at_ns=200))
    assert snapshot.open == replace(OPENED, closes_at_ns=200)
    assert folded(CloseMoved(frame=4, closes_at_ns=300), start=snapshot).open == snapshot.open


def test_a_frame_is_followed_from_its_opening_to_its_file() -> None:
    snapshot = folded(OPENED, OVER)
    assert snapshot.open is None
    (frame,) = snapshot.frames
    assert frame == FrameSoFar(frame=3, rung=2, kind="rung", outcome="made", held_s=128.0)
    read = folded(home(3, "weir_0003.dng"), differs(3, "ISO 200"), start=snapshot)
    assert read.frames == (replace(frame, name="weir_0003.dng", differs=("ISO 200",)),)


def test_a_frame_that_never_opened_is_known_by_its_outcome() -> None:
    (frame,) = folded(exposed(4, 2, "rung", outcome="failed", held_s=None)).frames
    assert (frame.rung, frame.kind, frame.outcome) == (2, "rung", "failed")


def test_files_of_no_frame_so_far_have_entries_of_their_own() -> None:
    snapshot = folded(OVER, home(None, "a.dng"), home(None, "b.dng"))
    assert [(one.frame, one.name) for one in snapshot.frames] == [(3, None), (None, "a.dng"), (None, "b.dng")]


def test_a_turn_stands_until_it_is_over() -> None:
    asked = turn(5, "fit Calder 10", "the rung needs it")
    assert folded(asked).turn == asked
    assert folded(asked, replace(asked, state="answered")).turn is None


def test_the_task_that_can_be_taken_back_is_the_last_of_the_rung_that_was_answered() -> None:
    fit = replace(turn(5, "fit Calder 10", "", "answered"), fitted=["Calder 10"])
    cover = turn(5, "cover the viewfinder", "", "answered")
    planned = a_ladder(turns=[{"before_rung": 5, "what": cover.what}])
    begun = LadderBegun(planned=planned)
    assert folded(begun, fit).done == fit
    assert folded(begun, fit, cover).done == cover
    assert folded(begun, replace(fit, state="answered beforehand")).done is not None
    assert folded(begun, replace(fit, state="not done")).done is None
    assert folded(begun, fit, turn(5, "see to the camera", "", "answered")).done == fit, "that is no task of the ladder"
    assert folded(begun, replace(fit, rung=None)).done is None
    for over in (rung_ended(5), replace(fit, state="taken back"), begun):
        assert folded(begun, fit, over).done is None


def test_a_rung_is_in_hand_until_it_is_over() -> None:
    begun = RungBegun(rung=1, label="1/8 s", frames=3)
    assert folded(begun).rung == begun
    over = rung_ended(1, "skipped", note="the person left it")
    assert folded(begun, over).rung is None
    assert folded(begun, over).rungs == (over,)


def test_what_is_told_anew_takes_the_place_of_what_was_told_before() -> None:
    rungs = folded(rung_ended(1, "done in part"), rung_ended(2), rung_ended(1)).rungs
    assert [(one.rung, one.outcome) for one in rungs] == [(2, "done"), (1, "done")]
    (frame,) = folded(exposed(3, 2, outcome="lost"), exposed(3, 2)).frames
    assert frame.outcome == "made"


def test_what_is_to_be_said_of_an_exposure_is_a_sentence_that_names_its_frame() -> None:
    lost = replace(exposed(3, 2, outcome="lost"), note="The camera has not said a word.")
    kept = replace(exposed(4, 2), note="While it was open it was asked to be 2.0 s.")
    assert folded(exposed(2, 2), lost, kept).said == (
        Sentence(about="trouble", text="Frame 3: The camera has not said a word."),
        Sentence(about="note", text="Frame 4: While it was open it was asked to be 2.0 s."),
    )


def test_only_the_latest_sentences_are_kept() -> None:
    said = [Said(about="note", text=str(number)) for number in range(SENTENCES_KEPT + 3)]
    assert [one.text for one in folded(*said).said] == [one.text for one in said[3:]]


def test_a_new_ladder_starts_afresh_with_the_count_and_the_sentences_kept() -> None:
    said, state = Said(about="note", text="x"), StateChanged(before="ready", state="ended", at_ns=1)
    old = (said, OPENED, OVER, rung_ended(1, "done"), state, ladder_ended("done"))
    assert folded(*old, LadderBegun(planned=a_ladder())) == Snapshot(
        stream=len(old) + 1, state="ended", said=(Sentence(about="note", text="x"),), planned=a_ladder()
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
    crossed = b"".join(encode(StreamEntry(entry=entry(record))) for record in worked.events)
    assert b"Calder 10" in crossed
    assert b"SIM1" not in crossed, "its serial number"
    assert b"[rungs]" not in crossed, "the plan's text"
    assert snapshot.over == ladder_ended("done")
