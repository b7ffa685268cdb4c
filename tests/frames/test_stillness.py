"""Shift and sharpness of the still rocks, on the simulated landscape and on drawn texture."""

from __future__ import annotations

import io
from math import hypot

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from tests.bench import knocks
from tests.body.simulated.rig import PITCH_UM
from tests.frames.simulated import F11, Stretches, shot, still_of
from tether.body.simulated.world import Knock, SensorTruth, World
from tether.files.raw import RawFrame
from tether.frames.stillness import Reference, diffraction, reference, stillness
from tether.frames.verdict import verdict
from tether.journal.readings import Sharpness, Stillness, lost_beyond

SENSOR = SensorTruth(window_px=(900, 600))
WORLD = World(seed=3, sensor=SENSOR)
BASE_S = 2.0**-6


@pytest.fixture(scope="module")
def base() -> Reference:
    found = reference(shot(WORLD, open_s=BASE_S), still_of(WORLD))
    assert found is not None
    return found


def seen(
    base: Reference, *, open_s: float = BASE_S, aperture: float = F11, moved: tuple[float, float] = (0.0, 0.0)
) -> Stillness:
    found = stillness(
        base, shot(WORLD, open_s=open_s, start_s=9.0, number=2, aperture=aperture, stretches=((1.0, moved),))
    )
    assert found is not None
    return found


def sharpness(found: Stillness | None) -> Sharpness:
    assert found is not None
    assert found.sharpness is not None
    return found.sharpness


def test_a_frame_at_rest_has_not_moved(base: Reference) -> None:
    found = seen(base)
    assert found.most_px < 0.02
    assert abs(sharpness(found).lost) < 0.02
    assert verdict(found) is None


@pytest.mark.parametrize("moved", [(2.0, 0.0), (-0.3, 0.4), (1.2, -1.7), (-19.3, 8.6)])
def test_a_shift_is_found(base: Reference, moved: tuple[float, float]) -> None:
    found = seen(base, moved=moved)
    assert (found.right_px, found.down_px) == pytest.approx(moved, abs=0.02)
    assert abs(sharpness(found).lost) < 0.02
    said = verdict(found)
    assert (said is not None) == (hypot(*moved) > 1)
    assert said is None or said.cause == "knock"


def test_a_shift_is_found_six_stops_under(base: Reference) -> None:
    found = seen(base, open_s=BASE_S / 64, moved=(1.5, 1.5))
    assert (found.right_px, found.down_px) == pytest.approx((1.5, 1.5), abs=0.1)
    assert abs(found.right_px - 1.5) < 4 * found.uncertainty_px
    assert abs(sharpness(found).lost) < 0.05


@pytest.mark.parametrize(
    ("stretches", "variance_px2", "deg"),
    [
        (((0.5, (0.0, 0.0)), (0.5, (2.6, 1.5))), 2.25, 30.0),  # two places, 3 px apart
        (((0.5, (0.0, 0.0)), (0.5, (0.0, -2.0))), 1.0, 90.0),
    ],
)
def test_a_move_while_open_blurs_along_its_direction(
    base: Reference, stretches: Stretches, variance_px2: float, deg: float
) -> None:
    found = stillness(base, shot(WORLD, open_s=BASE_S, start_s=3.0, number=2, stretches=stretches))
    blur = sharpness(found)
    assert blur.along_px2 == pytest.approx(variance_px2, rel=0.2)
    assert abs(blur.across_px2) < 0.15
    assert blur.along_deg == pytest.approx(deg, abs=5)
    assert found is not None
    said = verdict(found)
    assert said is not None
    assert said.cause == "moved while open"


def test_a_soft_picture_is_soft_alike_in_all_directions(base: Reference) -> None:
    world = WORLD.model_copy(update={"knocks": (Knock(before_frame=2, soft_px=1.0),)})
    found = stillness(base, shot(world, open_s=BASE_S, number=2))
    blur = sharpness(found)
    assert (blur.along_px2, blur.across_px2) == pytest.approx((0.9, 0.9), abs=0.25)
    assert found is not None
    said = verdict(found)
    assert said is not None
    assert said.cause == "focus or spray"
    assert "all over the picture" in said.sentence


@pytest.mark.parametrize("aperture", [4.0, 2**4.5])
def test_what_diffraction_takes_is_no_loss(base: Reference, aperture: float) -> None:
    found = seen(base, open_s=BASE_S * (aperture / F11) ** 2, aperture=aperture)
    expected = diffraction(base, F11, aperture, PITCH_UM)
    assert abs(sharpness(found).lost) > 0.12
    assert lost_beyond(found.sharpness, expected) == pytest.approx(0, abs=0.03)
    assert verdict(found, expected=expected) is None


