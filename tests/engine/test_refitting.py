"""Other filters than planned, where the light moves by most of one: asked, said, refused, kept; levels from files.

A minute is 12 stops over the base's 1/60 s: Calder 10 and f/16. The light falls by a stop a minute, as the plan says,
and filters take three minutes to put on: by then it has fallen by 3.1 stops, and by a stop more while it is open. With
Calder 10 f/8 gives two of them and the time one: the limits leave no way.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.engine.rig import HONEST, SIX, TEN, Worked, work, world
from tests.engine.test_base_frames import work_on
from tests.engine.test_following import WIDE, off_stops
from tether.control.commands import Verb
from tether.journal.records import Record
from tether.journal.snapshot import asks
from tether.report.audit import audit

PLAN = """
[base]
time = "1/60"
aperture = "f/8"
iso = 100
[limits]
aperture = ["f/8", "f/22"]
iso = [100, 100]
[light]
trend = "falling"
stops_per_min = 1.0
"""
ONE = '[rungs]\ntimes = ["1/60", "1m"]\nframes = 1\n'
FILTERS = "".join(f"{one}swap_s = 180\n" for one in (SIX, TEN))
FALLS = world(sensor=WIDE, filters=HONEST, light=((0.0, 0.0), (7200.0, -120.0)))
WHY = "By then the light will have fallen by 3.1 stops: with Calder 6 instead of Calder 10 this rung comes out as "


def correct(how: str) -> str:
    return f'[readings]\ncorrect = "{how}"\n'


def through(worked: Worked) -> list[tuple[str, ...]]:
    """Return what was on the lens for each frame of the last rung."""
    return [frame.filters for frame in worked.frames if frame.kind == "rung" and frame.rung == 2]


def asked(worked: Worked) -> list[str]:
    return [turn.what for turn in worked.ladder.turns if turn.what.startswith("fit")]


def answers(refuses: str, verb: Verb = "skip") -> dict[str, object]:
    """Answer every task, but say a verb to one that begins so."""

    def when(event: Record) -> Verb | None:
        if not asks(event):
            return None
        return verb if event.what.startswith(refuses) else "answer"

    return {"when": when, "answer_for_me": False}


def test_the_lighter_filter_is_asked_for_with_why_and_the_rung_comes_out_as_promised(tmp_path: Path) -> None:
    worked = work(tmp_path, PLAN + ONE + FILTERS, truth=FALLS)
    assert asked(worked) == ["fit Calder 6"]
    reason = next(turn.reason for turn in worked.ladder.turns if turn.what == "fit Calder 6")
    assert reason.startswith(WHY + "promised at ")
    assert reason.endswith("Skip keeps to what is planned: Calder 10.")
    assert through(worked) == [("Calder 6",)]
    assert off_stops(worked)["1:00"] == pytest.approx(0, abs=0.12)
    assert worked.rung_outcomes() == ["done", "done"]


def test_the_audit_of_it_adds_up(tmp_path: Path) -> None:
    """What was changed is the glass and the settings, rounding the ladder's own: 1/64 s times 2^12 is not 60 s."""
    worked = work(tmp_path, PLAN + ONE + FILTERS, truth=FALLS)
    split = next(one for one in audit(worked.ladder) if one.kind == "rung" and one.rung == 2)
    assert split.rounding_stops == pytest.approx(0, abs=0.01)
    assert split.changed_stops == pytest.approx(-split.light_stops, abs=0.15)
    assert split.light_stops == pytest.approx(-3.7, abs=0.2)


def test_where_the_plan_only_has_it_said_the_planned_one_is_asked_for(tmp_path: Path) -> None:
    worked = work(tmp_path, PLAN + ONE + FILTERS + correct("say"), truth=FALLS)
    assert WHY in worked.notes()
    assert asked(worked) == ["fit Calder 10"]
    assert through(worked) == [("Calder 10",)]


def test_where_the_plan_has_it_off_nothing_is_said(tmp_path: Path) -> None:
    worked = work(tmp_path, PLAN + ONE + FILTERS + correct("off"), truth=FALLS)
    assert "instead of Calder 10" not in worked.notes()
    assert asked(worked) == ["fit Calder 10"]


def test_a_person_who_skips_it_gets_the_planned_one_and_no_more_correction_than_was_agreed(tmp_path: Path) -> None:
    worked = work(tmp_path, PLAN + ONE + FILTERS, truth=FALLS, **answers("fit Calder 6"))  # type: ignore[arg-type]
    assert asked(worked) == ["fit Calder 6", "fit Calder 10"]
    assert through(worked) == [("Calder 10",)]
    assert "you let it be corrected by 0.67 stop and no more" in worked.notes()


def test_nobody_is_asked_again_how_far_it_may_be_corrected(tmp_path: Path) -> None:
    """The lighter filter was the question."""
    worked = work(tmp_path, PLAN + ONE + FILTERS, truth=FALLS, **answers("nothing"))  # type: ignore[arg-type]
    assert through(worked) == [("Calder 6",)]
    assert not any(turn.what.startswith("give rung") for turn in worked.ladder.turns)


def test_in_steady_light_the_planned_one_is_asked_for(tmp_path: Path) -> None:
    steady = world(sensor=WIDE, filters=HONEST)
    worked = work(tmp_path, PLAN.split("[light]")[0] + ONE + FILTERS, truth=steady)
    assert asked(worked) == ["fit Calder 10"]


def test_within_the_limits_of_the_plan_no_other_is_asked_for(tmp_path: Path) -> None:
    """ISO may pay for it, so the planned filter does."""
    worked = work(tmp_path, PLAN.replace("[100, 100]", "[100, 800]") + ONE + FILTERS, truth=FALLS)
    assert asked(worked) == ["fit Calder 10"]


def test_a_ladder_that_is_resumed_keeps_what_is_on_the_lens(tmp_path: Path) -> None:
    """It is stopped after the first of two frames through the lighter filter: the second is made through it, too."""
    text = PLAN + ONE.replace("frames = 1", "frames = 2") + FILTERS
    stopped = work(tmp_path, text, truth=FALLS, after=(2, 1.0, "stop after this frame"))
    assert through(stopped) == [("Calder 6",)]
    again = work_on(stopped)
    assert asked(again) == ["fit Calder 6"]
    assert through(again) == [("Calder 6",)] * 2


def test_frames_around_a_rung_follow_it_through_the_same_filter(tmp_path: Path) -> None:
    text = PLAN + ONE + '[[rung]]\ntime = "1m"\nbracket = [-1]\n' + FILTERS
    worked = work(tmp_path, text, truth=FALLS)
    assert asked(worked) == ["fit Calder 6"]
    own = [frame for frame in worked.frames if frame.kind == "rung" and frame.filters]
    assert [frame.filters for frame in own] == [("Calder 6",)] * 2
    assert len({frame.asked.aperture for frame in own}) == 1
