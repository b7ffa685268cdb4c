"""Base frames: taken first, their regions confirmed, later frames read against them, and rungs corrected by that."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from tests.engine.rig import HONEST, TEN, Worked, on_regions, work, world
from tests.report.printing import printed
from tether.body.simulated.world import SensorTruth
from tether.control.commands import Verb
from tether.engine.analysis_queue import Reader
from tether.frames.against import Against
from tether.journal.records import FrameRead, Record, RegionsShown, RungBegun
from tether.journal.story import FrameStory
from tether.journal.telling import read_outing
from tether.report.audit_view import AuditView

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
SLOW = BASE.replace("1/125", "1/8")
#: A bare rung, and one of two minutes through ten stops.
LADDER = SLOW + '[rungs]\ntimes = ["1/8", "2m"]\nframes = 1\n' + TEN
#: The same rung twice through ten stops, without a proof.
TIMED = BASE + '[rungs]\ntimes = ["4", "8"]\nframes = 1\n' + TEN


def off(stops: float) -> dict[str, dict[str, object]]:
    """Return filters of which the one of ten stops is off."""
    return {**HONEST, "Calder 10": {"stops": 10.0 + stops, "cast_stops": (0.0, 0.0, 0.0)}}


def rung(worked: Worked, number: int) -> FrameStory:
    return next(frame for frame in worked.frames if frame.kind == "rung" and frame.rung == number)


def level(frame: FrameStory) -> float:
    assert frame.readings is not None
    assert frame.readings.rock is not None
    return frame.readings.rock.brighter_stops["G"]


def turns(worked: Worked) -> list[str]:
    return [turn.what for turn in worked.ladder.turns]


def shown(worked: Worked) -> list[tuple[str | None, str]]:
    """Return what was shown of regions, in order."""
    return [(one.picture, one.state) for one in worked.events if isinstance(one, RegionsShown)]


def test_base_frames_come_first_and_once_more_last(tmp_path: Path) -> None:
    worked = work(tmp_path, LADDER)
    bare, through = ["proof"] * 3, ["proof"]  # ISO 200, 400 and 6400 without glass, then a test exposure through it
    assert [frame.kind for frame in worked.frames] == ["base", "base", "rung", *bare, *through, "rung", "base"]
    assert [frame.filters for frame in worked.frames if frame.kind == "proof"] == [()] * 3 + [("Calder 10",)]
    assert turns(worked) == ["fit Calder 10", "take off Calder 10"], "nothing waits for a word on the regions"
    assert shown(worked) == [("readings/ladder-1.jpg", "asked")]
    assert worked.ladder.regions is not None
    assert worked.ladder.regions.source == "proposed"
    assert (worked.folder / "readings" / "ladder-1.jpg").stat().st_size > 1000
    kept = Against.load(worked.folder / "readings" / "ladder-1.npz")
    assert kept.regions.cells == worked.ladder.regions.cells
    read = [event for event in worked.events if isinstance(event, FrameRead)]
    assert [event.frame for event in read] == list(range(1, 10))
    assert all(worked.said(frame).off_stops == pytest.approx(0, abs=0.02) for frame in range(3, 10))


@pytest.mark.parametrize("stops", [-0.5, 0.4])
def test_the_proof_sets_the_hold(tmp_path: Path, stops: float) -> None:
    """A filter that takes more or less than it says makes the proof, and not the hold, darker or brighter."""
    only_held = SLOW + '[rungs]\ntimes = ["2m"]\nframes = 1\n' + TEN
    worked = work(tmp_path, only_held, truth=world(filters=off(stops)))
    proof = next(frame for frame in worked.frames if frame.kind == "proof" and frame.filters)
    assert worked.said(proof.frame).off_stops == pytest.approx(-stops, abs=0.02)
    held = rung(worked, 1)
    assert level(held) == pytest.approx(0, abs=0.02)
    assert held.way == "held"
    assert f"Calder 10 takes {10 + stops:.1f} stops and not 10.0" in worked.notes()


def test_a_rung_is_corrected_by_the_one_before_through_the_same_filter(tmp_path: Path) -> None:
    worked = work(tmp_path, TIMED + "[run]\nproof = false\n", truth=world(filters=off(0.5)))
    assert level(rung(worked, 1)) == pytest.approx(-0.5, abs=0.2)
    assert abs(level(rung(worked, 2))) < 0.18  # marks are a third of a stop apart


def test_a_long_rung_that_opens_through_what_is_unmeasured_is_a_third_darker(tmp_path: Path) -> None:
    """The first long rung through an unmeasured filter is; the next is not, for a frame has shown what it takes."""
    held = SLOW + '[rungs]\ntimes = ["1m", "2m"]\nframes = 1\n' + TEN.replace("measured_stops = 10.0\n", "")
    head = """