def test_squares_with_something_else_in_them_do_not_decide(base: Reference) -> None:
    frame = shot(WORLD, open_s=BASE_S, start_s=5.0, number=2, stretches=((1.0, (2.0, -1.0)),))
    mosaic = frame.mosaic.copy()
    covered = base.corners[: len(base.corners) // 3]
    for row, column in 2 * covered:
        mosaic[row : row + 64, column : column + 64] = np.roll(mosaic[row : row + 64, column : column + 64], 17, 0)[
            ::-1
        ]
    found = stillness(base, RawFrame(mosaic=mosaic, pattern="RGGB", black=frame.black, white=frame.white))
    assert found is not None
    assert (found.right_px, found.down_px) == pytest.approx((2.0, -1.0), abs=0.03)
    assert abs(sharpness(found).lost) < 0.03


def test_a_move_is_told_once(base: Reference) -> None:
    first, second = (seen(base, open_s=open_s, moved=(3.0, 0.0)) for open_s in (BASE_S, BASE_S / 2))
    assert verdict(first, before=seen(base)) is not None
    assert verdict(second, before=first) is None


def test_a_reference_can_be_stored(base: Reference) -> None:
    file = io.BytesIO()
    np.savez_compressed(file, allow_pickle=False, **base.arrays())
    assert file.tell() < 1e6
    file.seek(0)
    with np.load(file) as arrays:
        again = Reference.from_arrays(arrays)
    frame = shot(WORLD, open_s=BASE_S, start_s=2.0, number=2)
    assert stillness(again, frame) == stillness(base, frame)


def test_nothing_is_told_where_nothing_can_be(base: Reference) -> None:
    black = (512.0,) * 4
    for level in (512, 16383):
        flat = np.full((600, 900), level, dtype=np.uint16)
        assert stillness(base, RawFrame(mosaic=flat, pattern="RGGB", black=black, white=16383)) is None
    noise = np.random.default_rng(2).normal(600, 5, (600, 900)).astype(np.uint16)
    only_noise = RawFrame(mosaic=noise, pattern="RGGB", black=black, white=16383)
    assert stillness(base, only_noise) is None
    assert reference(only_noise, np.ones((300, 450), dtype=bool)) is None
    assert reference(shot(WORLD, open_s=BASE_S), np.zeros((300, 450), dtype=bool)) is None


def test_frames_of_another_size_are_refused(base: Reference) -> None:
    small = RawFrame(mosaic=np.zeros((400, 600), dtype=np.uint16), pattern="RGGB", black=(0.0,) * 4, white=16383)
    with pytest.raises(ValueError, match="same size"):
        stillness(base, small)


def textured(turn_rad: float, grow: float) -> RawFrame:
    """Return drawn texture, turned and grown about the middle of the frame."""
    rng = np.random.default_rng(8)
    texture: NDArray[np.float64] = ndimage.gaussian_filter(rng.normal(size=(800, 1200)), 2.0)
    texture = 3000 * (1 + 0.2 * texture / texture.std())
    matrix = np.array([[np.cos(turn_rad), -np.sin(turn_rad)], [np.sin(turn_rad), np.cos(turn_rad)]]) / (1 + grow)
    middle = np.array([399.5, 599.5])
    moved = ndimage.affine_transform(texture, matrix, offset=middle - matrix @ middle, order=3, mode="nearest")
    return RawFrame(mosaic=moved.astype(np.uint16), pattern="RGGB", black=(0.0,) * 4, white=16383)


def test_turning_and_growing_are_told_apart() -> None:
    base = reference(textured(0, 0), np.ones((400, 600), dtype=bool))
    assert base is not None
    assert len(base.corners) == 40
    half_px = hypot(400, 600)
    turned, grown = stillness(base, textured(0.004, 0.0)), stillness(base, textured(0.0, 0.005))
    assert turned is not None
    assert grown is not None
    assert (abs(turned.turned_px), turned.grown_px) == pytest.approx((0.004 * half_px, 0), abs=0.05)
    assert (grown.grown_px, grown.turned_px) == pytest.approx((0.005 * half_px, 0), abs=0.05)
    for found, cause in ((turned, "knock"), (grown, "zoom or focus ring")):
        assert hypot(found.right_px, found.down_px) < 0.05
        said = verdict(found)
        assert said is not None
        assert said.cause == cause


@pytest.mark.prove
def test_drawn_frames_of_one_scene() -> None:
    """A small sample of `python -m tests.bench.knocks`."""
    results = knocks.tried(50, 4)
    assert [one.said is not None for one in results] == [one.knocked for one in results]
    assert max(one.error_px or 0 for one in results) < 0.7
