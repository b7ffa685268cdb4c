"""The engine under troubles of the simulated body: complete, or stopped with a sentence; shutter shut, nothing lost."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, TEN, Worked, work, world
from tether.body.simulated.body import SimulatedBody
from tether.control.commands import Verb
from tether.engine.engine import verdict
from tether.errors import SupplyError
from tether.journal.records import LadderEnded, Record
from tether.journal.snapshot import asks

TWO = BASE + '[rungs]\ntimes = ["1/500", "1/125"]\n'
HELD = BASE + '[rungs]\ntimes = ["1/125", "2m", "4m"]\n[run]\nproof = false\n' + SIX + TEN


def with_fault(root: Path, text: str, **fault: object) -> Worked:
    return work(root, text, truth=world(faults=[fault]))


def shut(worked: Worked) -> bool:
    """Say whether the body's own record has a closing for every opening."""
    record = (worked.folder / "simulated-body" / "openings.jsonl").read_text().splitlines()
    whats = [json.loads(line)["what"] for line in record]
    return whats.count("opened") == whats.count("closed")


def all_home(worked: Worked) -> bool:
    """Say whether every frame on the simulated card is on disk."""
    card = {path.stem for path in (worked.folder / "simulated-body" / "card").glob("*.json")}
    home = {Path(file.card_name).stem for frame in worked.frames for file in frame.files}
    home |= {Path(file.card_name).stem for file in worked.told.loose_files}
    return card == home


@pytest.mark.parametrize(
    "fault",
    [
        {"what": "busy", "at_call": "apply", "for_s": 5},
        {"what": "busy", "at_call": "take", "at_frame": 2, "for_s": 3},
        {"what": "busy", "at_call": "open", "for_s": 8},
        {"what": "times out", "at_call": "apply", "for_s": 20},
        {"what": "times out", "at_call": "files", "for_s": 20},
        {"what": "times out", "at_call": "fetch", "for_s": 20},
        {"what": "times out", "at_call": "open", "for_s": 20},
        {"what": "times out", "at_call": "take", "for_s": 20},
        {"what": "times out", "at_call": "close", "at_frame": 2, "for_s": 3},
        {"what": "refuses", "setting": "iso", "at_frame": 2},
        {"what": "takes another", "setting": "iso", "at_frame": 2},
        {"what": "keeps the old", "setting": "iso", "at_frame": 2},
        {"what": "delivers late", "at_frame": 1, "for_s": 20},
        {"what": "delivers late", "at_frame": 2, "for_s": 100},
        {"what": "truncates", "at_frame": 1},
        {"what": "truncates", "at_frame": 3, "times": 2},
        {"what": "vanishes", "at_frame": 1, "for_s": 15},
        {"what": "vanishes", "at_frame": 2, "after_s": 30, "for_s": 40},
        {"what": "vanishes", "at_frame": 2, "after_s": 120, "for_s": 30},
        {"what": "card full", "at_frame": 2},
        {"what": "battery dies", "at_frame": 2, "after_s": 20},
    ],
    ids=lambda fault: " ".join(str(value) for value in fault.values()),
)
def test_what_passes_is_lived_through(tmp_path: Path, fault: dict[str, object]) -> None:
    """Every trouble that ends, or that the person mends when asked, leaves the ladder complete and nothing lost."""
    worked = with_fault(tmp_path, HELD, **fault)
    assert worked.outcome == "done", worked.notes()
    assert all(outcome in ("done", "done, differs") for outcome in worked.rung_outcomes())
    good = {frame.rung for frame in worked.frames if frame.outcome == "made" and frame.files}
    assert good == {1, 2, 3}
    assert shut(worked)
    assert all_home(worked)
    assert not worked.told.open_intents


def test_a_value_refused_for_good_leaves_out_the_rung_and_says_so(tmp_path: Path) -> None:
    worked = with_fault(tmp_path, TWO, what="refuses", setting="iso", at_frame=1, times="always")
    assert worked.outcome == "done in part"
    assert worked.rung_outcomes()[0] == "failed"
    assert "tried once more" in worked.notes()


def test_a_refused_rung_waits_for_the_person_where_the_plan_says_so(tmp_path: Path) -> None:
    asked: list[str] = []

    def answer(event: Record) -> Verb | None:
        if not asks(event):
            return None
        asked.append(event.what)
        return "answer" if len(asked) < 3 else "skip"

    truth = world(faults=[{"what": "refuses", "setting": "iso", "at_frame": 1, "times": "always"}])
    worked = work(tmp_path, TWO, truth=truth, when=answer, answer_for_me=False)
    assert asked[:3] == ["see to the camera"] * 3
    assert worked.rung_outcomes()[0] == "skipped"


