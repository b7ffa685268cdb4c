"""Definition and streaks of water: on drawn texture of known drift, and on the simulated landscape.

How well lengths hold over many scenes is measured by `python -m tests.bench.streaks`.
"""

from __future__ import annotations

import io
import itertools

import numpy as np
import pytest

from tests.body.simulated.rig import PITCH_UM
from tests.frames.moving_water import ALL, BASE_PX, LARGE, WORLD, Drawn, exposed
from tests.frames.simulated import still_of, wet_of
from tether.exposure.optics import streak_px
from tether.files.raw import RawFrame
from tether.frames.patches import Mask
from tether.frames.water import (
    WaterBase,
    definition,
    places,
    streak,
    water_base,
)
from tether.journal.readings import Definition, StreakSaid


def measured(found: StreakSaid) -> tuple[float, float, float]:
    """Return length, its error, and direction."""
    assert found.length_px is not None
    assert found.uncertainty_px is not None
    assert found.along_deg is not None
    return found.length_px, found.uncertainty_px, found.along_deg


@pytest.mark.parametrize(("seed", "deg", "length_px"), [(1, 90, 20), (2, 30, 40), (3, 115, 40), (4, 70, 80)])
def test_a_streak_of_known_length_is_found(seed: int, deg: float, length_px: float) -> None:
    drawn = Drawn(seed, deg)
    found = streak(drawn.base(), drawn.frame(length_px, 2.17, level=600.0), base_share=BASE_PX / length_px)
    found_px, error_px, along_deg = measured(found)
    assert found_px == pytest.approx(length_px, rel=0.25)
    assert abs(found_px - length_px) < 4 * error_px
    assert along_deg == pytest.approx(deg, abs=4)


def test_longer_streaks_are_found_longer() -> None:
    drawn = Drawn(6, 80, (2.0, 2.0))
    base = drawn.base()
    found = [streak(base, drawn.frame(length, 2.17)) for length in (15.0, 30.0, 60.0, 100.0)]
    lengths = [measured(one)[0] for one in found]
    assert all(longer > 1.3 * shorter for shorter, longer in itertools.pairwise(lengths))


def test_what_can_not_be_told_has_its_reason() -> None:
    drawn = Drawn(5, 90)
    base = drawn.base()
    long, short = (streak(base, drawn.frame(length, 2.17)) for length in (600.0, BASE_PX))
    assert long.length_px is None
    assert long.why == "The streak is longer than can be told."
    assert long.at_least_px is not None
    assert 60 < long.at_least_px <= 600
    assert short.why == "The streak is too short, or too uneven, to be told."
    streaked = streak(drawn.base(60.0), drawn.frame(120.0, 2.17), base_share=0.5)
    assert streaked.why == "The water in the base frames is streaked itself."
    silk = streak(drawn.base(contrast=0.002), drawn.frame(40.0, 2.17, contrast=0.002))
    assert silk.why == "The water in the base frames has too little contrast."
    burnt = streak(base, drawn.frame(40.0, 2.17, level=60_000.0))
    assert burnt.why is not None
    assert "clipped" in burnt.why


def test_a_shift_that_is_known_is_taken_off() -> None:
    drawn = Drawn(7, 90)
    base, frame = drawn.base(), drawn.frame(40.0, 2.17)
    moved = RawFrame(
        mosaic=np.roll(frame.mosaic, (6, -10), axis=(0, 1)), pattern="RGGB", black=frame.black, white=frame.white
    )
    at_rest, taken_off = streak(base, frame), streak(base, moved, moved_px=(-10.0, 6.0))
    assert measured(taken_off)[0] == pytest.approx(measured(at_rest)[0], rel=0.1)


def test_a_water_base_can_be_stored() -> None:
    drawn = Drawn(8, 60)
    base, frame = drawn.base(), drawn.frame(30.0, 2.17)
    file = io.BytesIO()
    np.savez_compressed(file, allow_pickle=False, **base.arrays())
    assert file.tell() < 6e6
    file.seek(0)
    with np.load(file) as arrays:
        assert streak(WaterBase.from_arrays(arrays), frame) == streak(base, frame)


def test_other_sizes_and_dry_scenes() -> None:
    drawn = Drawn(9, 60)
    small = RawFrame(mosaic=np.zeros((400, 600), dtype=np.uint16), pattern="RGGB", black=(0.0,) * 4, white=16383)
    with pytest.raises(ValueError, match="same size"):
        streak(drawn.base(), small)
    assert water_base(drawn.frame(2.0, 0.0), drawn.frame(2.0, 0.5), ~ALL) is None
    assert places(~ALL) is None


def squares_of(mask: Mask) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    found = places(mask)
    assert found is not None
    return found


@pytest.mark.prove
def test_definition_falls_from_frozen_to_silk_and_noise_has_no_part_in_it() -> None:
    water, still = squares_of(wet_of(WORLD)), squares_of(still_of(WORLD))
    found = [definition(exposed(2.0**e, start_s=5.0, number=2), water, still) for e in (-11, -4, 0)]
    values = [one.value for one in found if one]
    assert len(values) == 3
    assert values[0] > 1.2
    assert values[-1] < 0.5 * values[0]
    assert values == sorted(values, reverse=True)
    for e, clean in ((-11, found[0]), (0, found[-1])):
        noisy = definition(exposed(2.0**e, start_s=5.0, number=3, iso=6400.0, level_stops=-7.0), water, still)
        assert isinstance(noisy, Definition)
        assert isinstance(clean, Definition)
        assert noisy.value == pytest.approx(clean.value, rel=0.05)
        assert noisy.rock == pytest.approx(clean.rock, rel=0.05)


def test_definition_is_not_told_in_the_dark() -> None:
    water, still = squares_of(wet_of(WORLD)), squares_of(still_of(WORLD))
    dark = RawFrame(
        mosaic=np.random.default_rng(1).normal(512, 3, (600, 900)).astype(np.uint16),
        pattern="RGGB",
        black=(512.0,) * 4,
        white=16383,
    )
    assert definition(dark, water, still) is None


@pytest.mark.prove
def test_streak_of_the_simulated_fall_is_the_predicted_one() -> None:
    """A sample of `python -m tests.bench.streaks`, which tells how far single frames are off."""
    fall = wet_of(LARGE)
    fall[300:] = False
    one, other = (
        exposed(2.0**-11, start_s=start_s, number=number, iso=1600.0, truth=LARGE)
        for number, start_s in ((1, 0.0), (2, 7.3))
    )
    base = water_base(one, other, fall)
    assert base is not None
    predicted = streak_px(
        LARGE.scene.fall_m_s,
        2.0**-5,
        focal_mm=LARGE.lens.focal_mm,
        distance_m=LARGE.lens.distance_m,
        pitch_um=PITCH_UM,
    )
    found = streak(base, exposed(2.0**-5, start_s=20.0, number=9, truth=LARGE), base_share=2.0**-6)
    found_px, _, along_deg = measured(found)
    assert found_px == pytest.approx(predicted, rel=0.4)
    assert along_deg == pytest.approx(90, abs=6)
