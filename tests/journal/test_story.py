"""What the records tell: frames, turns, how runs end, and what a resumed run needs to know."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest

from tests.journal.outings import (
    CALDER,
    FENWICK,
    applied,
    as_entries,
    frame_begun,
    frame_exposed,
    frame_fetched,
    ladder_started,
    run_started,
    weir,
    write_outing,
)
from tether.journal.records import (
    ApplyIntent,
    ApplyOutcome,
    ExposeIntent,
    FetchIntent,
    FetchOutcome,
    Kept,
    LadderEnded,
    Noted,
    Record,
    RungEnded,
    Steered,
    Turn,
)
from tether.journal.store import Journal
from tether.journal.story import CUT_SHORT, STILL_RUNNING, FrameStory, Outing
from tether.journal.telling import _Telling, read_outing, tell


def told(records: list[Record], *, running: bool = False) -> Outing:
    return tell(as_entries(records), name="weir", running=running)


def frame(outing: Outing, number: int) -> FrameStory:
    return next(one for ladder in outing.ladders for one in ladder.frames if one.frame == number)


def test_an_outing_reads_the_same_from_disk(tmp_path: Path) -> None:
    write_outing(tmp_path / "weir", weir())
    assert read_outing(tmp_path / "weir") == told(weir())


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
    assert isinstance(outing.open_intents()[0], ExposeIntent)
    assert [intent.frame for intent in outing.open_intents()] == [9]


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
    assert outing.open_intents() == ()


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
    assert outing.open_intents() == ()


def test_a_frame_of_a_run_that_broke_off_stays_unknown_while_a_later_run_goes_on() -> None:
    outing = told([*weir(end=False), run_started()], running=True)
    assert frame(outing, 9).outcome == CUT_SHORT
    assert [run.end for run in outing.runs] == ["broke off", "running"]


def test_a_ladder_begun_again_keeps_what_it_had() -> None:
    (ladder,) = told([*weir(end=False), run_started(), ladder_started()]).ladders
    assert len(ladder.frames) == 9
    assert len(ladder.steering) == 2


@pytest.mark.parametrize(
    ("outcome", "settled"),
    [
        ("done", True),
        ("done, differs", True),
        ("skipped", True),
        ("left out", False),
        ("done in part", False),
        ("failed", False),
        ("stopped", False),
        ("dropped", False),
    ],
)
def test_which_rungs_need_not_be_worked_again(outcome: str, settled: bool) -> None:
    ended = RungEnded(ladder=1, rung=4, outcome=outcome)  # type: ignore[arg-type]
    outing = told([run_started(), ladder_started(), ended])
    assert outing.rungs_done(1) == (frozenset({4}) if settled else frozenset())
    assert outing.rungs_done(2) == frozenset()


def test_the_last_word_on_a_rung_counts() -> None:
    first, last = RungEnded(ladder=1, rung=4, outcome="stopped"), RungEnded(ladder=1, rung=4, outcome="done")
    assert told([run_started(), ladder_started(), first, last]).rungs_done(1) == {4}


def test_the_next_frame_is_one_that_was_never_begun() -> None:
    assert told([]).next_frame() == 1
    assert told(weir()).next_frame() == 10
    begun = ApplyIntent(frame=12, asked=applied(1.0, "1"))
    assert told([*weir(), begun]).next_frame() == 13


def test_open_intents_name_each_act_without_an_outcome() -> None:
    apply, fetch = ApplyIntent(frame=3, asked=applied(1.0, "1")), FetchIntent(frame=2, folder="/", name="B.DNG")
    fetched = FetchOutcome(frame=1, card_name="A.DNG", name=None, size=None, sha256=None, problem="It came short.")
    records: list[Record] = [run_started(), FetchIntent(frame=1, folder="/", name="A.DNG"), fetched, fetch, apply]
    assert told(records).open_intents() == (fetch, apply)


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


class TestBelief:
    """Exif before read-back before what was sent; for a held frame our own clock, unless the Exif says otherwise."""

    def made(self, *more: Record, way: str = "timed", held_s: float | None = None) -> FrameStory:
        begun = frame_begun(1, 1, applied(32.0, "30"), way=way)
        return frame(told([run_started(), ladder_started(), *begun, frame_exposed(1, held_s), *more]), 1)

    def test_timed_without_exif(self) -> None:
        assert self.made().believed_open_s == 32.0

    def test_timed_with_exif(self) -> None:
        made = self.made(*frame_fetched(1, 1, applied(30.0, "30", 2**3.0, 200)))
        assert made.believed_open_s == 30.0
        assert (made.aperture, made.iso) == (8.0, 200)
        # f/11 to f/8 and ISO 100 to 200: a stop each; 30 s for 32 s: log2(30/32) = -0.0931 stop.
        assert made.difference_stops == pytest.approx(2 - 0.0931094, abs=1e-6)

    def test_held_with_exif_in_whole_seconds(self) -> None:
        made = self.made(*frame_fetched(1, 1, applied(33.0, "33")), way="held", held_s=32.4)
        assert made.believed_open_s == 32.4

    def test_held_with_an_exif_that_says_something_else(self) -> None:
        made = self.made(*frame_fetched(1, 1, applied(16.0, "16")), way="held", held_s=32.0)
        assert made.believed_open_s == 16.0
        assert made.difference_stops == pytest.approx(-1.0)

    def test_nothing_shows_that_it_was_open(self) -> None:
        begun = told([run_started(), ladder_started(), *frame_begun(1, 1, applied(32.0, "30"))])
        failed = told([run_started(), ladder_started(), *frame_begun(1, 1, applied(32.0, "30")),
                       frame_exposed(1, None, outcome="failed")])  # fmt: skip
        assert frame(begun, 1).difference_stops is None
        assert frame(failed, 1).difference_stops is None


@pytest.mark.parametrize("kind", [kind for kind in get_args(Record) if issubclass(kind, Kept)])
def test_every_kind_that_is_kept_has_its_step_in_the_story(kind: type) -> None:
    assert kind in vars(_Telling)["hear"].dispatcher.registry
