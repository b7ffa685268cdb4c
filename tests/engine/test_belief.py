"""The engine believes only what agrees: bodies whose dial, shutter or answer is not what they say."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, TEN, Worked, work, world
from tests.plan.plans import HEAD
from tether.journal.records import Record
from tether.journal.snapshot import asks

HELD = BASE + '[rungs]\ntimes = ["1/125", "2m", "4m"]\n[run]\nproof = false\n' + SIX + TEN
THREE = (
    BASE
    + '[rungs]\ntimes = ["1/500", "1/125", "1/60"]\n'
    + '[limits]\niso = [100, 800]\naperture = ["f/2.8", "f/22"]\ndiffraction = "off"\n'
)
THIRTY = BASE + '[rungs]\ntimes = ["1/125", "30", "2m"]\n[run]\nproof = false\n' + SIX + TEN


def with_fault(root: Path, text: str, **fault: object) -> Worked:
    return work(root, text, truth=world(faults=[fault]))


def really_open_s(worked: Worked) -> dict[int, float]:
    """Return how long the body's own record says that each of its exposures was open [s]."""
    lines = (worked.folder / "simulated-body" / "openings.jsonl").read_text().splitlines()
    return {line["frame"]: line["open_s"] for line in map(json.loads, lines) if line["what"] == "closed"}


def of_rung(worked: Worked, rung: int) -> list[str]:
    return [frame.outcome for frame in worked.frames if frame.rung == rung]


def test_a_dial_left_at_a_time_costs_a_held_rung_one_frame(tmp_path: Path) -> None:
    """The time stays at 1/125 s though bulb is read back: the first hold is a frame of 1/125 s."""
    worked = with_fault(tmp_path, HELD, what="keeps the old", setting="time", at_frame=2)
    assert really_open_s(worked)[2] == pytest.approx(1 / 128)
    wrong, right = (frame for frame in worked.frames if frame.rung == 2)
    assert "is not as asked" in worked.notes()
    assert wrong.believed_open_s == pytest.approx(1 / 128)
    assert right.difference_stops == pytest.approx(0.0, abs=0.01)
    assert worked.rung_outcomes() == ["done", "done, differs", "done"]


def test_a_dial_that_never_leaves_its_time_is_asked_about_once_and_no_held_rung_is_done(tmp_path: Path) -> None:
    asked: list[str] = []

    def listen(event: Record) -> None:
        if asks(event) and event.what == "see to the camera":
            asked.append(event.reason)

    truth = world(
        faults=[{"what": "keeps the old", "setting": "time", "at_frame": n, "times": "always"} for n in range(2, 9)]
    )
    worked = work(tmp_path, HELD, truth=truth, when=listen)
    assert worked.outcome == "done in part"
    assert worked.rung_outcomes() == ["done", "failed", "failed"]
    assert len(asked) == 1
    assert "1/125 s" in asked[0]
    assert len(of_rung(worked, 2)) == 2  # one, and one after the person was asked
    assert len(of_rung(worked, 3)) == 1


def test_an_iso_that_the_body_keeps_costs_one_frame_in_the_whole_ladder(tmp_path: Path) -> None:
    faults = [{"what": "keeps the old", "setting": "iso", "at_frame": n, "times": "always"} for n in range(2, 9)]
    worked = work(tmp_path, THREE, truth=world(faults=faults))
    assert sum("not as asked" in " ".join(frame.notes) for frame in worked.frames) == 1
    assert worked.outcome == "done"
    good = [frame for frame in worked.frames if "not as asked" not in " ".join(frame.notes)]
    assert [frame.rung for frame in good] == [1, 2, 3]
    for frame in good:
        assert frame.difference_stops is not None
        assert abs(frame.difference_stops) < 0.2


def test_a_shutter_that_shuts_by_itself_is_seen_and_the_frame_taken_again(tmp_path: Path) -> None:
    worked = with_fault(tmp_path, HELD, what="shuts early", at_frame=2, after_s=40.0)
    assert really_open_s(worked)[2] == pytest.approx(40.0)
    wrong, right = (frame for frame in worked.frames if frame.rung == 2)
    assert wrong.believed_open_s == pytest.approx(40.0, abs=0.1)
    assert right.believed_open_s == pytest.approx(128.0, abs=0.1)
    assert worked.outcome == "done"


def test_a_shutter_that_always_shuts_by_itself_is_never_called_done(tmp_path: Path) -> None:
    worked = with_fault(tmp_path, HELD, what="shuts early", times="always", after_s=40.0)
    assert worked.outcome == "done in part"
    assert worked.rung_outcomes()[1:] == ["failed", "failed"]


def test_an_opening_that_is_acted_on_late_is_told_by_the_exif(tmp_path: Path) -> None:
    """The command that opens is answered after a minute: 68 s of light between commands 128 s apart."""
    worked = with_fault(tmp_path, HELD, what="opens late", at_frame=2, for_s=60.0)
    assert really_open_s(worked)[2] == pytest.approx(68.0, abs=0.2)
    wrong, right = (frame for frame in worked.frames if frame.rung == 2)
    assert wrong.believed_open_s == pytest.approx(68.0, abs=0.2)
    assert right.believed_open_s == pytest.approx(128.0, abs=0.1)


