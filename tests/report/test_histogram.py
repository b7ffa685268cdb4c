"""The raw histogram that is shown: bars at their stops, the clipping edge, clipping hatched, headroom."""

from __future__ import annotations

from math import log2
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from tether.files.raw import RawFrame
from tether.frames.mosaic import CHANNELS, Region
from tether.frames.regions import given
from tether.journal.readings import ChannelSaid, FrameReadings, HistogramSaid, LevelsSaid
from tether.report.drawing import written
from tether.report.histogram import histogram_of, histogram_picture

SVG = "{http://www.w3.org/2000/svg}"
BLACK, WHITE = 512, 16383


def frame(level: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> RawFrame:
    """Return a frame of these levels above black, as shares of the way to clipping."""
    mosaic = np.round(BLACK + level * (WHITE - BLACK)).astype(np.uint16)
    return RawFrame(mosaic=mosaic, pattern="RGGB", black=(BLACK,) * 4, white=WHITE)


def test_only_the_water_is_counted_where_it_is_known() -> None:
    levels = np.full((192, 288), 0.9)
    levels[96:] = 0.06
    water = given([Region(kind="water", left=0.0, top=0.5, right=1.0, bottom=1.0)])
    found = histogram_of(frame(levels), water)
    assert found.of == "water"
    assert found.shares["G"].index(1.0) == int((9 + log2(0.06)) * 3)
    assert histogram_of(frame(levels), given([])).of == "whole picture"


# As a picture: nine stops, three bars each; all pixels of green 2 to 1 2/3 stops below clipping, red half there and
# half in the last bar, 2.4 % of blue clipped.

GREEN_BAR, LAST_BAR = 7 * 3, 9 * 3 - 1


def shares(**bars: float) -> tuple[float, ...]:
    return tuple(bars.get(f"at_{number}", 0.0) for number in range(27))


FOUND = HistogramSaid(
    of="water",
    stops=9,
    shares={
        "R": shares(**{f"at_{GREEN_BAR}": 0.5, f"at_{LAST_BAR}": 0.5}),
        "G": shares(**{f"at_{GREEN_BAR}": 1.0}),
        "B": shares(at_0=0.976),
    },
    clipped={"R": 0.0, "G": 0.0, "B": 0.024},
)


def said(headroom_stops: float | None, clipped_share: float = 0.0) -> ChannelSaid:
    return ChannelSaid(mean=0.2, clipped_share=clipped_share, headroom_stops=headroom_stops)


READINGS = FrameReadings(
    headroom_stops=0.1,
    clipped_share=0.0,
    channels=dict.fromkeys("RGB", said(0.1)),
    water=LevelsSaid(
        headroom_stops=None, clipped_share=0.024, channels={"R": said(0.3), "G": said(1.7), "B": said(None, 0.024)}
    ),
)


def drawn(readings: FrameReadings | None = READINGS) -> ET.Element:
    return ET.fromstring(written(histogram_picture(FOUND, readings, 7)))  # noqa: S314 - our own


def of(picture: ET.Element, kind: str) -> list[ET.Element]:
    return [one for one in picture.iter() if one.get("class") == kind]


def stops_at(picture: ET.Element, x: float) -> float:
    """Return how far below clipping a place is, by the labels below."""
    at = {one.text: float(one.get("x", "")) for one in picture.iter(f"{SVG}text") if one.get("text-anchor") == "middle"}
    return 8 * (x - at["clips"]) / (at["clips"] - at["−8"])


def test_bars_stand_at_their_stops_and_are_as_high_as_the_root_of_their_share() -> None:
    picture = drawn()
    red, red_last, green, blue = (one.attrib for one in of(picture, "bar"))
    places = [stops_at(picture, float(bar["x"]) + float(bar["width"]) / 2) for bar in (red, red_last, green, blue)]
    assert places == pytest.approx([-2 + 1 / 6, -1 / 6, -2 + 1 / 6, -9 + 1 / 6], abs=0.03)
    assert red["height"] == red_last["height"] == green["height"] == blue["height"], "the highest fills its row"


def test_the_clipping_edge_is_a_line_at_no_stops_in_every_row() -> None:
    picture = drawn()
    assert [stops_at(picture, float(one.get("x1", ""))) for one in of(picture, "edge")] == pytest.approx(
        [0] * 3, abs=0.05
    )


def test_headroom_is_told_by_channel_of_what_was_counted_and_clipping_is_hatched() -> None:
    picture = drawn()
    assert [one.text for one in of(picture, "strong")] == ["0.3 stops", "1.7 stops"]
    assert len(of(picture, "clipped")) == 1
    texts = [one.text for one in picture.iter(f"{SVG}text")]
    assert [one for one in texts if one and one.endswith(" clips")] == ["0 % clips", "0 % clips", "2.4 % clips"]
    assert {"Frame 7: raw, water", "headroom", "stops below clipping"} <= set(texts)


def test_without_readings_there_is_no_headroom_to_tell() -> None:
    assert of(drawn(None), "strong") == []
    assert "headroom" not in {one.text for one in drawn(None).iter(f"{SVG}text")}


@pytest.mark.parametrize("channel", CHANNELS)
def test_hatching_stays_in_its_box(channel: str) -> None:
    whole = HistogramSaid(
        of="water", stops=9, shares=FOUND.shares, clipped=dict.fromkeys(CHANNELS, 0.0) | {channel: 1.0}
    )
    picture = ET.fromstring(written(histogram_picture(whole, None, 7)))  # noqa: S314 - our own
    (box,) = of(picture, "clipped")
    left, top = float(box.get("x", "")), float(box.get("y", ""))
    right, bottom = left + float(box.get("width", "")), top + float(box.get("height", ""))
    for one in of(picture, "hatch"):
        assert left <= float(one.get("x1", "")) < float(one.get("x2", "")) <= right
        assert top <= float(one.get("y2", "")) < float(one.get("y1", "")) <= bottom