title = "A test"
[body]
file = "simulated"
[lens]
focal_mm = 24
widest = "f/2.8"
narrowest = "f/22"
"""
    worked = work(tmp_path, held + "[run]\nproof = false\n", head=head)
    assert level(rung(worked, 1)) == pytest.approx(-1 / 3, abs=0.03)
    assert level(rung(worked, 2)) == pytest.approx(0.0, abs=0.03)
    assert "which is not measured" in worked.notes()


def test_only_said_where_the_plan_says_so(tmp_path: Path) -> None:
    worked = work(tmp_path, TIMED + '[readings]\ncorrect = "say"\n', truth=world(filters=off(0.5)))
    assert level(rung(worked, 2)) == pytest.approx(level(rung(worked, 1)), abs=0.2)
    assert "Calder 10 takes 10.5 stops and not 10.0" in worked.notes()
    assert "It will come out 0.50 stop darker than promised" in worked.notes()
    assert "Made" not in worked.notes()


def test_no_more_is_corrected_than_the_plan_allows(tmp_path: Path) -> None:
    held = SLOW + '[rungs]\ntimes = ["2m"]\nframes = 1\n' + TEN + "[readings]\ncorrect_at_most_stops = 0.3\n"
    worked = work(tmp_path, held, truth=world(filters=off(1.0)))
    assert level(rung(worked, 1)) == pytest.approx(-0.7, abs=0.03)


def test_a_proposal_is_gone_by_at_once_and_the_person_may_say_that_it_is_right(tmp_path: Path) -> None:
    """No time passes for it: the first rung opens when it would have."""
    took_s = []
    for name, when in (("silent", lambda _: None), ("said", on_regions("regions right"))):
        worked = work(tmp_path / name, TIMED, truth=world(filters=off(0.5)), when=when)
        assert abs(level(rung(worked, 2))) < 0.18
        first, second = (datetime.fromisoformat(one.opened_utc or "") for one in worked.frames[1:3])
        took_s.append((second - first).total_seconds())
    assert took_s[0] == pytest.approx(took_s[1], abs=0.01)
    assert took_s[0] < 5
    assert worked.ladder.regions is not None
    assert worked.ladder.regions.source == "confirmed"
    assert shown(worked)[-1] == ("readings/ladder-1.jpg", "right")


def test_regions_that_are_wrong_are_not_used_from_then_on(tmp_path: Path) -> None:
    worked = work(tmp_path, TIMED, truth=world(filters=off(0.5)), when=on_regions("regions wrong"))
    assert worked.ladder.regions is not None
    assert worked.ladder.regions.source == "refused"
    assert worked.outcome == "done"
    of_rungs = [frame for frame in worked.frames if frame.kind == "rung"]
    assert all(frame.readings is not None and frame.readings.rock is None for frame in of_rungs)
    assert "Made" not in worked.notes()
    (steered,) = worked.ladder.steering
    assert steered.effect == (
        "from now on nothing is compared or corrected by them; [[region]] tables in a plan give others"
    )


def test_what_was_said_wrong_can_be_said_right(tmp_path: Path) -> None:
    def when(record: Record) -> Verb | None:
        if isinstance(record, RegionsShown):
            return {"asked": "regions wrong", "wrong": "regions right"}.get(record.state)  # type: ignore[return-value]
        return None

    worked = work(tmp_path, TIMED, truth=world(filters=off(0.5)), when=when)
    assert [state for _, state in shown(worked)] == ["asked", "wrong", "right"]
    assert abs(level(rung(worked, 2))) < 0.18


def test_what_the_plan_lets_be_used_unseen_can_be_said_wrong_too(tmp_path: Path) -> None:
    text = TIMED + '[readings]\nregions = "as proposed"\n'
    said: list[bool] = []

    def once(record: Record) -> Verb | None:
        if said or not isinstance(record, RungBegun):
            return None
        said.append(True)
        return "regions wrong"

    worked = work(tmp_path, text, truth=world(filters=off(0.5)), when=once)
    assert worked.ladder.regions is not None
    assert worked.ladder.regions.source == "refused"
    assert shown(worked) == [], "the plan asked for no question"
    assert "Made" not in worked.notes()


def test_what_was_said_of_the_regions_stays_so_when_the_ladder_is_gone_on_with(tmp_path: Path) -> None:
    wrong = on_regions("regions wrong")
    stopped = work(tmp_path, LADDER, truth=world(filters=off(0.4)), when=wrong, after=(1, 0.1, "stop after this frame"))
    again = work_on(stopped)
    readings = rung(again, 2).readings
    assert readings is not None
    assert readings.rock is None
    assert "Made" not in again.notes()


def test_without_a_proposal_there_is_nothing_to_say_of_it(tmp_path: Path) -> None:
    rectangles = '[[region]]\nkind = "rock"\n[[region]]\nkind = "water"\nleft = 0.3\nright = 0.7\n'
    worked = work(
        tmp_path, TIMED + rectangles, when=lambda one: "regions wrong" if isinstance(one, FrameRead) else None
    )
    assert {one.effect for one in worked.ladder.steering} == {"no regions were proposed, so nothing changed"}
    assert worked.ladder.regions is not None
    assert worked.ladder.regions.source == "given"


def test_regions_of_the_plan_are_not_asked_about(tmp_path: Path) -> None:
    rectangles = '[[region]]\nkind = "rock"\n[[region]]\nkind = "water"\nleft = 0.3\nright = 0.7\n'
    worked = work(tmp_path, TIMED + rectangles)
    assert worked.ladder.regions is not None
    assert worked.ladder.regions.source == "given"
    assert worked.ladder.regions.cells[0][0] == "r"
    assert worked.ladder.regions.cells[0][36] == "w"
    assert not any("look at" in what for what in turns(worked))


@pytest.mark.parametrize("key", ["frames = 0\n", ""])
def test_without_base_frames_or_regions_a_ladder_is_worked_as_ever(tmp_path: Path, key: str) -> None:
    text = TIMED.replace("iso = 100\n", f"iso = 100\n{key}") + ("" if key else '[readings]\nregions = "none"\n')
    worked = work(tmp_path, text)
    assert [frame.kind for frame in worked.frames] == ["rung", "rung"]
    assert worked.outcome == "done"


def test_water_that_burns_is_taken_again_darker_by_leave(tmp_path: Path) -> None:
    """The base is a stop under where its water burns; a rung that came out brighter through a weak filter burns."""
    text = TIMED + '[readings]\nagain = "take"\ncorrect = "say"\n'
    weak = world(filters=off(-3.0), base_level_stops=-5.0)
    worked = work(tmp_path, text, truth=weak)
    frames = [frame for frame in worked.frames if frame.rung == 1 and frame.kind == "rung"]
    assert len(frames) == 2
    assert "It is taken again, a third of a stop darker" in worked.notes()
    assert level(frames[1]) == pytest.approx(level(frames[0]) - 1 / 3, abs=0.1)


def test_a_base_that_burns_is_spoken_of_once(tmp_path: Path) -> None:
    worked = work(tmp_path, TIMED, truth=world(base_level_stops=-1.5))
    assert worked.notes().count("clipped in the base itself") == 1
    assert worked.notes().count("The water is clipped:") <= 1


WIDE = SensorTruth(window_px=(900, 600))


@pytest.mark.parametrize(
    ("knock", "words"),
    [({"right_px": 3.0, "down_px": -1.0}, "tripod was likely knocked"), ({"soft_px": 2.0}, "focus may have moved")],
)
def test_a_knock_and_softness_are_told_once_and_the_frame_is_taken_again(
    tmp_path: Path, knock: dict[str, float], words: str
) -> None:
    """From the second rung's frame on; the frame taken again stands no better, and it is left at that."""
    truth = world(sensor=WIDE, knocks=[{"before_frame": 4, **knock}])
    text = BASE + '[rungs]\ntimes = ["1/250", "1/125", "1/60"]\nframes = 1\n[readings]\nagain = "take"\n'
    worked = work(tmp_path, text, truth=truth)
    assert [frame.rung for frame in worked.frames if frame.kind == "rung"] == [1, 2, 2, 3]
    assert worked.notes().count(words) == 1
    assert "It is taken again." in worked.notes()


