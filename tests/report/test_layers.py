"""Two exposures for one print: a rehearsed ladder's frames as layers, read back by libtiff, held against the scene."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import binary_erosion

from tests.engine.rig import BASE, SIX, Worked, work, world
from tether.body.simulated.rendering import scene_of
from tether.errors import PlanError
from tether.files.exif import read_exif
from tether.report.layers import write_layers

PLAN = (
    BASE.replace("frames = 0", "frames = 2\nagain = false")
    + SIX
    + '[rungs]\ntimes = ["1/125", "1/2"]\nframes = 1\n[readings]\nregions = "as proposed"\ncorrect = "off"\n'
    + '[run]\ndark_frames = "none"\nproof = false\n'
)
#: A filter that takes half a stop more than it says, and of red less, of blue more: what is to be matched.
CAST = {"Calder 6": {"stops": 6.5, "cast_stops": (-0.3, 0.0, 0.2)}}


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Worked:
    return work(tmp_path_factory.mktemp("layers"), PLAN, truth=world(filters=CAST))


def numbers(worked: Worked) -> tuple[int, int]:
    """Return the frames of the water, half a second through the filter, and of the rest, without."""
    own = [one for one in worked.frames if one.kind == "rung"]
    return next(one.frame for one in own if one.filters), next(one.frame for one in own if not one.filters)


def linear(path: Path) -> NDArray[np.float64]:
    """Return a picture as libtiff reads it, in linear light (IEC 61966-2-1:1999)."""
    value = imagecodecs.tiff_decode(path.read_bytes()) / 65535
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def test_on_the_rock_they_are_one_picture(worked: Worked, tmp_path: Path) -> None:
    """By what the scene itself says is still, which the program does not know."""
    water, rest, mask = (
        linear(path) for path in write_layers(worked.folder, worked.told, *numbers(worked), tmp_path).files
    )
    scene = scene_of(worked.rehearsal.world, worked.rehearsal.ready.abilities.pitch_um)
    still, rock = scene.still, binary_erosion(scene.still, iterations=4)
    assert water.shape == rest.shape == (*still.shape, 3)
    for channel in range(3):
        assert water[rock, channel].mean() == pytest.approx(rest[rock, channel].mean(), rel=0.01)
    assert mask.shape == still.shape
    assert mask[binary_erosion(scene.wet, iterations=4)].mean() > 0.95
    assert mask[rock].mean() < 0.05


def test_what_was_matched_is_said_and_what_it_costs(worked: Worked, tmp_path: Path) -> None:
    """Green is 0.5 stop darker, red 0.2, blue 0.7; so both are made 0.7 stop darker, that nothing clips for it."""
    water, rest = numbers(worked)
    first, second, third = write_layers(worked.folder, worked.told, water, rest, tmp_path).sentences
    assert first == f"The water of frame {water} (0.500 s), all else of frame {rest} (1/125 s)."
    found = [float(word) for word in second.split() if word[0] == "+"]
    assert found == pytest.approx([0.5, 0.2, 0.7], abs=0.04)
    assert float(third.split()[2]) == pytest.approx(0.7, abs=0.04)


def test_each_says_what_it_was_taken_with(worked: Worked, tmp_path: Path) -> None:
    water, rest = numbers(worked)
    files = write_layers(worked.folder, worked.told, water, rest, tmp_path).files
    name = worked.folder.name
    assert [path.name for path in files] == [
        f"{name}_water-{water}.tif",
        f"{name}_rest-{rest}.tif",
        f"{name}_mask-{water}-{rest}.tif",
    ]
    said = [read_exif(path) for path in files[:2]]
    assert [one.time_s for one in said] == pytest.approx([0.5, 1 / 125], rel=0.03)
    assert said[0].description == f"Frame {water}, 0.500 s"
    assert said[0].taken_at is not None


def test_frames_that_are_none_or_have_no_regions_are_sentences(worked: Worked, tmp_path: Path) -> None:
    water, rest = numbers(worked)
    with pytest.raises(PlanError, match="Frame 99: no file of such a frame is in this outing"):
        write_layers(worked.folder, worked.told, 99, rest, tmp_path)
    bare = replace(worked.told, ladders=(replace(worked.ladder, regions=None),))
    with pytest.raises(PlanError, match="has no regions"):
        write_layers(worked.folder, bare, water, rest, tmp_path)
    two = replace(worked.ladder, ladder=2, frames=tuple(replace(one, ladder=2, frame=50) for one in worked.frames[:1]))
    with pytest.raises(PlanError, match="are of two ladders"):
        write_layers(worked.folder, replace(worked.told, ladders=(worked.ladder, two)), 50, rest, tmp_path)
    assert list(tmp_path.iterdir()) == []