def test_another_iso_within_the_limits_is_solved_around(tmp_path: Path) -> None:
    text = TWO + "[limits]\niso = [100, 800]\n"
    worked = with_fault(tmp_path, text, what="takes another", setting="iso", at_frame=1, times=2)
    frame = worked.frames[0]
    assert frame.read_back is not None
    assert frame.asked.iso_label != frame.planned.iso_label
    assert frame.read_back.iso == frame.asked.iso
    assert worked.rung_outcomes()[0] == "done, differs"
    assert "solved" in worked.notes()
    difference = frame.difference_stops
    assert difference is not None
    assert abs(difference) < 0.2


def test_a_read_back_that_lies_costs_one_frame_and_is_named(tmp_path: Path) -> None:
    """The body keeps the old ISO and reads back the new one: only the frame's Exif tells."""
    worked = with_fault(tmp_path, TWO, what="keeps the old", setting="iso", at_frame=1)
    assert [frame.rung for frame in worked.frames] == [1, 1, 2]
    first, second = worked.frames[:2]
    assert first.read_back is not None
    assert first.read_back.iso == first.asked.iso
    assert first.exif is not None
    assert first.exif.iso != first.asked.iso
    assert second.exif is not None
    assert second.exif.iso == second.asked.iso
    assert "is not as asked" in worked.notes()
    assert worked.rung_outcomes()[0] == "done, differs"


def test_a_frame_that_comes_late_is_filed_under_its_own_rung(tmp_path: Path) -> None:
    worked = with_fault(tmp_path, TWO, what="delivers late", at_frame=1, for_s=66)
    assert "has not come yet" in worked.notes()
    for frame in worked.frames:
        (file,) = frame.files
        assert f"_R{frame.rung:02d}_" in file.name
        assert frame.exif is not None
        assert frame.exif.time_s == pytest.approx(frame.asked.time_s, rel=1e-6)


def test_a_file_that_is_always_cut_short_stays_on_the_card_and_is_named(tmp_path: Path) -> None:
    worked = with_fault(tmp_path, TWO, what="truncates", at_frame=1, times="always")
    assert "still on the card" in worked.notes()
    assert not worked.frames[0].files
    assert worked.frames[1].files
    assert list((worked.folder / "frames").glob("*.damaged*"))


def test_a_body_that_never_comes_back_ends_the_run_with_a_sentence(tmp_path: Path) -> None:
    worked = with_fault(tmp_path, HELD, what="vanishes", at_frame=2, after_s=10, for_s=100000)
    assert worked.outcome == "failed"
    assert worked.ladder.note
    assert "SHUTTER MAY STILL BE OPEN" in worked.notes()
    assert worked.rung_outcomes() == ["done", "failed"]


def test_a_close_that_comes_late_is_told_as_an_interval(tmp_path: Path) -> None:
    worked = with_fault(tmp_path, HELD, what="vanishes", at_frame=2, after_s=120, for_s=30)
    assert "it was open for between" in worked.notes()


def test_a_card_with_too_little_room_is_asked_to_be_changed_first(tmp_path: Path) -> None:
    worked = work(tmp_path, TWO + "frames = 2\n", truth=world(card_frames=3))
    assert worked.outcome == "done"
    assert [turn.what for turn in worked.ladder.turns] == ["change the card"]
    assert "room for 1 frame, this rung needs 2" in worked.ladder.turns[0].reason


def test_a_low_battery_is_asked_to_be_changed_first(tmp_path: Path) -> None:
    worked = work(tmp_path, TWO, truth=world(battery=0.06, battery_per_frame=0.02))
    assert worked.outcome == "done"
    assert [turn.what for turn in worked.ladder.turns] == ["change the battery"]


def test_trouble_that_an_answered_turn_left_as_it_was_is_said_and_asked_again_but_not_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def empty(*_: object) -> None:
        raise SupplyError("The battery of the body is empty; change it.")

    monkeypatch.setattr(SimulatedBody, "apply", empty)
    worked = work(tmp_path, TWO)
    assert worked.outcome == "failed"
    assert [turn.what for turn in worked.ladder.turns] == ["see to the camera"] * 2
    assert worked.notes().count("Nothing has changed since you were asked.") == 2


def test_the_exit_code_says_what_the_person_must_do(tmp_path: Path) -> None:
    lost = with_fault(tmp_path, HELD, what="vanishes", at_frame=2, after_s=10, for_s=100000)
    over = lost.events[-1]
    assert isinstance(over, LadderEnded)
    assert over.trouble == "lost"
    assert verdict(over.outcome, over.trouble) == 4
    assert verdict("failed", "supply") == verdict("failed", "camera") == verdict("failed", "busy") == 3
    assert verdict("done") == 0
    assert verdict("done in part") == verdict("closed and kept") == 1
