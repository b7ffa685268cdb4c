"""The draft process: what is wished and what is told, on the simulated body; and as a process that a face keeps."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest
from PIL import Image

from tests.editor.rig import TEXT, Kept, N
from tether.editor.messages import (
    Begin,
    Begun,
    Check,
    Checked,
    Drafted,
    DraftFrame,
    EditorEvent,
    EditorRequest,
    Expose,
    Find,
    FromCamera,
    Halt,
    Leave,
    Nudge,
    PictureShown,
    Save,
    SetRegion,
    ShowLive,
    Start,
    Undo,
    WishAnswer,
)
from tether.editor.process import DraftProcess, Wished
from tether.plan.file import plan_from_text, read_plan
from tether.report.place import Framing


class Sat:
    """A draft process in this one: what was told is kept."""

    def __init__(self, start: Start, folder: Path) -> None:
        self.wishes: queue.SimpleQueue[Wished] = queue.SimpleQueue()
        self.told: list[EditorEvent] = []
        self.process = DraftProcess(start, self.wishes, self.told.append, folder)

    def done(self, *wishes: EditorRequest) -> list[EditorEvent]:
        """Do wishes, one after the other, and return what was told meanwhile."""
        before = len(self.told)
        for number, wish in enumerate(wishes, start=1):
            self.process.do(wish, number)
        return self.told[before:]


def of(kind: type[N], told: list[EditorEvent]) -> list[N]:
    return [one for one in told if isinstance(one, kind)]


@pytest.fixture
def sat(start: Start, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Sat]:
    monkeypatch.setattr("tether.capture.base_search.APART_S", 0.0)
    sat = Sat(start, tmp_path)
    yield sat
    sat.process.end()


@pytest.mark.prove
def test_frames_for_the_base_are_told_with_their_histogram_of_the_water_and_the_base_that_is_found(sat: Sat) -> None:
    told = sat.done(SetRegion(what="water", box=(0.2, 0.5, 0.8, 0.9)), Expose(), Find(), Undo())
    answers = of(WishAnswer, told)
    assert [one.ok for one in answers] == [True] * 4, answers
    assert answers[2].sentence.startswith("Base: 1/")
    frames = of(DraftFrame, told)
    assert len(frames) >= 3
    for frame in frames:
        assert frame.bars.of == "water"
        assert Path(frame.picture).exists()
        for channel, shares in frame.bars.shares.items():
            assert sum(shares) + frame.bars.clipped[channel] == pytest.approx(1, abs=1e-4)
    states = of(Drafted, told)
    bases = [one.ladder.base.time_s for one in states if one.ladder]
    assert bases[0] != bases[1], "the search found the base it began with, so that this shows nothing"
    assert bases[0] == bases[2]
    rooms = [plan_from_text(one.text).base.headroom_stops for one in states if one.ladder]
    assert answers[2].sentence.partition("with ")[2].startswith(f"{rooms[1]:.2f} stops of headroom")
    assert (rooms[0], rooms[2]) == (None, None)
    kept = list(Path(frames[0].picture).parent.glob("frames/*"))
    assert len(kept) == 1, "no frame is kept but the last, to be read anew"


def test_a_rectangle_that_is_set_moved_or_taken_back_reads_the_frame_that_is_there_anew(sat: Sat) -> None:
    """Two parts of the scene of which one is brighter: they can't have the same headroom."""
    (whole,) = of(DraftFrame, sat.done(Expose()))
    above, below = SetRegion(what="water", box=(0.0, 0.0, 1.0, 0.2)), SetRegion(what="water", box=(0.2, 0.6, 0.8, 0.9))
    found = [
        of(DraftFrame, sat.done(wish)) for wish in (above, below, Undo(), Undo(), SetRegion(what="rock", box=None))
    ]
    assert [len(one) for one in found] == [1, 1, 1, 1, 0], "read anew where rectangles changed, and only there"
    read = [one for (one,) in found[:4]]
    assert {one.picture for one in read} == {whole.picture}, "it is the same frame"
    assert [one.bars.of for one in read] == ["water", "water", "water", "whole picture"]
    rooms = [one.headroom_stops for one in read]
    assert rooms[0] != pytest.approx(rooms[1], abs=0.05)
    assert rooms[2] == rooms[0]
    assert (rooms[3], read[3].bars) == (whole.headroom_stops, whole.bars)
    assert not of(DraftFrame, sat.done(Save(), FromCamera()))


def test_the_base_is_taken_from_what_the_camera_is_set_to(sat: Sat, start: Start) -> None:
    told = sat.done(Expose(), FromCamera())
    last = of(Drafted, told)[-1].ladder
    base = read_plan(Path(start.path)).base
    assert last is not None
    assert last.base.time_s == pytest.approx(base.time.exact)
    assert "as the camera is set" in of(WishAnswer, told)[-1].sentence


