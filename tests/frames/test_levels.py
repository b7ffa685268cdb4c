"""Levels of a raw frame: on arrays whose levels are known, and where clipping is not where the file says it is."""

from __future__ import annotations

from math import inf, log2

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tether.files.raw import RawFrame
from tether.frames.levels import clip_level, histograms, histograms_by_kind, level_exceeded_by, levels, levels_of
from tether.frames.mosaic import planes
from tether.frames.regions import COLUMNS, ROWS, Regions

BLACK, WHITE = 512, 16383
RANGE = WHITE - BLACK


def frame(mosaic: NDArray[np.float64] | NDArray[np.uint16], pattern: str = "RGGB") -> RawFrame:
    numbers = np.clip(np.round(mosaic), 0, 65535).astype(np.uint16)
    return RawFrame(mosaic=numbers, pattern=pattern, black=(float(BLACK),) * 4, white=WHITE)


def flat(level: float, size: int = 40) -> RawFrame:
    return frame(np.full((size, size), float(level)))


@given(stops=st.floats(min_value=0.15, max_value=8.0))
def test_a_flat_frame_has_the_headroom_it_has(stops: float) -> None:
    """Nearer to the top an even frame can't be told from one that clips, and counts as clipped."""
    assert levels(flat(BLACK + RANGE * 2.0**-stops)).headroom_stops == pytest.approx(stops, abs=0.02)
    assert levels(flat(WHITE)).headroom_stops is None


@given(stops=st.floats(min_value=0.2, max_value=3.0), seed=st.integers(0, 2**32 - 1))
def test_a_frame_half_as_bright_has_a_stop_more(stops: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    light = rng.uniform(0.05, 0.5, (60, 60))
    bright, dark = (levels(frame(BLACK + RANGE * light * 2.0**-by)) for by in (0.0, stops))
    assert bright.headroom_stops is not None
    assert dark.headroom_stops is not None
    assert dark.headroom_stops - bright.headroom_stops == pytest.approx(stops, abs=0.01)


def test_nothing_above_black_has_all_the_headroom_there_is() -> None:
    assert levels(flat(BLACK)).headroom_stops == inf
    assert levels(flat(BLACK - 20)).channels["R"].mean < 0


@pytest.mark.parametrize(("share", "burnt"), [(0.0005, False), (0.0015, True), (0.5, True), (1.0, True)])
def test_up_to_a_thousandth_may_clip(share: float, burnt: bool) -> None:
    mosaic = np.full((200, 200), BLACK + RANGE / 4)
    for down in (0, 1):
        for right in (0, 1):
            place = mosaic[down::2, right::2].ravel()
            place[: round(share * place.size)] = WHITE
            mosaic[down::2, right::2] = place.reshape(100, 100)
    found = levels(frame(mosaic))
    assert found.clipped_share == pytest.approx(share, abs=1e-4)
    assert (found.headroom_stops is None) == burnt


def test_the_channel_that_clips_first_counts() -> None:
    mosaic = np.full((80, 80), BLACK + RANGE / 8)
    mosaic[1::2, 1::2] = BLACK + RANGE / 2
    found = levels(frame(mosaic))
    assert found.headroom_stops == pytest.approx(1.0, abs=0.01)
    assert found.channels["R"].headroom_stops == pytest.approx(3.0, abs=0.01)


def test_clipping_is_where_the_data_say_not_where_the_file_says() -> None:
    """One real body clips at 15360 of 16383, and noise reaches above the white level."""
    rng = np.random.default_rng(1)
    mosaic = np.minimum(BLACK + RANGE * rng.exponential(0.3, (400, 400)), 15360)
    assert clip_level(histograms(frame(mosaic)), WHITE) == 15360
    unclipped = BLACK + RANGE * rng.uniform(0, 0.99, (400, 400))
    assert clip_level(histograms(frame(unclipped)), WHITE) == WHITE


@settings(max_examples=8, deadline=None)
@given(shape=st.tuples(st.integers(96, 150), st.integers(144, 200)), seed=st.integers(0, 2**32 - 1))
def test_water_and_whole_are_counted_as_each_alone(shape: tuple[int, int], seed: int) -> None:
    rng = np.random.default_rng(seed)
    picture = frame(rng.integers(0, 16384, shape).astype(np.uint16))
    regions = Regions(cells=tuple("".join(row) for row in rng.choice(list("wwr."), (ROWS, COLUMNS)).tolist()))
    water, whole = histograms_by_kind(picture, regions, "water")
    for found, alone in zip(whole, histograms(picture), strict=True):
        np.testing.assert_array_equal(found.counts, alone.counts)
    for found, plane in zip(water, planes(picture), strict=True):
        wet = plane.values[regions.mask("water", plane.values.shape)]
        np.testing.assert_array_equal(found.counts, np.bincount(wet))


@settings(max_examples=20)
@given(st.lists(st.integers(0, 4000), min_size=40, max_size=120))
def test_the_level_that_a_share_reaches_is_a_percentile(values: list[int]) -> None:
    size = len(values) // 4 * 4
    numbers = np.array(values[:size], dtype=np.uint16).reshape(2, -1)
    (first, *_) = histograms(frame(numbers))
    ordered = sorted(numbers[0, 0::2].tolist(), reverse=True)
    needed = max(0.1 * len(ordered), 1)
    assert level_exceeded_by(first, 0.1) == ordered[int(np.ceil(needed)) - 1]


def test_headroom_is_log2_of_what_is_left() -> None:
    found = levels_of(histograms(flat(5080)), 15360)
    assert found.headroom_stops == pytest.approx(log2((15360 - 512) / (5080 - 512)), abs=1e-9)
