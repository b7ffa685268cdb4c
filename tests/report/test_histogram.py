"""The raw histogram that is shown: every pixel once, at the stop it has, clipping by hatching and a number."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from tether.files.raw import RawFrame
from tether.frames.mosaic import CHANNELS, Region
from tether.frames.regions import Regions, given
from tether.report.histogram import BARS_A_STOP, STOPS, Binned, binned, histogram_svg
from tether.wording import percent

BLACK, WHITE = 512, 16383


def frame(level: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> RawFrame:
    """Return a frame of these levels above black, as shares of the way to clipping."""
    mosaic = np.round(BLACK + level * (WHITE - BLACK)).astype(np.uint16)
    return RawFrame(mosaic=mosaic, pattern="RGGB", black=(BLACK,) * 4, white=WHITE)


def test_a_level_stands_at_its_stops_below_clipping() -> None:
    found = binned(frame(np.full((192, 288), 0.27)), None)  # log2(0.27) = -1.89
    for channel in CHANNELS:
        bar = int(found.shares[channel].argmax())
        assert bar == (STOPS - 2) * BARS_A_STOP
        assert found.shares[channel][bar] == pytest.approx(1.0)
        assert found.clipped[channel] == 0


def test_every_pixel_is_counted_once_also_the_darkest_and_the_clipped() -> None:
    levels = np.full((192, 288), 0.1)
    levels[:48] = -0.01
    levels[48:96] = 1.0
    found = binned(frame(levels), None)
    for channel in CHANNELS:
        assert found.clipped[channel] == pytest.approx(0.25)
        assert found.shares[channel].sum() + found.clipped[channel] == pytest.approx(1.0)
        assert found.shares[channel][0] == pytest.approx(0.25)


def test_only_the_water_is_counted_where_it_is_known() -> None:
    levels = np.full((192, 288), 0.9)
    levels[96:] = 0.06
    water = given([Region(kind="water", left=0.0, top=0.5, right=1.0, bottom=1.0)])
    found = binned(frame(levels), water)
    assert found.of == "water"
    assert found.shares["G"].argmax() == int((STOPS + np.log2(0.06)) * BARS_A_STOP)
    assert found.shares["G"].max() == pytest.approx(1.0)
    assert binned(frame(levels), Regions.nothing()).of == "whole picture"


def drawn(clipped: float) -> ET.Element:
    shares = np.full(STOPS * BARS_A_STOP, (1 - clipped) / (STOPS * BARS_A_STOP))
    found = Binned(of="water", shares=dict.fromkeys(CHANNELS, shares), clipped=dict.fromkeys(CHANNELS, clipped))
    return ET.fromstring(histogram_svg(found))  # noqa: S314 - our own


@pytest.mark.parametrize(("clipped", "hatched"), [(0.0, 0), (0.024, 3)])
def test_clipping_is_hatched_and_told_in_numbers(clipped: float, hatched: int) -> None:
    picture = drawn(clipped)
    fills = [one.get("fill") for one in picture.iter() if one.tag.endswith("rect")]
    assert fills.count("url(#clipped)") == hatched
    texts = [one.text for one in picture.iter() if one.tag.endswith("text")]
    assert texts.count(percent(clipped)) == 3
    assert "Raw, water: stops below clipping" in texts
