"""The end of an outing: what is missing is named, what is on the card comes home, a second copy is a copy."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, TEN, Worked, work, world
from tether.body.connection import Connection
from tether.body.protocol import Finding
from tether.body.simulated.body import SimulatedBody
from tether.clock import AffineClock, SteppedClock
from tether.errors import PlanError
from tether.journal.records import FetchOutcome, Mentioned, Record
from tether.journal.store import Journal
from tether.journal.telling import read_outing
from tether.outing.job import Job
from tether.service.finish import finish, read_ended, told_by_journal

TWO = BASE + '[rungs]\ntimes = ["1/125", "2"]\nframes = 1\n[run]\ndark_frames = "at the end"\ndark_over = "1"\n' + SIX


def finished(worked: Worked, *, fetch: bool = False, copy_to: Path | None = None) -> dict[str, Finding]:
    """Finish an outing and return every finding by its name."""
    found = finish(read_ended(worked.folder), fetch=fetch, copy_to=copy_to, port="", show=lambda _event: None)
    return {one.what: one for one in found}


@pytest.fixture
def whole(tmp_path: Path) -> Worked:
    return work(tmp_path, TWO, outing=tmp_path / "here")


@pytest.fixture
def frame_left(tmp_path: Path) -> Worked:
    """An outing whose second frame could not be brought home: six fetches of it were cut short."""
    truth = world(faults=[{"what": "truncates", "at_frame": 2, "times": 6}])
    return work(tmp_path, TWO, outing=tmp_path / "here", truth=truth)


def test_an_outing_in_which_nothing_is_missing(whole: Worked) -> None:
    found = finished(whole)
    assert {one.what for one in found.values() if one.verdict == "stop"} == set()
    assert found["card"].sentence == "Of 3 frames on it, none is missing in the outing."
    assert found["settings"].verdict == "ok"
    assert found["pack"].sentence == "Take off Calder 6, keep the cap that is on."


def test_without_the_camera_the_journal_tells(whole: Worked) -> None:
    found = {one.what: one for one in told_by_journal(read_ended(whole.folder))}
    assert found["frames"].sentence == "3 made, all of them copied."
    assert found["ladder"].sentence == "2 rungs, all of them done."


def test_a_frame_on_the_card_that_is_not_home_is_named_and_brought_home(frame_left: Worked) -> None:
    found = finished(frame_left)
    assert found["frames"].verdict == found["card"].verdict == "stop"
    assert "Frame 2 is made, but on the card only" in found["frames"].sentence
    assert "SIM_0002.DNG is on the card" in found["card"].sentence
    events: list[Record] = []
    done = finish(read_ended(frame_left.folder), fetch=True, copy_to=None, port="", show=events.append)
    assert [one.frame for one in events if isinstance(one, FetchOutcome)] == [2]
    assert not [one for one in done if one.verdict == "stop"]
    (frame,) = [one for one in read_outing(frame_left.folder).ladders[0].frames if one.frame == 2]
    assert (frame_left.folder / frame.files[0].name).is_file()


def test_a_file_that_is_gone_or_cut_short_is_missing(whole: Worked) -> None:
    first, second, *_ = sorted((whole.folder / "frames").iterdir())
    first.unlink()
    second.write_bytes(second.read_bytes()[:-1])
    finding = finished(whole)["disk"]
    assert finding.verdict == "stop"
    assert first.name in finding.sentence
    assert second.name in finding.sentence


def test_a_ladder_that_was_stopped_can_be_gone_on_with(tmp_path: Path) -> None:
    worked = work(tmp_path, TWO, outing=tmp_path / "here", said=[(0.0, "stop after this frame")])
    finding = finished(worked)["ladder"]
    assert finding.verdict == "note"
    assert f"Resume it: tether run {worked.folder}" in finding.sentence


def test_a_camera_that_is_not_there_leaves_its_card_uncompared(whole: Worked) -> None:
    ended = read_ended(whole.folder)
    away = replace(ended, job=job_of(whole).model_copy(update={"reach": Connection(way="camera", port="usb:000,000")}))
    found = {one.what: one for one in finish(away, fetch=False, copy_to=None, port="", show=lambda _event: None)}
    assert found["camera"].verdict == "stop"
    assert "not compared. No camera is found" in found["camera"].sentence
    assert found["frames"].verdict == "ok"


def job_of(worked: Worked) -> Job:
    """Return the job that a run of this outing would have."""
    return Job(
        plan_name="plan.toml",
        plan_text=worked.rehearsal.ready.plan.text,
        ladder=1,
        after_seq=0,
        pace=1.0,
        clock=AffineClock.started_now(1.0),
        boot="",
        world={},
    )


def test_where_no_ladder_was_begun_there_is_nothing_to_finish(tmp_path: Path) -> None:
    Journal.create(tmp_path / "empty").close()
    with pytest.raises(PlanError, match="nothing to finish"):
        read_ended(tmp_path / "empty")


# What the body may still be making

DROPPED = (
    BASE
    + '[rungs]\ntimes = ["1/125", "2m"]\nframes = 1\n[run]\nproof = false\ndark_frames = "by the body"\n'
    + SIX
    + TEN
)


@pytest.fixture
def dropped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Worked:
    """An outing left at once 50 s into a hold; the body makes its own dark frame then, which takes 50 s more."""
    worked = work(tmp_path, DROPPED, outing=tmp_path / "here", after=(2, 50.0, "drop everything"))
    over = read_ended(worked.folder).entries[-1].utc
    monkeypatch.setattr("tether.service.finish._clock", lambda _job: SteppedClock(start_utc=over))
    monkeypatch.setattr(SimulatedBody, "_write_all_out", lambda _body: None)
    return worked


def test_a_frame_that_the_body_is_still_making_is_waited_for_before_anything_is_said(dropped: Worked) -> None:
    told: list[Record] = []
    found = {
        one.what: one
        for one in finish(read_ended(dropped.folder), fetch=False, copy_to=None, port="", show=told.append)
    }
    assert found["card"].sentence.startswith("Frame SIM_0002.DNG is on the card and not in the outing.")
    assert "all of them home" not in found["frames"].sentence
    assert next(one.text for one in told if isinstance(one, Mentioned)).startswith("Waiting, 1")


def test_a_camera_that_stays_busy_gets_no_all_clear(dropped: Worked, monkeypatch: pytest.MonkeyPatch) -> None:
    told = SimulatedBody.status
    monkeypatch.setattr(SimulatedBody, "status", lambda body: replace(told(body), busy=True))
    monkeypatch.setattr(SimulatedBody, "card_files", lambda _body: ())
    found = finished(dropped)
    assert found["card"].verdict == "stop"
    assert "finish again in a minute" in found["card"].sentence
    assert "all of them home" not in found["frames"].sentence


def test_without_the_camera_a_frame_that_may_be_on_its_card_is_named(dropped: Worked) -> None:
    found = {one.what: one for one in told_by_journal(read_ended(dropped.folder))}
    assert found["frames"].verdict == "stop"
    assert found["frames"].sentence == (
        "1 made and copied. Frame 2 is perhaps on the card too. Connect the camera and finish again."
    )


# A second copy


def test_a_second_copy_tells_the_same_and_is_not_made_twice(whole: Worked, tmp_path: Path) -> None:
    copied = finished(whole, copy_to=tmp_path / "disk")["copy"]
    there = tmp_path / "disk" / "here"
    assert copied.verdict == "ok"
    assert read_outing(there).ladders == read_outing(whole.folder).ladders
    before = {path: path.stat().st_mtime_ns for path in (there / "frames").iterdir()}
    assert len(before) == 3
    assert finished(whole, copy_to=tmp_path / "disk")["copy"].verdict == "ok"
    assert {path: path.stat().st_mtime_ns for path in (there / "frames").iterdir()} == before


def test_a_frame_that_is_no_longer_as_it_came_is_named_and_not_copied(whole: Worked, tmp_path: Path) -> None:
    first = min((whole.folder / "frames").iterdir())
    data = bytearray(first.read_bytes())
    data[-1] ^= 1
    first.write_bytes(data)
    finding = finished(whole, copy_to=tmp_path / "disk")["copy"]
    assert finding.verdict == "stop"
    assert f"{first.name} is no longer what came from the camera" in finding.sentence
    assert not (tmp_path / "disk" / "here" / "frames" / first.name).exists()


def test_another_frame_of_that_name_is_left_and_named(whole: Worked, tmp_path: Path) -> None:
    first = min((whole.folder / "frames").iterdir())
    there = tmp_path / "disk" / "here" / "frames" / first.name
    there.parent.mkdir(parents=True)
    there.write_bytes(b"another")
    finding = finished(whole, copy_to=tmp_path / "disk")["copy"]
    assert finding.verdict == "stop"
    assert there.read_bytes() == b"another"


def test_a_copy_is_not_made_in_the_outing_itself(whole: Worked) -> None:
    with pytest.raises(PlanError, match="another disk"):
        finished(whole, copy_to=whole.folder / "copy")
    with pytest.raises(PlanError, match="another disk"):
        finished(whole, copy_to=whole.folder.parent)


def test_a_second_copy_that_the_plan_asks_for_is_completed(tmp_path: Path) -> None:
    """The disk was not there during the run; a rehearsal is not stopped by that."""
    worked = work(tmp_path, TWO.replace("[run]", f'[run]\ncopy_to = "{tmp_path / "disk"}"'), outing=tmp_path / "here")
    assert worked.outcome == "done"
    gone = finished(worked)["copy"]
    assert gone.verdict == "stop"
    assert gone.sentence.startswith(f"The disk of {tmp_path / 'disk'} is not there.")
    (tmp_path / "disk").mkdir()
    assert finished(worked)["copy"].verdict == "ok"
    copies = {path.name: path.read_bytes() for path in (tmp_path / "disk" / "here" / "frames").iterdir()}
    assert copies == {path.name: path.read_bytes() for path in (worked.folder / "frames").iterdir()}
