"""What the page shows of the base: one number for headroom, rectangles told apart by their lines, how sharp it is."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.page.test_evening_view import STATE
from tether import wording
from tether.editor.known import Known, after
from tether.editor.messages import DraftFrame, DraftRegion, PictureShown
from tether.journal.readings import HistogramSaid
from tether.page.base_view import KINDS, base_view

BARS = HistogramSaid(
    of="water",
    stops=10,
    shares={"R": (0.5, 0.5), "G": (0.5, 0.499), "B": (0.5, 0.5)},
    clipped={"R": 0.0, "G": 0.001, "B": 0.0},
)
FRAME = DraftFrame(
    picture="/draft/base-3.jpg",
    bars=BARS,
    exposure="1/60 s, f/8, ISO 100",
    sentence="0.42 stops of headroom.",
    headroom_stops=0.424,
    clipped_share=0.0,
)
WATER = DraftRegion(what="water", box=(0.2, 0.5, 0.8, 0.9))
LIVE = PictureShown(picture="/run/live.jpg", times=5.0, at=(0.5, 0.25), sharpness=0.05)


def shown(*news: Any, **known: Any) -> dict[str, Any]:
    state = Known(state=STATE, **known)
    for one in news:
        state = after(state, one)
    return base_view(state)


def test_headroom_is_one_number_with_its_unit_and_the_rest_is_named() -> None:
    frame = shown(FRAME)["frame"]
    assert (frame["room"], frame["unit"]) == ("0.42", "stops of headroom in the water")
    assert frame["exposure"] == "1/60 s, f/8, ISO 100"
    assert frame["clipped"] == "red 0 %, green 0.1 %, blue 0 %"
    assert (frame["more"], frame["hint"]) == ("", ""), "nothing is said twice"
    assert "/draft" not in str(shown(FRAME)), "no path goes to a browser"


def test_what_clips_is_the_number_then() -> None:
    frame = shown(replace(FRAME, headroom_stops=None, clipped_share=0.024))["frame"]
    assert (frame["room"], frame["unit"]) == ("2.4 %", "clipped in the water")


def test_without_a_rectangle_it_is_said_that_the_whole_picture_was_read_and_what_to_do() -> None:
    frame = shown(replace(FRAME, bars=replace(BARS, of="whole picture")))["frame"]
    assert frame["unit"] == "stops of headroom in the whole picture"
    assert "Mark the water" in frame["hint"]


def test_a_frame_of_another_exposure_than_the_base_is_said_to_be_one() -> None:
    assert STATE.ladder is not None
    base = replace(STATE.ladder.base, time_s=1 / 60, time_label="1/60", aperture_label="f/8", iso_label="100")
    of_it = after(Known(state=replace(STATE, ladder=replace(STATE.ladder, base=base))), FRAME)
    assert base_view(of_it)["frame"]["other"] == ""
    other = replace(base, time_s=1 / 30, time_label="1/30")
    now = after(Known(state=replace(STATE, ladder=replace(STATE.ladder, base=other))), FRAME)
    assert base_view(now)["frame"]["other"] == "The base is now 1/30 s, f/8, ISO 100: take a frame."


def test_rectangles_are_told_apart_by_how_they_are_drawn() -> None:
    assert len({drawn for _, drawn in KINDS.values()}) == len(KINDS)
    told = base_view(Known(state=replace(STATE, regions=(WATER, replace(WATER, what="rock")))))
    assert told["regions"][0] == {"what": "water", "box": [0.2, 0.5, 0.8, 0.9]}
    assert told["marked"] == "Water: long dashes. Rock: dots."
    assert "No rectangle is marked" in shown()["marked"]


def test_sharpness_is_a_share_of_the_best_so_far() -> None:
    live = shown(LIVE, replace(LIVE, sharpness=0.04))["live"]
    assert (live["share"], live["now"], live["best"]) == ("80 %", "4.0", "5.0")
    assert live["what"] == "LIVE VIEW, 5 times magnified"
    assert live["at"] == [0.5, 0.25]
    assert live["trace"].startswith("<svg")
    dark = shown(replace(LIVE, sharpness=None))["live"]
    assert (dark["share"], dark["trace"]) == ("", None)


def test_how_the_place_was_framed_last_is_laid_over_the_whole_alone() -> None:
    assert shown(replace(LIVE, framed="/x/base.jpg"))["live"]["framed"] is False
    assert shown(replace(LIVE, at=None, framed="/x/base.jpg"))["live"]["framed"] is True
    assert shown(replace(LIVE, at=None))["live"]["framed"] is False


def test_a_body_that_does_not_nudge_says_why() -> None:
    assert shown(LIVE)["live"]["why_not_nudged"] is None
    assert shown(replace(LIVE, why_not_nudged="Not offered."))["live"]["why_not_nudged"] == "Not offered."


@pytest.mark.parametrize("said", [wording.SUN_WHEN_FOCUSING, wording.LOCAL_RULES])
def test_where_it_is_focused_the_sun_and_local_rules_are_spoken_of(said: str) -> None:
    assert said in shown()["caution"]
