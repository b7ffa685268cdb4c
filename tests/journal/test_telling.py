"""What the records tell, folded: frames, turns, notes, and how runs end."""

from __future__ import annotations

import shutil
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from tests.journal.outings import (
    CALDER,
    FENWICK,
    applied,
    as_entries,
    frame,
    frame_begun,
    frame_exposed,
    ladder_started,
    run_started,
    told,
    weir,
    write_outing,
)
from tether.journal.records import (
    ApplyOutcome,
    ExposeIntent,
    FetchOutcome,
    Kept,
    LadderEnded,
    Noted,
    Record,
    RungEnded,
    Said,
    Steered,
    Turn,
)
from tether.journal.store import Journal
from tether.journal.story import CUT_SHORT, STILL_RUNNING
from tether.journal.telling import OutingReader, read_outing, tell


def test_an_outing_reads_the_same_from_disk(tmp_path: Path) -> None:
    write_outing(tmp_path / "weir", weir())
    assert read_outing(tmp_path / "weir") == told(weir())


def test_a_journal_read_on_as_it_grows_tells_what_it_does_when_read_anew(tmp_path: Path) -> None:
    folder, records = tmp_path / "weir", [one for one in weir() if isinstance(one, Kept)]
    entries = as_entries(records)
    reader = OutingReader(folder)
    with closing(Journal.create(folder)) as journal:
        for count, (entry, record) in enumerate(zip(entries, records, strict=True), start=1):
            journal.add(record, utc=entry.utc, mono_ns=entry.mono_ns)
            if count % 7 == 0:
                assert reader.now() == read_outing(folder) == told(records[:count], running=True)
    assert reader.now() == read_outing(folder) == told(records)


def test_what_is_read_on_of_a_journal_that_has_not_grown_is_what_it_was(tmp_path: Path) -> None:
    write_outing(tmp_path / "weir", weir())
    reader = OutingReader(tmp_path / "weir")
    assert reader.now() is reader.now()


def test_another_journal_in_its_place_is_read_from_its_beginning(tmp_path: Path) -> None:
    folder = tmp_path / "weir"
    write_outing(folder, weir())
    reader = OutingReader(folder)
    reader.now()
    shutil.rmtree(folder)
    write_outing(folder, weir(end=False))
    assert reader.now() == told(weir(end=False))


def test_a_frame_gathers_all_that_is_known_of_it() -> None:
    held = frame(told(weir()), 8)
    assert (held.rung, held.kind, held.way, held.outcome) == (5, "rung", "held", "closed early")
    assert (held.open_s.asked, held.open_s.held, held.open_s.exif, held.open_s.light) == (124.3, 101.0004, 101.0, None)
    assert held.planned.time_s == 124.3
    assert held.asked.time_label == "bulb"
    assert held.read_back == held.asked
    assert held.exif == applied(101.0, "101")
    assert (held.filters, held.filter_stops) == ((CALDER,), 10.0)
    assert (held.hold_realtime, held.closed_by) == (True, "person")
    assert held.opened_utc == "2026-10-03T16:35:20+00:00"
    assert [file.name for file in held.files] == ["frames/weir_l1_r05_0008_SIM_0008.dng"]
    assert held.notes == ("Closed by the person.",)
    assert held.readings is None


def test_what_differs_is_noted_at_its_frame() -> None:
    assert frame(told(weir()), 6).notes == ("The body's 30 s was 33.6 s: 0.07 stop brighter than asked.",)


def test_an_answer_takes_the_place_of_its_question() -> None:
    (ladder,) = told(weir()).ladders
    assert [(turn.rung, turn.what, turn.state) for turn in ladder.turns] == [
        (3, f"fit {FENWICK}", "answered"),
        (5, f"take off {FENWICK}, fit {CALDER}", "answered beforehand"),
    ]


def test_a_question_asked_again_later_stands_beside_the_first_answer() -> None:
    asked = Turn(ladder=1, rung=3, what="fit", reason="so", state="asked")
    records: list[Record] = [run_started(), ladder_started(), asked, replace(asked, state="answered"), asked]
    (ladder,) = told(records).ladders
    assert [turn.state for turn in ladder.turns] == ["answered", "asked"]


def test_steering_and_notes_are_kept_with_their_ladder() -> None:
    (ladder,) = told(weir()).ladders
    assert [one.verb for one in ladder.steering] == ["next", "close and keep"]
    assert [(note.about, note.rung) for note in ladder.notes] == [("caution", 6)]


def test_a_run_that_broke_off_says_so() -> None:
    outing = told(weir(end=False))
    assert frame(outing, 9).outcome == CUT_SHORT
    assert outing.ladders[0].outcome == CUT_SHORT
    assert outing.runs[0].end == "broke off"
    assert isinstance(outing.open_intents[0], ExposeIntent)
    assert [intent.frame for intent in outing.open_intents] == [9]


def test_a_run_that_goes_on_does_not_yet_know() -> None:
    outing = told(weir(end=False), running=True)
    assert frame(outing, 9).outcome == STILL_RUNNING
    assert outing.ladders[0].outcome == STILL_RUNNING
    assert outing.runs[0].end == "running"


