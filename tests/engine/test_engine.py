"""The engine on a body that behaves: what is asked, done, written down and said, in order."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable
from contextlib import closing
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, TEN, work
from tests.journal.planned import rungs_of
from tether.control.commands import Verb
from tether.engine.in_hand import MOVES
from tether.journal.history import ladder_history
from tether.journal.records import (
    Applied,
    CloseMoved,
    ExifRead,
    ExposeOutcome,
    FetchOutcome,
    FrameOpened,
    FrameRead,
    LadderEnded,
    Mentioned,
    Record,
    RungBegun,
    RungEnded,
    Said,
    StateChanged,
    SuppliesSeen,
    Turn,
)
from tether.journal.snapshot import asks
from tether.journal.store import open_journal
from tether.journal.telling import read_outing
from tether.report.log import log_json

SHORT = BASE + '[rungs]\ntimes = ["1/500", "1/125"]\n'
LONG = BASE + '[rungs]\ntimes = ["1/125", "2m"]\n' + SIX + TEN


def seconds(frame_open: Applied) -> float:
    assert frame_open.time_s is not None
    return frame_open.time_s


def test_a_ladder_is_worked_to_its_end(tmp_path: Path) -> None:
    worked = work(tmp_path, BASE + '[rungs]\nfrom = "1/500"\nto = "4m"\n' + SIX + TEN)
    planned = rungs_of(worked.ladder)
    assert worked.outcome == "done"
    assert worked.rung_outcomes() == ["done"] * len(planned)
    rung_frames = [frame for frame in worked.frames if frame.kind == "rung"]
    assert len(rung_frames) == sum(rung.frames for rung in planned)
    assert [frame.frame for frame in worked.frames] == list(range(1, len(worked.frames) + 1))
    assert not worked.told.open_intents
    for frame in worked.frames:
        assert frame.outcome == "made"
        (file,) = frame.files
        assert file.name is not None
        data = (worked.folder / file.name).read_bytes()
        assert len(data) == file.size
        assert hashlib.sha256(data).hexdigest() == file.sha256
        assert file.preview is not None
        assert (worked.folder / file.preview).stat().st_size > 1000
    assert not list(worked.folder.rglob("*.part"))


def test_names_hold_outing_ladder_rung_time_and_the_bodys_number(tmp_path: Path) -> None:
    worked = work(tmp_path, LONG)
    names = [frame.files[0].name for frame in worked.frames]
    assert names == [
        "frames/a-test_L1_R01_1-125s_0001.dng",
        "frames/a-test_L1_R02-proof_2s_0002.dng",
        "frames/a-test_L1_R02_2m08s_0003.dng",
    ]


def test_what_was_asked_read_back_and_shot_is_in_the_log(tmp_path: Path) -> None:
    worked = work(tmp_path, LONG)
    (ladder,) = log_json(worked.told)["ladders"]
    held = ladder["frames"][-1]
    assert held["read_back"]["time_label"] == "bulb"
    assert held["asked"]["aperture_label"] == held["read_back"]["aperture_label"]
    assert held["open_s"]["asked"] == pytest.approx(128)
    assert held["open_s"]["held"] == pytest.approx(128.015)
    assert held["open_s"]["exif"] == pytest.approx(128, abs=0.02)
    assert held["open_s"]["light"] is None
    opened, closed = (datetime.fromisoformat(held[key]) for key in ("opened_utc", "closed_utc"))
    assert (closed - opened).total_seconds() == pytest.approx(128.015, abs=0.002)


def test_a_second_ladder_joins_the_outing(tmp_path: Path) -> None:
    first = work(tmp_path, SHORT)
    second = work(tmp_path, SHORT, outing=first.folder)
    assert second.folder == first.folder
    assert [ladder.ladder for ladder in second.told.ladders] == [1, 2]
    assert [frame.frame for frame in second.frames] == [3, 4]
    assert second.frames[0].files[0].name == "frames/a-test_L2_R01_1-500s_0003.dng"


def test_events_tell_the_story_in_order(tmp_path: Path) -> None:
    worked = work(tmp_path, LONG)
    kinds = [type(event) for event in worked.events if not isinstance(event, StateChanged | Said | Mentioned)]
    rung = kinds.index(RungBegun, kinds.index(RungEnded))
    assert kinds[rung:] == [
        *(RungBegun, Turn, Turn, SuppliesSeen),
        *(FrameOpened, ExposeOutcome, FetchOutcome, ExifRead, FrameRead),
        *(FrameOpened, ExposeOutcome, FetchOutcome, ExifRead, FrameRead),
        *(RungEnded, LadderEnded),
    ]
    opened = [event for event in worked.events if isinstance(event, FrameOpened)][-1]
    assert (opened.closes_at_ns - opened.at_ns) / 1e9 == pytest.approx(128.015)


def test_every_change_of_state_is_one_the_table_allows(tmp_path: Path) -> None:
    worked = work(tmp_path, LONG)
    changes = [event for event in worked.events if isinstance(event, StateChanged)]
    state = "ready"
    for change in changes:
        assert change.before == state
        assert change.state in MOVES[change.before]
        state = change.state
    assert state == "ended"
    assert MOVES["ended"] == ()


def test_filters_are_asked_for_before_their_rung_and_time_is_given_to_settle(tmp_path: Path) -> None:
    worked = work(tmp_path, LONG + "[run]\nsettle_s = 11\n")
    turn = next(turn for turn in worked.ladder.turns)
    assert (turn.rung, turn.what, turn.state) == (2, "fit Calder 6 + Calder 10", "answered for me")
    states = [(event.state, event.at_ns) for event in worked.events if isinstance(event, StateChanged)]
    settling = next(index for index, (state, _) in enumerate(states) if state == "settling")
    assert (states[settling + 1][1] - states[settling][1]) / 1e9 == pytest.approx(11)
    asked = next(at for state, at in states if state == "your turn")
    assert (states[settling][1] - asked) / 1e9 == pytest.approx(120)  # two filters, 60 s each


def test_many_frames_stand_for_a_long_one(tmp_path: Path) -> None:
    head = (
        'title = "A test"\nscale = "half"\ndarker_by = "nothing"\n[body]\nfile = "simulated-mirror"\n'
        '[lens]\nfocal_mm = 24\nwidest = "f/2.8"\nnarrowest = "f/22"\n'
    )
    base = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\nframes = 0\n[rungs]\ntimes = ["15"]\nmany = "use"\n'
    at_f11 = '[limits]\naperture = ["f/5.6", "f/11"]\niso = [100, 100]\n'
    worked = work(tmp_path, base + at_f11 + SIX, head=head)
    assert [frame.planned.time_label for frame in worked.frames] == ["4"] * 4
    assert worked.rung_outcomes() == ["done"]
    assert [turn.what for turn in worked.ladder.turns] == ["fit Calder 6", "cover the viewfinder"]


def test_dark_frames_come_last_under_the_cap(tmp_path: Path) -> None:
    worked = work(tmp_path, LONG + '[run]\ndark_frames = "at the end"\n')
    assert [frame.kind for frame in worked.frames] == ["rung", "proof", "rung", "dark"]
    assert worked.ladder.turns[-1].what == "put the cap on"
    light, dark = worked.frames[-2], worked.frames[-1]
    assert seconds(dark.planned) == seconds(light.planned)
    assert worked.mosaic(dark).mean() < 20 < worked.mosaic(light).mean()


def test_the_bodys_own_dark_frames_are_waited_for(tmp_path: Path) -> None:
    worked = work(tmp_path, LONG + '[run]\ndark_frames = "by the body"\n[[rung]]\ntime = "8"\n')
    assert worked.outcome == "done"
    assert [frame.outcome for frame in worked.frames] == ["made"] * 4


def test_no_rung_is_started_that_would_end_after_leave_by(tmp_path: Path) -> None:
    leave = (datetime.now().astimezone() + timedelta(minutes=2)).replace(microsecond=0)
    text = LONG + f"[run]\nleave_by = {leave.isoformat()}\n"
    worked = work(tmp_path, text)
    assert worked.outcome == "done in part"
    assert worked.rung_outcomes() == ["done", "left out"]
    assert worked.ladder.note == "Not done: rung 2 (left out). Resuming the ladder takes this up again."
    assert "after leave_by" in (worked.ladder.rungs[1].note or "")


def test_half_an_hour_and_a_quarter_before_leaving_are_told_once_each(tmp_path: Path) -> None:
    """Thirty-four minutes are left at the beginning; eight frames of four minutes use all but two."""
    leave = (datetime.now().astimezone() + timedelta(minutes=34)).replace(microsecond=0)
    text = LONG.replace('"2m"', '"4m"') + '[run]\nproof = false\ndark_frames = "none"\n'
    worked = work(tmp_path, text.replace("[rungs]\n", "[rungs]\nframes = 7\n") + f"leave_by = {leave.isoformat()}\n")
    told = [line for line in worked.notes().splitlines() if "when you want to leave" in line]
    assert len(told) == 2, worked.notes()
    minutes = [int(line.split(" min until")[0]) for line in told]
    assert 26 <= minutes[0] <= 30
    assert 11 <= minutes[1] <= 15


def test_a_rung_that_must_be_had_is_not_crowded_out_by_those_before_it(tmp_path: Path) -> None:
    """Two minutes and four do not fit before leaving; the four are marked, so the two go, which is said at once."""
    leave = (datetime.now().astimezone() + timedelta(minutes=8)).replace(microsecond=0)
    text = LONG + f'[[rung]]\ntime = "4m"\nmust = true\n[run]\nproof = false\nleave_by = {leave.isoformat()}\n'
    worked = work(tmp_path, text)
    assert worked.rung_outcomes() == ["done", "left out", "done"]
    assert "must-have rungs still need" in (worked.ladder.rungs[1].note or "")
    assert "Left out for want of time, if nothing goes faster than planned: rung 2." in worked.notes()


# Steering ------------------------------------------------------------------------------------------------------------


def once_open(verb: Verb, rung: int) -> Callable[[Record], Verb | None]:
    """Say a verb once, when a frame of a rung opens."""
    said: list[Verb] = []

    def when(event: Record) -> Verb | None:
        if isinstance(event, FrameOpened) and event.rung == rung and event.kind == "rung" and not said:
            said.append(verb)
            return verb
        return None

    return when


def test_again_takes_one_more_frame_of_the_rung(tmp_path: Path) -> None:
    worked = work(tmp_path, SHORT, when=once_open("again", 1))
    assert [frame.rung for frame in worked.frames] == [1, 1, 2]
    assert [one.verb for one in worked.ladder.steering] == ["again"]


def test_skip_leaves_out_the_rest_of_the_rung(tmp_path: Path) -> None:
    text = BASE + '[rungs]\ntimes = ["1/500", "1/125"]\nframes = 4\n'
    worked = work(tmp_path, text, when=once_open("skip", 1))
    assert [frame.rung for frame in worked.frames] == [1, 2, 2, 2, 2]
    assert worked.rung_outcomes() == ["done in part", "done"]


def test_next_closes_an_open_frame_and_goes_on(tmp_path: Path) -> None:
    text = BASE + '[rungs]\ntimes = ["2m", "4m"]\n' + SIX + TEN
    worked = work(tmp_path, text, after=(1, 40.0, "next"))
    first, *_, last = (frame for frame in worked.frames if frame.kind == "rung")
    assert first.outcome == "closed early"
    assert first.open_s.held is not None
    assert first.open_s.held == pytest.approx(40, abs=0.01)
    assert last.rung == 2
    assert last.outcome == "made"


@pytest.mark.parametrize(("verb", "factor"), [("longer", 2 ** (1 / 3)), ("shorter", 2 ** (-1 / 3))])
def test_longer_and_shorter_move_the_close_by_a_third_of_a_stop(tmp_path: Path, verb: Verb, factor: float) -> None:
    worked = work(tmp_path, LONG, after=(2, 20.0, verb))
    frame = worked.frames[-1]
    assert frame.open_s.held == pytest.approx(128.015 * factor, abs=0.01)
    assert frame.exif is not None
    assert frame.exif.time_s == pytest.approx(128.015 * factor - 0.015, abs=0.02)
    assert frame.outcome == "made"
    assert worked.outcome == "done"


def test_close_and_keep_keeps_a_frame_of_the_time_it_was_open(tmp_path: Path) -> None:
    worked = work(tmp_path, LONG, after=(2, 33.0, "close and keep"))
    frame = worked.frames[-1]
    assert frame.outcome == "closed early"
    assert frame.open_s.held == pytest.approx(33, abs=0.01)
    assert frame.files[0].name is not None
    assert not any("not as asked" in note for note in frame.notes)


def test_brighter_makes_later_frames_a_third_of_a_stop_brighter(tmp_path: Path) -> None:
    text = BASE + '[rungs]\ntimes = ["1/125", "1/60"]\nframes = 2\n'
    worked = work(tmp_path, text, when=once_open("brighter", 1))
    levels = [worked.still_level(frame) for frame in worked.frames]
    assert levels[1] / levels[0] == pytest.approx(2 ** (1 / 3), rel=0.015)
    assert levels[2] / levels[0] == pytest.approx(2 ** (1 / 3), rel=0.015)
    darker = work(tmp_path, text, when=once_open("darker", 1))
    levels = [darker.still_level(frame) for frame in darker.frames]
    assert levels[1] / levels[0] == pytest.approx(2 ** (-1 / 3), rel=0.015)


def test_pause_waits_until_told_to_go_on(tmp_path: Path) -> None:
    worked = work(tmp_path, SHORT, when=once_open("pause", 1), said=[(500.0, "go on")])
    paused = [
        event for event in worked.events if isinstance(event, StateChanged) and "paused" in (event.before, event.state)
    ]
    assert [event.state for event in paused] == ["paused", "ready"]
    assert paused[1].at_ns == 500 * 10**9
    assert worked.outcome == "done"


@pytest.mark.parametrize(
    ("verb", "outcome", "frame_outcome", "files"),
    [
        ("stop after this frame", "stopped after a frame", "made", 1),
        ("stop now and keep", "closed and kept", "closed early", 1),
        ("drop everything", "dropped", "dropped", 0),
    ],
)
def test_three_ways_to_stop_are_written_down_as_what_they_were(
    tmp_path: Path, verb: Verb, outcome: str, frame_outcome: str, files: int
) -> None:
    text = BASE + '[rungs]\ntimes = ["1/125", "2m", "4m"]\n[run]\nproof = false\n' + SIX + TEN
    worked = work(tmp_path, text, after=(2, 25.0, verb))
    assert worked.outcome == outcome == worked.ladder.outcome
    assert [frame.rung for frame in worked.frames] == [1, 2]
    last = worked.frames[-1]
    assert last.outcome == frame_outcome
    assert len(last.files) == files
    assert worked.rung_outcomes() == ["done", "dropped" if verb == "drop everything" else "stopped"]
    assert ("makes it again" in " ".join(last.notes)) == (verb == "stop now and keep")
    assert any(
        "closed" in line for line in (worked.folder / "simulated-body" / "openings.jsonl").read_text().splitlines()
    )


def test_frames_of_an_emptied_card_whose_numbers_begin_anew_come_home(tmp_path: Path) -> None:
    """The second ladder's frames have the names on the card that the first one's had."""
    first = work(tmp_path, SHORT, outing=tmp_path / "evening")
    shutil.rmtree(first.folder / "simulated-body")
    again = work(tmp_path, SHORT, outing=tmp_path / "evening")
    names = [[one.card_name for one in worked.events if isinstance(one, FetchOutcome)] for worked in (first, again)]
    assert names[0] == names[1]
    assert again.outcome == "done"
    assert [len(frame.files) for frame in again.frames] == [1, 1]


def test_a_turn_can_be_answered_left_undone_or_answered_beforehand(tmp_path: Path) -> None:
    def answer(event: Record) -> Verb | None:
        return "answer" if asks(event) else None

    assert work(tmp_path, LONG, when=answer, answer_for_me=False).ladder.turns[0].state == "answered"

    def skip(event: Record) -> Verb | None:
        return "skip" if asks(event) else None

    given_up = work(tmp_path, LONG, when=skip, answer_for_me=False)
    assert given_up.ladder.turns[0].state == "not done"
    assert given_up.rung_outcomes() == ["done", "skipped"]
    ahead = work(tmp_path, LONG, when=once_open("answer ahead", 1), answer_for_me=False)
    assert ahead.ladder.turns[0].state == "answered beforehand"
    assert ahead.outcome == "done"


def test_a_rung_on_the_key_takes_a_frame_for_each_press(tmp_path: Path) -> None:
    text = BASE + '[[rung]]\ntime = "1/125"\nframes = 3\ntaken = "on my key"\n'

    def press(event: Record) -> Verb | None:
        return "answer" if asks(event) else None

    worked = work(tmp_path, text, when=press, answer_for_me=False)
    assert worked.rung_outcomes() == ["done"]
    assert len(worked.frames) == 3
    over = [type(event) for event in worked.events if isinstance(event, ExposeOutcome | FetchOutcome)]
    assert over == [ExposeOutcome] * 3 + [FetchOutcome] * 3  # no fetch comes between a person and their next press


def test_a_stop_at_a_turn_ends_the_run(tmp_path: Path) -> None:
    def stop(event: Record) -> Verb | None:
        return "stop after this frame" if asks(event) else None

    worked = work(tmp_path, LONG, when=stop, answer_for_me=False)
    assert worked.outcome == "stopped after a frame"
    assert worked.rung_outcomes() == ["done", "stopped"]


def test_a_burst_is_taken_without_waiting_for_files(tmp_path: Path) -> None:
    def gaps(taken: str) -> list[float]:
        text = BASE + f'[rungs]\ntimes = ["1/125"]\nframes = 4\ntaken = "{taken}"\n'
        worked = work(tmp_path, text)
        assert worked.rung_outcomes() == ["done"]
        assert all(frame.files for frame in worked.frames)
        opened = [datetime.fromisoformat(frame.opened_utc) for frame in worked.frames if frame.opened_utc]
        return [(later - sooner).total_seconds() for sooner, later in pairwise(opened)]

    burst, single = gaps("burst"), gaps("at once")
    assert max(burst[1:]) < 0.5 * min(single[1:])


# Words said between two exposures, and turns that were not done ------------------------------------------------------


@pytest.mark.parametrize("verb", ["stop after this frame", "stop now and keep", "drop everything", "next", "skip"])
def test_a_word_said_while_the_proof_comes_home_keeps_the_hold_from_being_made(tmp_path: Path, verb: Verb) -> None:
    said: list[Verb] = []

    def when(event: Record) -> Verb | None:
        if isinstance(event, ExposeOutcome) and event.kind == "proof" and not said:
            said.append(verb)
            return verb
        return None

    worked = work(tmp_path, LONG, when=when)
    assert [frame.kind for frame in worked.frames] == ["rung", "proof"]


def test_a_filter_that_was_not_fitted_is_asked_for_again(tmp_path: Path) -> None:
    """Skipping a turn leaves the lens as it is: the next rung through the filter asks for it, and none is logged."""
    text = BASE + '[rungs]\ntimes = ["1/4", "0.5"]\nframes = 1\n' + SIX
    skipped: list[str] = []

    def when(event: Record) -> Verb | None:
        if asks(event):
            skipped.append(event.what)
            return "skip" if len(skipped) == 1 else "answer"
        return None

    worked = work(tmp_path, text, when=when, answer_for_me=False)
    assert skipped == ["fit Calder 6", "fit Calder 6"]
    assert worked.rung_outcomes() == ["skipped", "done"]
    (frame,) = worked.frames
    assert frame.filters == ("Calder 6",)


def test_longer_twice_and_shorter_once_is_a_third_of_a_stop_longer(tmp_path: Path) -> None:
    verbs: list[Verb] = ["longer", "longer", "shorter"]

    def when(event: Record) -> Verb | None:
        opened = isinstance(event, FrameOpened) and event.kind == "rung" and event.rung == 2
        return verbs.pop(0) if verbs and (opened or isinstance(event, CloseMoved)) else None

    worked = work(tmp_path, LONG, when=when)
    assert worked.frames[-1].open_s.held == pytest.approx(128.015 * 2 ** (1 / 3), abs=0.02)
    assert any("asked to be 161.3 s" in note for note in worked.frames[-1].notes)


def test_time_spent_on_a_turn_counts_towards_leave_by(tmp_path: Path) -> None:
    leave = (datetime.now().astimezone() + timedelta(minutes=6)).replace(microsecond=0)
    text = LONG + f"[run]\nproof = false\nleave_by = {leave.isoformat()}\n"
    worked = work(tmp_path, text, said=[(300.0, "answer")], answer_for_me=False)
    assert worked.rung_outcomes() == ["done", "left out"]
    assert [frame.rung for frame in worked.frames] == [1]


def cap_answered(verb: Verb | None) -> Callable[[Record], Verb | None]:
    """Return what answers every turn, and the one about the cap with a word of its own, or (None) not at all."""

    def when(record: Record) -> Verb | None:
        if not isinstance(record, Turn) or record.state != "asked":
            return None
        return verb if "cap" in record.what else "answer"

    return when


def test_dark_frames_that_are_offered_are_left_where_nobody_answers(tmp_path: Path) -> None:
    worked = work(tmp_path, LONG + "[run]\nproof = false\n", when=cap_answered(None), answer_for_me=False)
    assert worked.outcome == "done"
    assert [frame.kind for frame in worked.frames] == ["rung", "rung"]
    last = worked.ladder.turns[-1]
    assert (last.what, last.state) == ("put the cap on for dark frames", "nobody answered")
    assert "No dark frames: nobody answered within 5 min." in worked.notes()


def test_dark_frames_that_are_offered_are_taken_under_the_cap_or_skipped(tmp_path: Path) -> None:
    text = LONG + "[run]\nproof = false\n"
    taken = work(tmp_path / "taken", text, when=cap_answered("answer"), answer_for_me=False)
    assert [frame.kind for frame in taken.frames] == ["rung", "rung", "dark"]
    assert taken.mosaic(taken.frames[-1]).mean() < 20
    skipped = work(tmp_path / "skipped", text, when=cap_answered("skip"), answer_for_me=False)
    assert [frame.kind for frame in skipped.frames] == ["rung", "rung"]
    assert (taken.outcome, skipped.outcome) == ("done", "done")


def test_a_run_that_answers_by_itself_leaves_dark_frames_that_are_only_offered(tmp_path: Path) -> None:
    worked = work(tmp_path, LONG)
    assert worked.outcome == "done"
    assert [frame.kind for frame in worked.frames] == ["rung", "proof", "rung"]
    assert "cap" not in " ".join(turn.what for turn in worked.ladder.turns)
    assert "No dark frames: they are only offered, and nobody is here to put the cap on." in worked.notes()


def test_dark_frames_that_would_end_too_late_are_not_offered(tmp_path: Path) -> None:
    """Filters are on after 120 s, and 128 s follow: six minutes leave no room for 128 s more."""
    leave = (datetime.now().astimezone() + timedelta(minutes=6)).replace(microsecond=0)
    text = LONG + f"[run]\nproof = false\nleave_by = {leave.isoformat()}\n"
    worked = work(tmp_path, text, said=[(120.0, "answer")], answer_for_me=False)
    assert worked.outcome == "done"
    assert "cap" not in " ".join(turn.what for turn in worked.ladder.turns)
    assert "No dark frames: it would end at" in worked.notes()


def test_without_the_cap_on_there_are_no_dark_frames(tmp_path: Path) -> None:
    """The last rung is skipped, then the cap turn: neither may lead to a dark frame in the light."""
    text = LONG + '[run]\nproof = false\ndark_frames = "at the end"\n'

    def when(event: Record) -> Verb | None:
        if asks(event):
            return "skip" if event.what == "put the cap on" else "answer"
        return None

    worked = work(tmp_path, text, when=when, answer_for_me=False)
    assert [frame.kind for frame in worked.frames] == ["rung", "rung"]
    assert "put the cap on was not done" in worked.notes()
    skipped = work(tmp_path, text, after=(2, 30.0, "next"))
    assert [frame.kind for frame in skipped.frames] == ["rung", "rung", "dark"]
    assert skipped.ladder.turns[-1].what == "put the cap on"


def test_the_tide_as_it_was_typed_is_in_the_log(tmp_path: Path) -> None:
    worked = work(tmp_path, BASE + '[rungs]\ntimes = ["1/125"]\n[tide]\nhigh = "18:52"\n')
    notes = read_outing(worked.folder).notes
    told = [note for note in notes if note.text.startswith("Tide, as you typed it: high 18:52.")]
    assert "note" in {note.about for note in told}, "cautions are not shown again in a log"


def test_a_ladder_begins_with_the_filters_that_are_on_and_asks_for_none_of_them(tmp_path: Path) -> None:
    """What was put on for the ladder before stays, and is known again where the run is taken up."""
    text = BASE + '[rungs]\ntimes = ["1/2"]\n[run]\nproof = false\n' + SIX
    worked = work(tmp_path, text, fitted=("Calder 6",))
    assert worked.outcome == "done"
    (turn,) = worked.ladder.turns
    assert (turn.what, turn.state) == ("Calder 6 stays on the lens", "answered beforehand")
    assert all(frame.filters == ("Calder 6",) for frame in worked.frames)
    with closing(open_journal(worked.folder)) as journal:
        before = ladder_history(journal.entries(), 1)
    assert before is not None
    assert before.fitted == ("Calder 6",)


def test_filters_that_are_on_come_off_before_the_base_where_the_first_rung_is_made_without(tmp_path: Path) -> None:
    text = BASE.replace("frames = 0", "frames = 1\nagain = false") + '[rungs]\ntimes = ["1/125"]\n' + SIX
    worked = work(tmp_path, text, fitted=("Calder 6",))
    assert [turn.what for turn in worked.ladder.turns] == ["Calder 6 stays on the lens", "take off Calder 6"]
    assert next(frame.kind for frame in worked.frames if not frame.filters) == "base"
    assert worked.rung_outcomes() == ["done"]
