"""A raw histogram in bars: every pixel once, at the stop it has."""

from __future__ import annotations

import numpy as np
import pytest

from tests.report.test_histogram import frame
from tether.frames.bars import BARS_A_STOP, STOPS, bars_of
from tether.frames.levels import histograms
from tether.frames.mosaic import CHANNELS

WHITE = 16383


def test_a_level_stands_at_its_stops_below_clipping() -> None:
    found = bars_of(histograms(frame(np.full((192, 288), 0.27))), WHITE, "whole picture")  # log2(0.27) = -1.89
    assert (found.of, found.stops) == ("whole picture", STOPS)
    for channel in CHANNELS:
        bar = int(np.argmax(found.shares[channel]))
        assert bar == (STOPS - 2) * BARS_A_STOP
        assert found.shares[channel][bar] == 1.0
        assert found.clipped[channel] == 0


def test_every_pixel_is_counted_once_also_the_darkest_and_the_clipped() -> None:
    levels = np.full((192, 288), 0.1)
    levels[:48] = -0.01
    levels[48:96] = 1.0
    found = bars_of(histograms(frame(levels)), WHITE, "water")
    for channel in CHANNELS:
        assert found.clipped[channel] == pytest.approx(0.25)
        assert sum(found.shares[channel]) + found.clipped[channel] == pytest.approx(1.0)
        assert found.shares[channel][0] == pytest.approx(0.25)


def test_where_nothing_was_counted_all_is_nothing() -> None:
    nothing = [one for one in histograms(frame(np.full((192, 288), 0.1))) if one.channel != "R"]
    assert set(bars_of(nothing, WHITE, "water").shares["R"]) == {0.0}
