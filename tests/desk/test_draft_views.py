"""What the desk says of a plan that is worked on, as text."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.desk.rig import planned
from tests.desk.test_draft import BARS, CHECKED, STATE
from tether.desk import draft_views
from tether.editor.known import Focus, Known
from tether.editor.messages import DraftFrame, DraftRegion, PictureShown
from tether.journal.planned import PlannedBody
from tether.journal.readings import HistogramSaid
from tether.journal.story import CheckStory

NOON = datetime(2026, 10, 3, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize("width", [34, 44, 58, 80, 120])
@pytest.mark.parametrize("rows", [1, 3])
def test_a_histogram_fits_its_room_and_its_highest_bar_fills_it(width: int, rows: int) -> None:
    lines = draft_views.histogram(BARS, width, rows)
    assert len(lines) == 3 * rows + 2
    assert all(len(line) <= width for line in lines)
    channel = lines[1 : 1 + rows]
    assert all("█" in line for line in channel), "the highest bar is as high as there is room"
    hatched = [line for line in lines if "▒▒" in line]
    assert len(hatched) == rows
    assert hatched[-1].lstrip().startswith("green")


def known(**told: Any) -> Known:
    return Known(**{"state": STATE, "checked": CHECKED, "checked_text": STATE.text, **told})


# The plan, and what is going on


def test_a_plan_is_named_with_its_body_and_whether_it_is_saved() -> None:
    assert draft_views.plan_line(None) == ""
    assert draft_views.plan_line(replace(STATE, ladder=None)) == "weir.toml"
    assert draft_views.plan_line(replace(STATE, ladder=None, saved=False)) == "weir.toml (not saved)"
    ladder = planned()
    for body, said in (
        (PlannedBody(name="Body A", simulated=True, tried=None), "Body A"),
        (PlannedBody(name="Body A", simulated=False, tried=None), "Body A, body file not tried on hardware"),
        (PlannedBody(name="Body A", simulated=False, tried="2026, by us"), "Body A, 2026, by us"),
    ):
        assert draft_views.plan_line(replace(STATE, ladder=replace(ladder, body=body))) == f"weir.toml   {said}"


def test_what_goes_on_is_said_before_what_came_of_the_last_wish_and_a_refusal_elsewhere() -> None:
    assert draft_views.doing_line(known(doing="It looks.", said="Done.")) == "… It looks."
    assert draft_views.doing_line(known(said="Done.")) == "Done."
    assert draft_views.doing_line(known(said="No.", refused=True)) == ""


# Checks


def test_checks_are_summed_up_with_when_and_whether_the_plan_is_another_by_now() -> None:
    assert draft_views.checked_line(known(checked=None)) == "Nothing is checked yet: c."
    assert draft_views.checked_line(known()) == "Checked at 18:02:11: 1 STOP, 1 to note, 1 fine"
    fine = replace(CHECKED, findings=CHECKED.findings[:1])
    assert draft_views.checked_line(known(checked=fine)) == "Checked at 18:02:11: nothing stops, 0 to note, 1 fine"
    edited = known(checked_text="before")
    assert "18:02:11, before the plan was edited (c: again): 1 STOP" in draft_views.checked_line(edited)


def test_what_stops_comes_first_and_equals_stay_in_their_order() -> None:
    extra = CheckStory(what="card", verdict="stop", text="There is none.")
    ordered = draft_views.in_order((*CHECKED.findings, extra))
    assert [one.what for one in ordered] == ["focus", "card", "power", "camera"]


def test_a_stop_that_is_gone_past_says_why_and_what_does_not_stop_needs_no_reason() -> None:
    camera, focus, _ = CHECKED.findings
    despite = {"focus": "It is taped.", "camera": "because"}
    assert draft_views.check_line(focus, despite) == (
        "STOP  focus: The lens focuses by itself. Switch it to manual. Overridden: It is taped."
    )
    assert draft_views.check_line(focus, {}).endswith("manual.")
    assert draft_views.check_line(camera, despite) == "  ok  camera: An invented body."


def test_a_summary_says_where_the_ladder_goes_and_what_stops_it() -> None:
    ladder = replace(planned(), forecast_s=600.0, leave_by=None)
    state = replace(STATE, ladder=ladder)
    stopped = draft_views.summary(known(state=state), {}, NOON, 1.0, None)
    assert stopped.stopped
    assert stopped.lines[0].endswith(", into a new outing")
    assert "ends at 12:10" in stopped.lines[1]
    assert [line for line in stopped.lines if line.startswith("STOP")] == [
        "STOP  focus: The lens focuses by itself. Switch it to manual."
    ]
    again = draft_views.summary(known(state=state), {"focus": "taped"}, NOON, 1.0, Path("/all/dusk"))
    assert not again.stopped
    assert again.lines[0].endswith(", into the outing dusk, as its next ladder")


def test_what_was_not_checked_or_saved_is_said_and_does_not_stop() -> None:
    found = draft_views.summary(known(state=replace(STATE, saved=False), checked=None), {}, NOON, 1.0, None)
    assert not found.stopped
    assert any("file is not saved" in line for line in found.lines)
    assert found.lines[-2].startswith("Nothing is checked yet; that is done before the first frame")


def test_before_it_begins_what_to_take_care_of_is_said_and_that_local_rules_count_for_more() -> None:
    state = replace(STATE, ladder=replace(planned(), cautions=("Wet rock is slippery.", "A weir holds down.")))
    assert draft_views.summary(known(state=state), {}, NOON, 1.0, None).lines[-1] == (
        "Take care:\n· Wet rock is slippery.\n· A weir holds down.\n"
        "Local signs, wardens and rules count for more than anything that is said here."
    )


def test_without_a_ladder_nothing_can_be_begun() -> None:
    wrong = replace(STATE, ladder=None, mistakes=("rungs: none is asked for.",))
    assert draft_views.summary(known(state=wrong), {}, NOON, 1.0, None) == draft_views.Summary(
        lines=("Nothing can be begun:", "rungs: none is asked for."), stopped=True
    )
    assert draft_views.summary(known(state=None), {}, NOON, 1.0, None).lines[1] == "No plan is open."


@pytest.mark.parametrize(
    ("state", "whose"),
    [("attached", "this run"), ("lost", "this run"), ("over", "the last run"), ("none", "the last run")],
)
def test_it_is_said_whose_checks_they_are(state: str, whose: str) -> None:
    told: Any = SimpleNamespace(name="dusk")
    assert draft_views.of_run_line(told, state) == f"The checks of {whose} of dusk, before it began"


# The base


def test_the_base_of_the_plan_is_told_with_whether_it_was_measured() -> None:
    assert draft_views.base_line(replace(STATE, ladder=None)) == "The plan has mistakes; see the ladder (3)."
    base = replace(planned().base, time_label="1/60 s", aperture_label="f/8", iso_label="100", measured=True)
    measured = replace(STATE, ladder=replace(planned(), base=base))
    assert draft_views.base_line(measured) == "Base of the plan: 1/60 s, f/8, ISO 100"
    guessed = replace(STATE, ladder=replace(planned(), base=replace(base, measured=False)))
    assert draft_views.base_line(guessed).endswith("ISO 100, not measured")


def test_regions_are_told_once_a_kind_with_what_stands_for_those_that_are_not_given() -> None:
    box = (0.0, 0.0, 0.5, 0.5)
    water, rock, out = (DraftRegion(what=what, box=box) for what in ("water", "rock", "ignore"))
    assert draft_views.regions_line(()).startswith("No rectangles are given")
    assert draft_views.regions_line((water, water)) == "dashes: water   rock: what stands still beside it"
    assert draft_views.regions_line((rock, out)) == "dots: rock   sparse dashes: left out   water: what moves beside it"
    assert draft_views.regions_line((water, rock)) == "dashes: water   dots: rock"
    assert draft_views.setting_line("rock", (0.1, 0.25, 0.5, 1.0)) == (
        "dots: rock: from 10% across and 25% down to 50% across and 100% down"
    )


@pytest.mark.parametrize(
    ("times", "closer", "said"),
    [(5, False, "whole"), (5.0, True, "5 times magnified"), (2.5, True, "2.5 times magnified"), (None, True, "closer")],
)
def test_a_live_picture_says_what_of_it_is_shown(times: float | None, closer: bool, said: str) -> None:
    live = PictureShown(picture="x", times=times)
    assert draft_views.live_line(live, Focus(), closer=closer) == f"LIVE VIEW, {said}"
    sharp = draft_views.live_line(live, Focus(trace=(0.03,), best=0.04), closer=closer)
    assert sharp == f"LIVE VIEW, {said}\nSharpness: 75 % of the best so far"


def test_a_frame_for_the_base_is_named_once_with_what_it_shows(frame: DraftFrame) -> None:
    assert draft_views.frame_line(None).startswith("No frame for the base was taken yet")
    assert draft_views.frame_line(frame) == "1/60 s, f/8, ISO 100: 0.42 stops of headroom."
    named = replace(frame, sentence="1/60 s, f/8, ISO 100: all white.")
    assert draft_views.frame_line(named) == "1/60 s, f/8, ISO 100: all white."
    assert draft_views.frame_mark(frame) == "0.42"
    assert draft_views.frame_mark(replace(frame, headroom_stops=None, clipped_share=0.0123)) == "▒▒ 1.23%"


# Bars


def test_bars_go_with_the_root_of_their_shares_and_the_smallest_is_seen() -> None:
    shares = (0.0, 1e-9, 0.25, 1.0)
    bars = HistogramSaid(of="whole picture", stops=3, shares={"G": shares}, clipped={"G": 0.0})
    title, green, scale = draft_views.histogram(bars, 17 + 4)
    assert title == "Raw, whole picture: stops below clipping"
    # Nothing; hardly anything, an eighth; a half of the full height; all of it.
    assert green.rstrip().removeprefix(" green ").startswith(" ▁▄█")
    assert scale == "       -3  0"


def test_the_scale_runs_from_dark_to_clipping() -> None:
    assert draft_views._scale(9, 27) == "-9       -6       -3       0"
    assert draft_views._scale(9, 27).index("0") == 27


def test_where_columns_are_few_bars_share_them() -> None:
    bars = replace(BARS, shares={"G": tuple([0.0] * 30 + [1.0])}, clipped={"G": 0.0})
    _, green, _ = draft_views.histogram(bars, 17 + 10)
    # 31 bars in 10 columns: four share one, so that there are 8, behind seven columns of the channel's name.
    assert green.index("█") == 7 + 8 - 1
