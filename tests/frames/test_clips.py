"""Where pixels clip, told by frames alone, on drawn light whose clip is known, and on the simulated landscape."""

from __future__ import annotations

from math import log2

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.frames.simulated import shot
from tether.body.simulated.world import Clips, SensorTruth, World
from tether.files.raw import RawFrame
from tether.frames.clips import clip_alone, clip_by_edge, clip_by_pair, clip_by_step
from tether.frames.exposing import seen_in
from tether.frames.levels import histograms, levels, levels_of

BLACK, WHITE = 512, 16383
SPAN = WHITE - BLACK
GAIN, READ_DN = 0.317, 1.0
SHAPE = (320, 480)
RNG = np.random.default_rng(5)
#: A ramp of light across the frame, 0.02 to 1.25 of white.
RAMP = np.broadcast_to(np.linspace(0.02, 1.25, SHAPE[1]), SHAPE)


def frame(light: NDArray[np.float64], seed: int, *, top: NDArray[np.float64] | float) -> RawFrame:
    """Return a frame of light (1: white) whose pixels clip at a share of the way to white, read noise after that."""
    rng = np.random.default_rng(seed)
    caught = rng.normal(SPAN * light, np.sqrt(GAIN * SPAN * light))
    numbers = np.minimum(caught, SPAN * np.asarray(top)) + READ_DN * rng.standard_normal(light.shape)
    raw = np.clip(np.rint(BLACK + numbers), 0, WHITE).astype(np.uint16)
    return RawFrame(mosaic=raw, pattern="RGGB", black=(float(BLACK),) * 4, white=WHITE)


def tops(mean: float, spread: float) -> NDArray[np.float64]:
    return np.asarray(mean * (1 + spread * np.random.default_rng(9).standard_normal(SHAPE)))


@pytest.mark.parametrize("mean", [0.85, 0.88, 0.92, 0.97])
@pytest.mark.parametrize("spread", [0.0, 0.003, 0.01, 0.02])
def test_two_equal_frames_tell_where_pixels_clip(mean: float, spread: float) -> None:
    """Of pixels whose levels spread as drawn, a tenth clip below 1.28 standard deviations under their mean."""
    one, other = (frame(RAMP, seed, top=tops(mean, spread)) for seed in (1, 2))
    found = clip_by_pair(one, other)
    assert found is not None
    assert found.witness == "pair"
    for level in found.levels.values():
        assert abs(log2((level - BLACK) / (SPAN * mean * (1 - 1.28 * spread)))) < 0.02


@pytest.mark.parametrize("top", [0.7, 0.9, 0.97])
def test_an_even_bright_sky_that_does_not_clip_is_no_clip(top: float) -> None:
    """Its heap in the histogram looks like one; its pixels differ by all the noise of their light."""
    sky = np.array(RAMP)
    sky[:160] = top
    sky[160:] *= top / 1.4
    one, other = (frame(sky, seed, top=1.2) for seed in (3, 4))
    assert clip_by_pair(one, other) is None


def test_a_burnt_third_of_the_green_12_percent_under_the_tag_is_no_headroom() -> None:
    """By the tag alone it would be read as 0.1 stop or more of headroom."""
    light = RAMP * 0.6
    light[:, :] = np.where(np.random.default_rng(0).random((160, 240)).repeat(2, 0).repeat(2, 1) < 0.3, 1.6, light)
    one, other = (frame(light, seed, top=tops(0.88, 0.01)) for seed in (5, 6))
    by_tag = levels_of(histograms(one), WHITE).headroom_stops
    assert by_tag is not None
    assert by_tag > 0.05, "what the tag says"
    assert levels(one).headroom_stops is not None, "what a spike finds in a histogram: nothing"
    found = clip_by_pair(one, other)
    assert found is not None
    assert seen_in(one, 0.0, clip=found).burnt
    assert seen_in(one, 0.0, clip=found).levels.clipped_share == pytest.approx(0.3, abs=0.06)


@pytest.mark.parametrize("spread", [0.003, 0.02])
def test_a_known_step_tells_it_where_the_picture_stands_still(spread: float) -> None:
    darker, brighter = frame(RAMP / 3.2, 7, top=1.2), frame(RAMP / 3.2 * 4, 8, top=tops(0.9, spread))
    found = clip_by_step(darker, brighter, 2)
    assert found is not None
    assert found.witness == "step"
    assert abs(log2((found.lowest - BLACK) / (SPAN * 0.9 * (1 - 1.28 * spread)))) < 0.03
    unlike = frame(np.array(RAMP[:, ::-1]), 8, top=1.2)
    assert clip_by_step(darker, unlike, 2) is None, "another picture does not follow the step"


def test_an_edge_alone_counts_but_leaves_more_uncertain() -> None:
    light = np.array(RAMP * 0.5)
    light[100:] = 1.5
    heap, plain = frame(light, 1, top=tops(0.9, 0.01)), frame(RAMP * 0.5, 1, top=1.2)
    edge = clip_by_edge(histograms(heap), WHITE)
    assert edge is not None
    assert abs(log2((edge - BLACK) / (0.9 * SPAN))) < 0.06
    assert clip_by_edge(histograms(plain), WHITE) is None
    assert (clip_alone(histograms(heap), heap).witness, clip_alone(histograms(plain), plain).witness) == ("edge", "tag")
    assert clip_alone(histograms(heap), heap).off_stops >= 0.1


def test_the_decoders_white_level_by_channel_is_taken() -> None:
    plain = frame(RAMP * 0.5, 1, top=1.2)
    by_channel = RawFrame(
        mosaic=plain.mosaic, pattern="RGGB", black=plain.black, white=WHITE, whites={"R": 15000, "G": 14500, "B": 16000}
    )
    assert dict(clip_alone(histograms(plain), by_channel).levels) == {"R": 15000, "G": 14500, "B": 16000}
    assert seen_in(by_channel, 0.0).levels.headroom_stops == pytest.approx(
        log2((14500 - BLACK) / (levels_at(plain) - BLACK)), abs=0.02
    )


def levels_at(one: RawFrame) -> float:
    """Return the level that a thousandth of the greens reach."""
    green = one.mosaic[0::2, 1::2]
    return float(np.quantile(green, 0.999))


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_in_moving_water_behind_a_drawn_sensor_the_pair_tells_each_channel(seed: int) -> None:
    """A channel's own level is told to 0.06 stop, its spread included, where it clips at all."""
    world = World(seed=seed, base_level_stops=-1.0, sensor=SensorTruth(window_px=(480, 320), clips=Clips(drawn=True)))
    true = world.sensor.clips.really(seed)
    one, other = (shot(world, open_s=1 / 64, start_s=at, number=n) for n, at in ((1, 1.0), (2, 3.0)))
    found = clip_by_pair(one, other)
    assert found is not None
    for level, under in zip((found.levels[c] for c in ("R", "G", "B")), true.under, strict=True):
        assert abs(log2((level - BLACK) / (SPAN * (1 - under)))) < 0.06
