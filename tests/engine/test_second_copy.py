"""A second copy during the run: whole ladders with a disk that takes all, that is full, that goes and comes back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.engine.rig import BASE, Worked, work, world
from tether.files.copying import AskedCopy, CopyAnswer, SecondDisk
from tether.journal.records import CopyOutcome, FetchOutcome, LadderEnded, Record, Said
from tether.journal.telling import read_outing
from tether.service.finish import finish, read_ended
from tether.service.rehearsal import Rehearsal

PLAN = BASE + '[rungs]\ntimes = ["1/125", "1/60"]\nframes = 2\n[run]\ndark_frames = "none"\nsidecars = true\n'
#: Two rungs of two frames.
FRAMES = 4


def plan(disk: Path) -> str:
    return PLAN + f'copy_to = "{disk}"\n'


@pytest.fixture
def disk(tmp_path: Path) -> Path:
    (tmp_path / "disk").mkdir()
    return tmp_path / "disk"


def run(tmp_path: Path, disk: Path) -> Worked:
    return work(tmp_path, plan(disk), outing=tmp_path / "evening")


def raws(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (folder / "frames").glob("*.dng")}


def said(events: list[Record], about: str = "trouble") -> list[str]:
    return [one.text for one in events if isinstance(one, Said) and one.about == about and "Second copy" in one.text]


def outcomes(worked: Worked) -> list[CopyOutcome]:
    return [one for one in worked.events if isinstance(one, CopyOutcome)]


def refuses(monkeypatch: pytest.MonkeyPatch, *places: int) -> None:
    """Let the disk refuse the copies of some places in the order in which they are asked for, from 1."""
    copied, asked_for = SecondDisk.copied, [0]

    def full(disk: SecondDisk, asked: AskedCopy) -> CopyAnswer:
        asked_for[0] += 1
        if asked_for[0] in places:
            return CopyAnswer(name=asked.name, problem=f"The disk is full: {asked.name}.", kind="supply")
        return copied(disk, asked)

    monkeypatch.setattr(SecondDisk, "copied", full)


def test_each_raw_file_is_copied_as_it_comes_and_the_rest_at_the_end(tmp_path: Path, disk: Path) -> None:
    worked = run(tmp_path, disk)
    assert worked.outcome == "done"
    assert raws(disk / "evening") == raws(worked.folder)
    assert [(one.copied, one.home, one.problem) for one in outcomes(worked)] == [
        (number, number, None) for number in range(1, FRAMES + 1)
    ]
    first = worked.events.index(outcomes(worked)[0])
    assert sum(isinstance(one, FetchOutcome) for one in worked.events[:first]) == 1, "not only at the end"
    assert said(worked.events, "note") == [
        f"Second copy: all 4 raw files are in {disk / 'evening'}, read back and the same."
    ]
    assert [one.outcome for one in read_outing(disk / "evening").ladders] == ["done"], "the journal to its last record"
    for part, suffix in (("frames", "xmp"), ("previews", "jpg")):
        assert len(list((disk / "evening" / part).glob(f"*.{suffix}"))) == FRAMES


def test_a_plan_that_names_no_disk_has_no_copy(tmp_path: Path) -> None:
    worked = work(tmp_path, PLAN)
    assert outcomes(worked) == []
    assert said(worked.events) == said(worked.events, "note") == []


def test_a_full_disk_is_said_once_and_the_ladder_goes_on(
    tmp_path: Path, disk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    refuses(monkeypatch, *range(2, 99))
    worked = run(tmp_path, disk)
    assert worked.outcome == "done"
    first, last = said(worked.events)
    assert first.startswith("Second copy: The disk is full: frames/")
    assert first.endswith("The run continues without it; what is missing is copied later.")
    assert last == (
        f"Second copy: 1 of 4 raw files are in {disk / 'evening'}."
        f" Once that disk is there and has room, copy the rest: tether finish {worked.folder}"
    )
    end = next(at for at, one in enumerate(worked.events) if isinstance(one, LadderEnded))
    assert worked.events.index(next(one for one in worked.events if isinstance(one, Said) and one.text == last)) < end
    assert [bool(one.problem) for one in outcomes(worked)] == [False, True, True, True]


def test_a_disk_that_takes_files_again_gets_those_that_it_lacks(
    tmp_path: Path, disk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    refuses(monkeypatch, 2, 3)
    worked = run(tmp_path, disk)
    assert raws(disk / "evening") == raws(worked.folder)
    assert len(said(worked.events)) == 1
    assert said(worked.events, "note")[0] == "Second copy: all 4 raw files have one now."


def test_a_ladder_that_is_resumed_copies_what_is_missing_and_looks_at_the_rest(tmp_path: Path, disk: Path) -> None:
    """The disk is pulled after the first frame, the run is stopped, and the disk is there again when it goes on."""
    away = tmp_path / "away"

    def pulled(event: Record) -> None:
        if isinstance(event, CopyOutcome) and event.problem is None and event.home == 1:
            disk.rename(away)

    broken = work(
        tmp_path, plan(disk), outing=tmp_path / "evening", when=pulled, after=(2, 0.0, "stop after this frame")
    )
    assert broken.outcome == "stopped after a frame"
    assert len(raws(broken.folder)) == FRAMES - 1
    assert len(said(broken.events)) == 2
    away.rename(disk)
    assert len(raws(disk / "evening")) == 1
    again = replace(
        Rehearsal.of(broken.rehearsal.ready.plan, root=tmp_path, outing=broken.folder, world=world()), ladder=1
    )
    events: list[Record] = []
    assert again.run(events.append).outcome == "done"
    assert raws(disk / "evening") == raws(broken.folder)
    told = [one for one in events if isinstance(one, CopyOutcome)]
    assert len(told) == FRAMES - 1, "the one that was there is looked at, and not told again"
    assert (told[-1].copied, told[-1].home) == (FRAMES, FRAMES)
    assert said(events, "note")[-1] == (
        f"Second copy: all 4 raw files are in {disk / 'evening'}: 3 were read back now and are the same; of 1, compared"
        f" when it was copied, only the size was looked at. Compare all again: tether finish {broken.folder}"
    )


def test_a_run_that_is_dropped_copies_nothing_more(tmp_path: Path, disk: Path) -> None:
    dropped = work(tmp_path, plan(disk), outing=tmp_path / "evening", after=(1, 0.0, "drop everything"))
    assert dropped.outcome == "dropped"
    assert not (disk / "evening").exists()


def test_a_disk_that_is_pulled_before_the_first_frame_has_no_copy_made_in_its_place(
    tmp_path: Path, disk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is there when the run looks at it, and what copies finds a folder of the outing's own disk."""
    monkeypatch.setattr("tether.engine.second_copy.is_apart", lambda *_: True)
    worked = run(tmp_path, disk)
    assert worked.outcome == "done"
    assert f"The disk of {disk} is not there." in said(worked.events)[0]
    assert list(disk.iterdir()) == []


def test_nor_when_a_ladder_is_resumed_or_the_outing_is_finished(
    tmp_path: Path, disk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as there:
        there.setattr("tether.files.copying.is_apart", lambda *_: True)
        broken = work(tmp_path, plan(disk), outing=tmp_path / "evening", after=(2, 0.0, "stop after this frame"))
    assert {one.apart for one in outcomes(broken)} == {True}
    (disk / "evening").rename(tmp_path / "the disk")
    again = Rehearsal.of(broken.rehearsal.ready.plan, root=tmp_path, outing=broken.folder, world=world())
    assert replace(again, ladder=1).run().outcome == "done"
    (found,) = [
        one
        for one in finish(read_ended(broken.folder), fetch=False, copy_to=None, port="", show=lambda _: None)
        if one.what == "copy"
    ]
    assert (found.verdict, f"The disk of {disk} is not there." in found.sentence) == ("stop", True)
    assert list(disk.iterdir()) == []
