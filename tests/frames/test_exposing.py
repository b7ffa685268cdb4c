"""The right exposure from frames that are far off, on drawn distributions of light."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from tether.files.raw import RawFrame
from tether.frames.clips import Clip
from tether.frames.exposing import STEP_STOPS, WANTED_STOPS, Estimate, WaterSeen, next_exposure, seen_in
from tether.frames.levels import CLIPPED_MAY_BE

BLACK, WHITE, FULL_WELL_E, READ_E = 512, 16383, 50_000, 3.0
SHAPE = (300, 400)
#: Everything right at exposure 0: the light's brightest thousandth is a wanted headroom below clipping.
RIGHT_STOPS = 0.0

Light = NDArray[np.float64]


def water(seed: int, spread: float) -> Light:
    """Return the light of pixels, shape `SHAPE`, alike in all colours: log-normal, right at exposure 0."""
    cells = np.exp(spread * np.random.default_rng(seed).normal(size=(SHAPE[0] // 2, SHAPE[1] // 2)))
    light = cells.repeat(2, axis=0).repeat(2, axis=1)
    return np.asarray(light / np.quantile(light, 1 - CLIPPED_MAY_BE) * 2**-WANTED_STOPS)


def exposed(light: Light, stops: float, seed: int = 0) -> RawFrame:
    """Return a frame of some light (1: just clips at exposure 0)."""
    rng = np.random.default_rng([seed, 1])
    electrons = rng.normal(FULL_WELL_E * light * 2**stops, np.sqrt(FULL_WELL_E * light * 2**stops + READ_E**2))
    raw = np.clip(BLACK + electrons * (WHITE - BLACK) / FULL_WELL_E, 0, WHITE).round().astype(np.uint16)
    return RawFrame(mosaic=raw, pattern="RGGB", black=(float(BLACK),) * 4, white=WHITE)


#: A sensor that is known to clip where its file says.
KNOWN = Clip(levels={"R": WHITE, "G": WHITE, "B": WHITE}, witness="pair")


def searched(light_at: Callable[[int], Light], start_stops: float, frames: int = 4) -> list[tuple[WaterSeen, Estimate]]:
    """Take frames as they are asked for, on third stops at the darker side."""
    done: list[tuple[WaterSeen, Estimate]] = []
    stops = start_stops
    for number in range(frames):
        seen = seen_in(exposed(light_at(number), stops, seed=number), stops, clip=KNOWN)
        estimate = next_exposure([*(one for one, _ in done), seen])
        done.append((seen, estimate))
        stops = math.floor(3 * estimate.next_stops) / 3
    return done


@pytest.mark.parametrize("start_stops", [-8, -5.5, -3, -1, -0.1, 0.1, 0.7, 1.5, 2.5, 4, 5.5, 7, 8])
@pytest.mark.parametrize("spread", [0.3, 0.7, 1.1])
def test_from_anywhere_within_eight_stops_the_right_exposure_is_found_in_four_frames(
    start_stops: float, spread: float
) -> None:
    light = water(3, spread)
    (seen, estimate) = searched(lambda _number: light, start_stops)[-1]
    assert estimate.stops == pytest.approx(RIGHT_STOPS, abs=0.05)
    assert estimate.headroom_at(RIGHT_STOPS) == pytest.approx(WANTED_STOPS, abs=0.05)
    assert not seen.burnt


def test_what_is_white_is_stepped_down_from_and_tells_nothing_but_the_side() -> None:
    seen = seen_in(exposed(water(1, 0.5), 8), 8)
    assert seen.white
    assert seen.burnt
    estimate = next_exposure([seen])
    assert math.isinf(estimate.uncertainty_stops)
    assert estimate.next_stops == 8 - STEP_STOPS


def test_what_is_black_is_stepped_up_from_and_between_white_and_black_is_the_middle() -> None:
    capped = np.zeros(SHAPE)
    black = seen_in(exposed(capped, -4), -4)
    assert black.black
    assert not black.white
    assert next_exposure([black]).next_stops == -4 + STEP_STOPS
    white = seen_in(exposed(water(1, 0.5), 8), 8)
    between = next_exposure([black, white])
    assert math.isinf(between.uncertainty_stops)
    assert between.next_stops == 2


@pytest.mark.parametrize("stops", [-13, -12, -11, -10])
def test_from_hardly_above_black_the_mean_tells_the_exposure_to_a_stop_or_two(stops: float) -> None:
    seen = seen_in(exposed(water(2, 0.7), stops), stops)
    estimate = next_exposure([seen])
    if seen.black:
        assert estimate.next_stops == stops + STEP_STOPS
    else:
        assert estimate.stops == pytest.approx(RIGHT_STOPS, abs=2)
        assert 1 < estimate.uncertainty_stops < 2


@pytest.mark.parametrize("over_stops", [0.4, 0.8, 1.5, 2.5])
@pytest.mark.parametrize("spread", [0.4, 0.7, 1.0])
def test_what_is_partly_burnt_tells_within_its_uncertainty_and_the_next_frame_is_not_burnt(
    over_stops: float, spread: float
) -> None:
    light = water(4, spread)
    seen = seen_in(exposed(light, over_stops), over_stops)
    if seen.white:
        pytest.skip("all of it is white")
    estimate = next_exposure([seen])
    assert abs(estimate.stops - RIGHT_STOPS) < 2 * estimate.uncertainty_stops
    assert estimate.next_stops <= estimate.stops
    assert not seen_in(exposed(light, estimate.next_stops), estimate.next_stops).burnt


def test_another_wanted_headroom_moves_the_exposure_by_as_much() -> None:
    seen = [seen_in(exposed(water(5, 0.6), stops), stops) for stops in (-0.5, -0.5)]
    estimates = {wanted: next_exposure(seen, wanted) for wanted in (0.0, 0.3, 1.0)}
    assert estimates[0.0].stops - estimates[1.0].stops == pytest.approx(1.0)
    assert estimates[0.3].headroom_at(0.0) == pytest.approx(estimates[1.0].headroom_at(0.0))


def test_a_frame_near_the_right_exposure_counts_more_than_one_far_away() -> None:
    light = water(6, 0.6)
    near, far = seen_in(exposed(light, -0.3), -0.3), seen_in(exposed(light * 1.25, -5), -5)
    alone, both = next_exposure([near]), next_exposure([near, far])
    assert abs(both.stops - alone.stops) < 0.15 * math.log2(1.25)
    assert both.uncertainty_stops < alone.uncertainty_stops < next_exposure([far]).uncertainty_stops


def test_the_uncertainty_is_honest_about_water_that_wanders() -> None:
    rng, errors = np.random.default_rng(7), []
    light = water(7, 0.6)
    for _ in range(30):
        wander = rng.normal(0, 0.13, size=4)
        estimate = searched(lambda number, wander=wander: light * 2 ** wander[number], rng.uniform(-8, 8))[-1][1]  # type: ignore[misc]
        errors.append((estimate.stops - RIGHT_STOPS) / estimate.uncertainty_stops)
    assert 0.7 < float(np.std(errors)) < 1.3
    assert abs(float(np.mean(errors))) < 0.5


def test_frames_that_disagree_more_than_water_does_leave_more_uncertain() -> None:
    light = water(8, 0.6)
    agree = [seen_in(exposed(light, -0.5), -0.5)] * 2
    disagree = [agree[0], seen_in(exposed(light / 4, -0.5), -0.5)]
    assert next_exposure(disagree).uncertainty_stops > 5 * next_exposure(agree).uncertainty_stops


def test_only_the_water_counts() -> None:
    light = water(9, 0.6)
    light[:, :100] = 4.0  # a bright sky, burnt
    frame = exposed(light, 0)
    mask = np.ones((SHAPE[0] // 2, SHAPE[1] // 2), dtype=bool)
    mask[:, :50] = False
    assert seen_in(frame, 0).burnt
    seen = seen_in(frame, 0, mask)
    assert not seen.burnt
    assert next_exposure([seen]).stops == pytest.approx(RIGHT_STOPS, abs=0.05)
    assert sum(int(one.counts.sum()) for one in seen.histograms) == 4 * mask.sum()


@pytest.mark.parametrize("mask", [np.zeros((150, 200), dtype=bool), np.ones(SHAPE, dtype=bool)])
def test_a_mask_without_water_or_of_another_shape_is_refused(mask: NDArray[np.bool_]) -> None:
    with pytest.raises(ValueError, match="mask"):
        seen_in(exposed(water(1, 0.5), 0), 0, mask)


def test_the_brightest_channel_counts() -> None:
    light = water(10, 0.6)
    alone = next_exposure([seen_in(exposed(light, -1), -1)]).stops
    light[1::2, 1::2] *= 2  # blue
    assert next_exposure([seen_in(exposed(light, -1), -1)]).stops == pytest.approx(alone - 1, abs=0.05)


def test_a_sensor_that_clips_below_its_white_level_is_exposed_to_where_it_clips() -> None:
    frame = exposed(water(11, 0.6), 0.5)
    low = RawFrame(
        mosaic=np.minimum(frame.mosaic, 15360).astype(np.uint16), pattern="RGGB", black=frame.black, white=WHITE
    )
    assert seen_in(low, 0.5).clip.lowest == 15360
    lower = seen_in(low, 0.5).clip.lowest - BLACK
    assert next_exposure([seen_in(low, 0.5)]).stops == pytest.approx(math.log2(lower / (WHITE - BLACK)), abs=0.3)


def test_a_capped_frame_whose_noise_is_cut_at_a_black_level_of_0_is_black() -> None:
    noise = np.maximum(np.random.default_rng(1).normal(0, 20, SHAPE), 0).round().astype(np.uint16)
    seen = seen_in(RawFrame(mosaic=noise, pattern="RGGB", black=(0.0,) * 4, white=WHITE), 0)
    assert seen.black
    assert math.isinf(next_exposure([seen]).uncertainty_stops)
