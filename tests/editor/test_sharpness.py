"""How sharp a live picture is: by its finest detail, whatever the light."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageFilter

from tether.editor.sharpness import sharpness_of


def textured(blur_px: float = 0.0, light: float = 1.0) -> np.ndarray:
    rng = np.random.default_rng(7)
    picture = Image.fromarray(rng.integers(20, 120, (80, 120, 3), dtype=np.uint8)).filter(
        ImageFilter.GaussianBlur(1.0 + blur_px)
    )
    return (np.asarray(picture) * light).astype(np.uint8)


def test_stripes_of_known_contrast_give_what_can_be_reckoned_by_hand() -> None:
    """Two columns of 50 and two of 150 by turns: over two pixels each differs by 100, as is the mean; down, nothing."""
    stripes = np.tile(np.repeat([50, 150], 2), 8).astype(np.uint8)
    picture = np.broadcast_to(stripes[None, :, None], (16, 32, 3)).copy()
    assert sharpness_of(picture) == pytest.approx(1.0)


def test_it_falls_as_the_focus_goes_and_does_not_go_by_the_light() -> None:
    found = [sharpness_of(textured(blur)) for blur in (0.0, 0.5, 1.0, 2.0)]
    assert found == sorted(found, key=lambda one: -(one or 0.0))
    assert sharpness_of(textured(light=2.0)) == pytest.approx(found[0], rel=0.03)


def test_the_dark_and_what_is_no_picture_say_nothing() -> None:
    assert sharpness_of(np.zeros((20, 30, 3), np.uint8)) is None
    assert sharpness_of(np.zeros((0, 30, 3), np.uint8)) is None
    assert sharpness_of(np.full((2, 30, 3), 90, np.uint8)) is None