def test_a_search_is_ended_between_two_frames_and_what_else_was_wished_meanwhile_is_refused(sat: Sat) -> None:
    sat.wishes.put((Save(), 2))
    sat.wishes.put((Halt(), 3))
    told = sat.done(Find())
    assert len(of(DraftFrame, told)) == 1
    answers = {one.to: one for one in of(WishAnswer, told)}
    assert not answers[1].ok
    assert not answers[2].ok
    assert answers[3].ok
    assert not of(Drafted, told)


def test_the_checks_are_told_also_while_the_camera_was_open(sat: Sat) -> None:
    told = sat.done(Expose(), Check(), Leave())
    (checked,) = of(Checked, told)
    found = {one.what: one.verdict for one in checked.findings}
    assert found["camera"] == "note"
    assert found["times"] == "ok"


def test_what_cannot_be_done_is_a_sentence_and_the_next_wish_is_done(sat: Sat, start: Start) -> None:
    told = sat.done(Undo(), SetRegion(what="rock", box=(0.0, 0.0, 0.5, 0.5)), Save())
    assert [one.ok for one in of(WishAnswer, told)] == [False, True, True]
    assert "no edit" in of(WishAnswer, told)[0].sentence
    assert "[[region]]" in Path(start.path).read_text()


def test_a_run_is_begun_as_it_is_drafted_and_outlives_the_process(kept: Kept, start: Start) -> None:
    kept.until(Drafted)
    kept.keeper.wish(SetRegion(what="rock", box=(0.0, 0.0, 0.5, 0.5)))
    kept.keeper.wish(Begin(who_knows="Anna, until 22:00"))
    outing = Path(kept.until(Begun).outing)
    kept.keeper.close()
    kept.keeper.wait()
    assert outing.parent == Path(start.under)
    assert "[[region]]" in (outing / "run.json").read_text()
    assert "[[region]]" not in Path(start.path).read_text(), "only saving writes the plan's file"
    assert (outing / "who-knows.txt").read_text() == "Anna, until 22:00\n"
    assert b"Anna" not in (outing / "journal.sqlite").read_bytes(), "it is in no journal, which faces and reports read"


def test_live_view_is_shown_by_the_process_too_and_says_how_sharp_it_is(kept: Kept) -> None:
    kept.keeper.wish(ShowLive())
    shown = kept.until(PictureShown)
    assert shown.picture, kept.known.said
    assert kept.known.focus.best is not None


def test_live_view_goes_on_until_it_is_ended_and_a_frame_ends_it(sat: Sat) -> None:
    told = sat.done(ShowLive(at=(0.25, 0.75)))
    (shown,) = of(PictureShown, told)
    assert shown.times is not None
    assert shown.times > 1
    assert (shown.at, shown.why_not_nudged) == ((0.25, 0.75), None)
    with Image.open(shown.picture) as picture:
        assert picture.width > picture.height
    whole = of(PictureShown, sat.done(ShowLive()))[-1]
    assert whole.times == 1
    assert [one.ok for one in of(WishAnswer, sat.done(Nudge(steps=2), Expose()))] == [True, True]
    assert [one.picture for one in of(PictureShown, sat.told)][-1] == ""
    assert not Path(shown.picture).exists(), "a picture that is not live any more is not left for one that is"


def test_live_view_says_how_its_place_was_framed_last(
    sat: Sat, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert of(PictureShown, sat.done(ShowLive(), Halt()))[0].framed is None
    framing = Framing(preview=tmp_path / "base.jpg", begun_utc=datetime(2026, 10, 3, tzinfo=UTC))
    known = SimpleNamespace(framing=framing)
    monkeypatch.setattr("tether.outing.place.place_known", lambda _place, _outings: known)
    assert of(PictureShown, sat.done(ShowLive()))[0].framed == str(tmp_path / "base.jpg")


def test_live_view_ends_by_itself(sat: Sat) -> None:
    sat.done(ShowLive())
    sat.process._live_until_s = 0.0
    sat.process._idle()
    assert of(PictureShown, sat.told)[-1].picture == ""
    assert "ended by itself" in of(WishAnswer, sat.told)[-1].sentence
    before = len(sat.told)
    sat.process._idle()
    assert len(sat.told) == before


def test_where_no_camera_is_connected_it_says_what_to_look_at(start: Start, tmp_path: Path) -> None:
    plan = Path(start.path)
    plan.write_text(TEXT.replace('file = "simulated"', 'file = "canon-eos-r5"'))
    sat = Sat(replace(start, world=None), tmp_path)
    (answer,) = of(WishAnswer, sat.done(Expose()))
    assert not answer.ok
    assert "No camera is found" in answer.sentence
    rehearsed = Sat(replace(start, simulated=True), tmp_path)
    told = rehearsed.done(Expose())
    rehearsed.process.end()
    assert of(WishAnswer, told)[0].ok
    assert of(DraftFrame, told)