def test_water_is_told_in_the_audit(tmp_path: Path) -> None:
    """Frozen water has more texture than water that had time to run."""
    text = BASE + '[rungs]\ntimes = ["1/500", "1/15"]\nframes = 1\n[limits]\niso_stops = 3\n'
    text += 'aperture_stops = 3\ndiffraction = "off"\n[water]\nspeed_m_s = 2.0\ndistance_m = 8.0\n'
    worked = work(tmp_path, text, truth=world(sensor=WIDE))
    frozen, streaked = (worked.said(rung(worked, number).frame).definition for number in (1, 2))
    assert frozen is not None
    assert streaked is not None
    assert frozen.value > 1.1 * streaked.value
    told = printed(AuditView(worked.told), 80)
    assert "By the plan" in told
    assert f"{frozen.value:.2f} ±" in told


def test_a_knock_is_only_told_where_nothing_else_is_allowed(tmp_path: Path) -> None:
    truth = world(sensor=WIDE, knocks=[{"before_frame": 4, "right_px": 2.0}])
    worked = work(tmp_path, BASE + '[rungs]\ntimes = ["1/250", "1/125"]\nframes = 1\n', truth=truth)
    assert [frame.rung for frame in worked.frames if frame.kind == "rung"] == [1, 2]
    assert "Proposed: again; say “again” (a)." in worked.notes()
    still = worked.said(worked.frames[-1].frame).still
    assert still is not None
    assert still.right_px == pytest.approx(2.0, abs=0.05)