def test_a_shutter_that_is_late_by_part_of_its_time_is_no_dial_and_nobody_is_asked(tmp_path: Path) -> None:
    """Acted on after 28 s of 128: it is taken again, also where that happens twice, and each file is that of its frame.

    When the late ones opened tells nothing of the body's clock.
    """
    late = {"what": "opens late", "for_s": 28.0}
    worked = work(tmp_path, HELD, truth=world(faults=[late | {"at_frame": 2}, late | {"at_frame": 3}]))
    assert of_rung(worked, 2) == ["made"] * 3
    assert worked.frames[-2].believed_open_s == pytest.approx(128.0, abs=0.1)
    assert [turn.what for turn in worked.ladder.turns if turn.what == "see to the camera"] == []
    assert [[file.card_name for file in frame.files] for frame in worked.frames] == [
        [f"SIM_000{n}.DNG"] for n in range(1, 6)
    ]
    assert worked.outcome == "done"


def test_an_opening_later_than_the_whole_hold_is_made_but_differs(tmp_path: Path) -> None:
    worked = with_fault(tmp_path, HELD, what="opens late", at_frame=2, for_s=300.0)
    assert of_rung(worked, 2)[:1] == ["made, differs"]
    assert "took 300" in worked.notes()
    assert worked.outcome == "done"


def test_a_thirty_second_frame_lost_at_four_seconds_is_waited_for_and_not_taken_again(tmp_path: Path) -> None:
    worked = with_fault(tmp_path, THIRTY, what="vanishes", at_frame=2, after_s=4.0, for_s=3.0)
    assert of_rung(worked, 2) == ["made"]
    frames = [frame for frame in worked.frames if frame.rung == 2]
    assert [frame.files[0].card_name for frame in frames] == ["SIM_0002.DNG"]
    assert not worked.told.loose_files
    frame = frames[0]
    assert "waited for" in worked.notes()
    assert "between" not in " ".join(frame.notes)
    assert worked.outcome == "done"


@pytest.mark.parametrize("dark", [True, False])
def test_its_own_dark_frame_is_waited_for_too(tmp_path: Path, dark: bool) -> None:
    text = THIRTY.replace("proof = false", 'proof = false\ndark_frames = "by the body"') if dark else THIRTY
    fault = {"what": "vanishes", "at_frame": 2, "after_s": 4.0, "for_s": 3.0}
    worked = work(tmp_path, text, truth=world(faults=[fault], dark_frame_by_body=dark))
    assert of_rung(worked, 2) == ["made"]
    assert worked.outcome == "done"
    assert not worked.told.loose_files


def test_a_frame_that_comes_after_its_rung_makes_that_done(tmp_path: Path) -> None:
    worked = with_fault(
        tmp_path, BASE + '[rungs]\ntimes = ["1/500", "1/125"]\n', what="delivers late", at_frame=1, for_s=66
    )
    assert worked.outcome == "done"
    assert worked.rung_outcomes() == ["done", "done"]


def test_a_ladder_with_a_frame_still_on_the_card_is_not_done(tmp_path: Path) -> None:
    worked = with_fault(
        tmp_path, BASE + '[rungs]\ntimes = ["1/500", "1/125"]\n', what="truncates", at_frame=1, times="always"
    )
    assert worked.outcome == "done in part"


SHORT_HOLDS = """
name = "Simulated, short"
like = "simulated"
[times]
longest = "1/4"
[hold]
shortest_s = 0.3
"""


def test_where_the_exif_is_too_coarse_the_light_says_that_a_hold_was_short(tmp_path: Path) -> None:
    """Whole seconds in the Exif can't tell 0.1 s from 0.8 s; the rock is three stops too dark."""
    body = tmp_path / "short.toml"
    body.write_text(SHORT_HOLDS)
    head = HEAD.replace('file = "simulated"', f'file = "{body}"')
    text = (
        '[base]\ntime = "1/15"\naperture = "f/8"\niso = 400\nframes = 2\nagain = false\n'
        '[rungs]\ntimes = ["1/15", "0.8"]\nframes = 1\n[limits]\naperture = ["f/2.8", "f/22"]\ndiffraction = "off"\n'
        '[readings]\nregions = "as proposed"\n[run]\nproof = false\n'
    )
    fault = {"what": "shuts early", "at_frame": 4, "after_s": 0.1}
    truth = world(faults=[fault], exif_held_whole=True)
    worked = work(tmp_path, text, truth=truth, head=head)
    held = worked.frames[-1]
    assert (held.way, held.open_s.exif) == ("held", 1.0)
    assert really_open_s(worked)[4] == pytest.approx(0.1)
    assert "not open as long as our commands say" in " ".join(held.notes)