def test_a_journal_open_for_writing_reads_as_running(tmp_path: Path) -> None:
    journal = Journal.create(tmp_path)
    for entry in as_entries(weir(end=False)):
        assert isinstance(entry.record, Kept)
        journal.add(entry.record, utc=entry.utc, mono_ns=entry.mono_ns)
    assert frame(read_outing(tmp_path), 9).outcome == STILL_RUNNING
    journal.close()
    assert frame(read_outing(tmp_path), 9).outcome == CUT_SHORT


def test_a_run_that_ended_left_nothing_open() -> None:
    outing = told(weir())
    assert outing.runs[0].end == "ended"
    assert outing.ladders[0].outcome == "done in part"
    assert outing.open_intents == ()


def test_a_resumed_run_goes_on_where_the_first_broke_off() -> None:
    resumed: list[Record] = [
        *weir(end=False),
        run_started(),
        frame_exposed(9, None, outcome="lost", note="The shutter was found shut."),
        *frame_begun(10, 6, applied(1980.0, "33:00"), way="held", filters=(CALDER,)),
        frame_exposed(10, 1980.0),
        RungEnded(ladder=1, rung=6, outcome="done"),
        LadderEnded(ladder=1, outcome="done"),
    ]
    outing = told(resumed)
    assert [run.end for run in outing.runs] == ["broke off", "ended"]
    assert frame(outing, 9).outcome == "lost"
    assert outing.ladders[0].outcome == "done"
    assert outing.ladders[0].title == "Weir below the mill"
    assert outing.open_intents == ()


def test_a_frame_of_a_run_that_broke_off_stays_unknown_while_a_later_run_goes_on() -> None:
    outing = told([*weir(end=False), run_started()], running=True)
    assert frame(outing, 9).outcome == CUT_SHORT
    assert [run.end for run in outing.runs] == ["broke off", "running"]


def test_a_ladder_begun_again_keeps_what_it_had() -> None:
    (ladder,) = told([*weir(end=False), run_started(), ladder_started()]).ladders
    assert len(ladder.frames) == 9
    assert len(ladder.steering) == 2


def test_a_setting_that_was_never_exposed_has_its_line_and_the_next_frame_its_number() -> None:
    """A correction was told, the body set for it, and the person left: frame 10 is made by the next run, otherwise."""
    said = Said(about="note", text="Opened 0.33 stop shorter than planned.", rung=3)
    set_only = [said, *frame_begun(10, 3, applied(2.0, "2"))[:2], RungEnded(ladder=1, rung=3, outcome="stopped")]
    notes = [(one.rung, one.text) for one in told([*weir(), *set_only]).ladders[0].notes[-2:]]
    line = (3, "Set as frame 10 (2 s, f/11, ISO 100), not exposed.")
    assert notes == [(3, said.text), line]
    again = told([*weir(), *set_only, run_started(), *frame_begun(10, 3, applied(1.0, "1")), frame_exposed(10, None)])
    assert again.ladders[0].notes[-1].text == line[1]
    assert (frame(again, 10).asked.time_s, again.next_frame) == (1.0, 11)


@pytest.mark.parametrize("running", [True, False])
def test_a_setting_whose_run_broke_off_has_its_line_once_that_is_known(running: bool) -> None:
    outing = tell(as_entries([*weir(), *frame_begun(10, 3, applied(2.0, "2"))[:2]]), name="weir", running=running)
    assert any("not exposed" in note.text for note in outing.ladders[0].notes) is not running


def test_settings_that_were_not_taken_are_noted_though_no_frame_was_made() -> None:
    refused = ApplyOutcome(frame=1, read_back=None, problem="The body refused f/11.")
    (ladder,) = told([run_started(), ladder_started(), refused]).ladders
    assert [(note.text, note.frame) for note in ladder.notes] == [("The body refused f/11.", 1)]


def test_a_file_of_no_frame_is_kept_apart() -> None:
    stray = FetchOutcome(frame=None, card_name="X.DNG", name="frames/X.DNG", size=1, sha256="0" * 64)
    assert [file.name for file in told([run_started(), stray]).loose_files] == ["frames/X.DNG"]


def test_notes_before_any_ladder_belong_to_the_outing() -> None:
    outing = told(
        [run_started(), Noted(about="check", text="Clock is right."), Steered(verb="pause", effect="Paused.")]
    )
    assert [note.text for note in outing.notes] == ["Clock is right.", "pause: Paused."]


def test_checks_belong_to_the_run_that_was_to_begin_and_one_that_stops_ends_it() -> None:
    focus = Noted(about="check", text="It says AF.", what="focus", verdict="stop")
    disk = Noted(about="check", text="Enough.", what="disk", verdict="ok")
    outing = told([run_started(), ladder_started(), run_started(), disk, focus])
    assert [check.what for check in outing.runs[1].checks] == ["disk", "focus"]
    assert [run.end for run in outing.runs] == ["broke off", "ended"]
    assert not outing.ladders[0].notes


def test_an_outcome_whose_beginning_is_missing_is_told_not_lost() -> None:
    outing = told([run_started(), ladder_started(), frame_exposed(5, 2.0)])
    assert [note.frame for note in outing.ladders[0].notes] == [5]