def test_a_ladder_that_is_gone_on_with_keeps_its_base(tmp_path: Path) -> None:
    stopped = work(tmp_path, LADDER, truth=world(filters=off(0.4)), after=(1, 0.1, "stop after this frame"))
    again = work_on(stopped)
    assert [frame.kind for frame in again.frames].count("base") == 3
    assert level(rung(again, 2)) == pytest.approx(0, abs=0.03)


def work_on(before: Worked) -> Worked:
    """Go on with a ladder that was stopped."""
    rehearsal = replace(before.rehearsal, outing=before.folder, ladder=1)
    done = rehearsal.run()
    return Worked(done.outcome, done.folder, read_outing(done.folder), [], rehearsal)


def test_frames_that_were_not_read_before_a_run_ended_are_read_when_it_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as lost:
        lost.setattr(Reader, "done", lambda _self: [])
        stopped = work(tmp_path, LADDER, after=(1, 0.1, "stop after this frame"))
    assert not any(frame.readings for frame in stopped.frames)
    again = work_on(stopped)
    assert all(frame.readings for frame in again.frames)
    assert again.said(again.frames[2].frame).off_stops == pytest.approx(0, abs=0.02)


def test_with_water_given_alone_the_rock_is_what_stands_still_beside_it(tmp_path: Path) -> None:
    region = '[[region]]\nkind = "water"\nleft = 0.3\ntop = 0.0\nright = 0.7\nbottom = 1.0\n'
    worked = work(tmp_path, BASE + '[rungs]\ntimes = ["1/125"]\n' + region)
    regions = worked.ladder.regions
    assert regions is not None
    assert regions.source == "given"
    assert {"w", "r"} <= set("".join(regions.cells))
    assert worked.said(rung(worked, 1).frame).off_stops == pytest.approx(0, abs=0.1)
    assert turns(worked) == []
