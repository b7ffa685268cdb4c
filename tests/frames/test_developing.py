"""Parts of a raw frame as pictures, held against LibRaw's own development and against arithmetic by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rawpy
from numpy.typing import NDArray

from tests.page.choosing import BLACK, WHITE, draw
from tether.files.raw import RawFrame, read_with_header
from tether.frames.developing import Box, Look, bands, bands_16, shown, upright

PLAIN = Look(gains=(1.0, 1.0, 1.0), balance=(1.0, 1.0, 1.0), to_srgb=np.eye(3))


def flat(red: float, green: float, blue: float, *, pattern: str = "RGGB", side: int = 16) -> RawFrame:
    """Return a frame on which each colour has one level everywhere, 0 black to 1 clipped."""
    level = {"R": red, "G": green, "B": blue}
    cell = np.array([level[channel] for channel in pattern]).reshape(2, 2)
    mosaic = np.round(BLACK + (WHITE - BLACK) * np.tile(cell, (side // 2, side // 2))).astype(np.uint16)
    return RawFrame(mosaic=mosaic, pattern=pattern, black=(BLACK,) * 4, white=WHITE)


def whole(raw: RawFrame) -> Box:
    height, width = raw.mosaic.shape
    return Box(left=0, top=0, right=width, bottom=height)


def srgb(linear: float) -> int:
    """IEC 61966-2-1:1999."""
    return round(255 * (12.92 * linear if linear <= 0.0031308 else 1.055 * linear ** (1 / 2.4) - 0.055))


@pytest.mark.parametrize("pattern", ["RGGB", "BGGR", "GRBG", "GBRG"])
@pytest.mark.parametrize("step", [1, 2, 4])
def test_each_colour_is_its_own_whatever_the_pattern_and_the_size(pattern: str, step: int) -> None:
    raw = flat(0.2, 0.5, 0.1, pattern=pattern)
    picture = shown(raw, PLAIN, whole(raw), step)
    assert picture.shape == (16 // step, 16 // step, 3)
    assert np.abs(picture.astype(int) - [srgb(0.2), srgb(0.5), srgb(0.1)]).max() <= 1


def test_a_gain_makes_it_brighter_by_as_much() -> None:
    raw = flat(0.2, 0.2, 0.2)
    picture = shown(raw, Look(gains=(2.0, 2.0, 2.0), balance=PLAIN.balance, to_srgb=PLAIN.to_srgb), whole(raw), 1)
    assert np.abs(picture.astype(int) - srgb(0.4)).max() <= 1


def test_what_clips_has_no_colour() -> None:
    raw = flat(1.0, 1.0, 1.0)
    look = Look(gains=(1.0, 1.0, 1.0), balance=(2.0, 1.0, 1.5), to_srgb=np.eye(3))
    assert (shown(raw, look, whole(raw), 1) == 255).all()


def test_a_part_is_what_stands_there_in_the_whole() -> None:
    rng = np.random.default_rng(5)
    raw = RawFrame(
        mosaic=rng.integers(BLACK, WHITE, (24, 32)).astype(np.uint16), pattern="GBRG", black=(BLACK,) * 4, white=WHITE
    )
    picture = shown(raw, PLAIN, whole(raw), 1)
    part = shown(raw, PLAIN, Box(left=7, top=5, right=20, bottom=16), 1)
    assert (part == picture[5:16, 7:20]).all()


def test_bands_are_the_whole() -> None:
    rng = np.random.default_rng(6)
    raw = RawFrame(
        mosaic=rng.integers(BLACK, WHITE, (30, 16)).astype(np.uint16), pattern="RGGB", black=(BLACK,) * 4, white=WHITE
    )
    assert (np.concatenate(list(bands(raw, PLAIN, 8))) == shown(raw, PLAIN, whole(raw), 1)).all()


def test_sixteen_bits_are_the_same_picture_in_finer_steps() -> None:
    rng = np.random.default_rng(6)
    levels = rng.integers(BLACK, WHITE, (30, 16)).astype(np.uint16)
    raw = RawFrame(mosaic=levels, pattern="RGGB", black=(BLACK,) * 4, white=WHITE)
    fine = np.concatenate(list(bands_16(raw, PLAIN, 8)))
    assert fine.shape == (30, 16, 3)
    assert np.abs(fine / 257 - shown(raw, PLAIN, whole(raw), 1)).max() < 0.6


def test_sixteen_bits_by_hand() -> None:
    """A fifth of the light, by IEC 61966-2-1:1999: 1.055 × 0.2 ^ (1 / 2.4) − 0.055 = 0.48453."""
    picture = np.concatenate(list(bands_16(flat(0.2, 1.0, 0.0), PLAIN, 8)))
    assert np.abs(picture.reshape(-1, 3).astype(int) - [31754, 65535, 0]).max() <= 3


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_upright_every_colour_stays_its_own(turns: int) -> None:
    rng = np.random.default_rng(7)
    light = rng.uniform(0.1, 0.9, (12, 18))
    raw = RawFrame(
        mosaic=np.round(BLACK + (WHITE - BLACK) * light).astype(np.uint16),
        pattern="GRBG",
        black=(BLACK,) * 4,
        white=WHITE,
    )
    turned = upright(raw, turns)
    by_hand = np.rot90(shown(raw, PLAIN, whole(raw), 2), turns)
    assert (shown(turned, PLAIN, whole(turned), 2) == by_hand).all()


def test_it_is_what_libraw_develops(tmp_path: Path) -> None:
    """Against LibRaw's own bilinear development, by the same balance, matrix and curve, without its own brightening."""
    path = tmp_path / "one.dng"
    draw(path, 1)
    raw, header = read_with_header(path)
    ours = shown(raw, Look(gains=(1.0, 1.0, 1.0), balance=header.balance, to_srgb=header.to_srgb), whole(raw), 1)
    with rawpy.imread(str(path)) as opened:
        theirs: NDArray[np.uint8] = opened.postprocess(
            demosaic_algorithm=rawpy.DemosaicAlgorithm.LINEAR,
            use_camera_wb=True,
            no_auto_bright=True,
            gamma=(2.4, 12.92),
            output_color=rawpy.ColorSpace.sRGB,
            user_flip=0,
        )
    inner = (slice(4, -4), slice(4, -4))
    off = ours[inner].astype(int) - theirs[inner]
    assert np.abs(off.mean(axis=(0, 1))).max() < 1.5
    assert np.abs(off).max() <= 8
