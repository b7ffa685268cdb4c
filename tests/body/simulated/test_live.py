"""Live view of the simulated body: a picture of the same world as its frames."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tests.body.simulated.rig import Rig, world
from tether.body.protocol import BULB, Fitted, SceneChange, Settings
from tether.body.simulated.body import NUDGE_PX
from tether.errors import BusyError


def seen(rig: Rig, at: tuple[float, float] | None = None) -> NDArray[np.float64]:
    """Return a live picture's grey levels."""
    with Image.open(io.BytesIO(rig.body.live_jpeg(at))) as image:
        return np.asarray(image.convert("L"), dtype=np.float64)


def differences(pixels: NDArray[np.float64] | NDArray[np.uint16]) -> float:
    """Return how much pixels of one colour that are next to each other differ, mean square."""
    return float((np.diff(pixels[::2, ::2].astype(np.float64), axis=1) ** 2).mean())


def test_it_leaves_no_trace_in_the_frame_after_it(tmp_path: Path) -> None:
    plain, looked = Rig(tmp_path / "plain", world()), Rig(tmp_path / "looked", world())
    seen(looked)
    seen(looked, (0.3, 0.3))
    assert np.array_equal(plain.shoot("1/8"), looked.shoot("1/8"))


def test_it_is_as_bright_through_a_dark_filter_and_dark_through_a_darker_one(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    bare = seen(rig).mean()
    rig.body.stage(SceneChange(fitted=(Fitted(name="Calder 10", stops=6.0),)))
    assert seen(rig).mean() == pytest.approx(bare, rel=0.1)
    rig.body.stage(SceneChange(fitted=(Fitted(name="Calder 10", stops=20.0),)))
    assert seen(rig).mean() < bare / 3
    rig.body.stage(SceneChange(fitted=(), capped=True))
    assert seen(rig).mean() < bare / 3


def test_focus_that_is_off_softens_live_pictures_and_frames_until_it_is_nudged_back(tmp_path: Path) -> None:
    sharp, soft = Rig(tmp_path / "sharp", world()), Rig(tmp_path / "soft", world(focus_off_px=-3.0))
    assert differences(seen(soft)) < 0.5 * differences(seen(sharp))
    blurred = soft.shoot("1/8")
    soft.body.nudge_focus(round(3.0 / NUDGE_PX))
    sharp_again, first = soft.shoot("1/8"), sharp.shoot("1/8")
    assert differences(blurred) < 0.5 * differences(first)
    assert differences(sharp_again) == pytest.approx(differences(first), rel=0.05)


def test_an_open_shutter_is_not_looked_past(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    rig.body.apply(Settings(time=BULB, aperture="f/11", iso="100"))
    rig.body.open_shutter()
    for ask in (lambda: seen(rig), rig.body.live_off, lambda: rig.body.nudge_focus(1)):
        with pytest.raises(BusyError):
            ask()
    rig.body.close_shutter()
    rig.wait(1.0)
    assert seen(rig).std() > 5


def test_the_focus_is_kept_with_the_body(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    sharp = differences(seen(rig))
    rig.body.nudge_focus(8)
    rig.body.leave()
    assert differences(seen(Rig(tmp_path, world()))) < 0.7 * sharp
