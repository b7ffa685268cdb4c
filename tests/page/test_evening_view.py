"""What the page shows of an evening that is planned, as plain data."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.journal.planned import a_ladder
from tether.editor.known import Known
from tether.editor.messages import Checked, Drafted, PlanKey, Start
from tether.editor.plans import FoundPlan
from tether.journal.story import CheckStory
from tether.page.evening_view import draft_view, finish_view, plan_view, stopped_by
from tether.wording import LOCAL_RULES

NOON = datetime(2026, 10, 3, 12, 0, tzinfo=UTC)
START = Start(path="weir.toml")
LADDER = a_ladder(
    rungs=[
        {"rung": 1, "time_s": 0.25},
        {"rung": 2, "time_s": 1.0, "filters": ["Calder 6"], "frames": 3, "must": True},
        {"rung": 3, "time_s": 64.0, "filters": ["Calder 6"], "way": "held", "proof": None},
    ],
    turns=[{"before_rung": 2, "what": "fit Calder 6"}, {"before_rung": None, "what": "put the cap on"}],
    cautions=["Wet rock is slippery."],
    forecast_s=600.0,
)
KEYS = (
    PlanKey(key="base.time", group="base", called="time", value="1/60"),
    PlanKey(key="rungs.from", group="rungs", called="from", value="1/500", hint="a time"),
    PlanKey(key="run.leave_by", group="run", called="leave by", value=""),
)
STATE = Drafted(
    path="weir.toml",
    text="x",
    saved=False,
    keys=KEYS,
    regions=(),
    ladder=LADDER,
    mistakes=(),
    simulated=True,
    edits=2,
)
CHECKED = Checked(
    findings=(
        CheckStory(what="camera", verdict="ok", text="It answers."),
        CheckStory(what="focus", verdict="stop", text="The lens focuses by itself."),
    ),
    at="18:02:11",
)


def shown(**known: Any) -> dict[str, Any]:
    return draft_view(Known(**{"state": STATE, **known}), START, NOON)


def test_the_ladder_is_rows_of_rungs_with_bars_by_stops_and_the_tasks_between() -> None:
    """A quarter of a second, one, and sixty-four: two stops and six more, so a quarter of the way and all of it."""
    rows = shown()["ladder"]["rows"]
    assert [row.get("task") or row["rung"] for row in rows] == [1, "fit Calder 6", 2, 3, "put the cap on"]
    bars = [row["share"] for row in rows if "rung" in row]
    assert bars == pytest.approx([0.04, 0.04 + 0.96 / 4, 1.0], abs=1e-3)
    assert [row["bulb"] for row in rows if "rung" in row] == [False, False, True]
    assert (rows[2]["filters"], rows[2]["more"]) == ("Calder 6", "3 frames, must")


def test_cautions_end_with_local_rules_and_the_end_is_told_against_now() -> None:
    ladder = shown()["ladder"]
    assert ladder["cautions"] == ["Wet rock is slippery.", LOCAL_RULES]
    assert ladder["ending"] == "3 rungs, 10 min; begun now, it ends at 12:10."


def test_keys_are_by_group_those_of_times_and_filters_first() -> None:
    groups = shown()["plan"]["groups"]
    assert [one["name"] for one in groups] == ["rungs", "run", "base"]
    assert groups[0]["keys"][0] == {
        "key": "rungs.from",
        "called": "from",
        "value": "1/500",
        "default": "",
        "choices": [],
        "hint": "a time",
    }


def test_it_is_said_what_beginning_means_with_a_camera_and_without() -> None:
    rehearsed = shown()["begin"]
    assert rehearsed["how"].startswith("A REHEARSAL: no camera")
    camera = replace(LADDER, body=replace(LADDER.body, name="Invented 7", simulated=False))
    state = replace(STATE, simulated=False, ladder=camera)
    begin = shown(state=state)["begin"]
    assert begin["how"] == "ON THE CONNECTED CAMERA: Invented 7. Its body file was never tried on hardware."
    tried = replace(state, ladder=replace(camera, body=replace(camera.body, tried="2026-10-01")))
    assert "never tried" not in shown(state=tried)["begin"]["how"]
    wrong = shown(state=replace(STATE, ladder=None, mistakes=("base: time is missing.",)))
    assert (wrong["begin"]["may"], wrong["ladder"], wrong["plan"]["mistakes"]) == (
        False,
        None,
        ["base: time is missing."],
    )


def test_a_check_that_stops_comes_first_and_old_ones_are_said_to_be_old() -> None:
    assert shown()["checks"] is None
    checks = shown(checked=CHECKED, checked_text="x")["checks"]
    assert [one["what"] for one in checks["findings"]] == ["focus", "camera"]
    assert not checks["stale"]
    assert shown(checked=CHECKED, checked_text="before")["checks"]["stale"]


def test_what_stops_is_gone_against_with_a_reason_only() -> None:
    known = Known(state=STATE, checked=CHECKED)
    assert stopped_by(known, {}) == ["focus"]
    assert stopped_by(known, {"focus": " "}) == ["focus"]
    assert stopped_by(known, {"focus": "it is a manual lens"}) == []
    assert stopped_by(Known(), {}) == []


def test_a_plan_says_what_it_is_for_and_where_it_lies() -> None:
    plan = FoundPlan(path=Path("/a/weir.toml"), title="Weir", body="simulated", where="shipped")
    told = plan_view(plan)
    assert (told["title"], told["file"], told["body"], told["may_edit"]) == (
        "Weir",
        "weir.toml",
        "simulated body",
        False,
    )
    assert "/a/" not in str(told)


def test_at_the_end_what_is_missing_comes_first_and_nothing_is_to_be_typed() -> None:
    sentences = {
        "frames": ("ok", "29 made, all of them copied."),
        "ladder": ("note", "closed and kept; 7 rungs are not done. Resume it: tether run /home/x.y/2026, a weir"),
        "copy": ("stop", "The disk of /media is not there. Connect it and finish again, or name another: --copy-to"),
        "card": ("stop", "Frame 2 is on the card and not in the outing. Copy it: --fetch"),
    }
    found = [{"what": what, "verdict": verdict, "sentence": said} for what, (verdict, said) in sentences.items()]
    view = finish_view({"found": found})
    assert view["fetch"]
    assert [tuple(one.values()) for one in view["found"]] == [
        ("Copy", "stop", "The disk of /media is not there. Connect it and finish again."),
        ("Card", "stop", "Frame 2 is on the card and not in the outing."),
        ("Ladder", "note", "closed and kept; 7 rungs are not done."),
        ("Frames", "ok", "29 made, all of them copied."),
    ]
    assert not finish_view({"found": found[:2]})["fetch"]
