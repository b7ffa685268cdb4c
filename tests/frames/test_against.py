"""Levels of the still parts against the base: through filters, beside water and leaves, with light leaking in."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.frames.scenes import Scene
from tether.files.errors import UnreadableFileError
from tether.frames.against import Against, boiled_down, cells_of, compared, rock_clips
from tether.frames.levels import clip_level, histograms
from tether.frames.regions import given, proposed


def base_of(scene: Scene) -> Against:
    frames = [scene.frame(), scene.frame()]
    clips_at = clip_level(histograms(frames[0]), frames[0].white)
    return boiled_down(frames, proposed(*frames), clips_at, aperture=11.3, pitch_um=4.35, time_s=1 / 64)


@pytest.mark.parametrize(("true", "cast"), [(9.7, (0.0, 0.0, 0.0)), (10.37, (-0.2, 0.0, 0.3))])
def test_a_filter_is_seen_to_a_hundredth_of_a_stop(
    tmp_path: Path, true: float, cast: tuple[float, float, float]
) -> None:
    scene = Scene(tmp_path, filters={"Calder": {"stops": true, "cast_stops": cast}})
    against = base_of(scene)
    scene.fit("Calder", 10.0)
    found = compared(cells_of(scene.frame("15"), against.clips_at), against)  # 16 s: ten stops longer
    assert found is not None
    assert found.brighter_stops["G"] == pytest.approx(10 - true, abs=0.01)
    assert found.brighter_stops["R"] == pytest.approx(10 - true - cast[0], abs=0.02)
    assert found.brighter_stops["B"] == pytest.approx(10 - true - cast[2], abs=0.02)
    assert found.uncertainty_stops < 0.01
    assert found.lifted_share == 0


def test_light_past_the_filter_lifts_the_shadows(tmp_path: Path) -> None:
    """The mean of the still rocks is an eighth of 50 000 electrons in 16 s; 60 a second are about a sixth of that."""
    scene = Scene(tmp_path, filters={"Calder": {"stops": 10.0, "cast_stops": (0, 0, 0)}}, leak_e_s=60.0)
    against = base_of(scene)
    scene.fit("Calder", 10.0)
    found = compared(cells_of(scene.frame("15"), against.clips_at), against)
    assert found is not None
    assert 0.05 < found.lifted_share < 0.3


def test_too_dark_a_frame_has_no_level(tmp_path: Path) -> None:
    scene = Scene(tmp_path)
    against = base_of(scene)
    scene.fit("Calder", 16.0)
    assert compared(cells_of(scene.frame("1/500"), against.clips_at), against) is None
    assert compared(cells_of(scene.frame("1"), against.clips_at), against) is None, "all white"


@pytest.mark.parametrize(("time", "clips"), [("1/60", False), ("1/15", False), ("1/4", True), ("1", True)])
def test_rock_of_which_most_is_clipped_is_said_to_be(tmp_path: Path, time: str, clips: bool) -> None:
    """It is an eighth of the way to clipping in the base: half of it two stops brighter, twice it with four."""
    scene = Scene(tmp_path)
    against = base_of(scene)
    cells = cells_of(scene.frame(time), against.clips_at)
    assert rock_clips(cells, against) is clips
    found = compared(cells, against)
    assert found is None or (found.uncertainty_stops >= 0.2) is clips, "its darkest cells alone are hardly a measure"


def test_what_is_kept_comes_back_as_it_was(tmp_path: Path) -> None:
    kept = base_of(Scene(tmp_path, window_px=(600, 400)))
    assert kept.still is not None
    bare = replace(kept, regions=given([]), still=None)
    for one in (kept, bare):
        one.save(tmp_path / "kept.npz")
        back = Against.load(tmp_path / "kept.npz")
        assert (back.regions, back.clips_at, back.aperture, back.pitch_um) == (
            *(one.regions, one.clips_at),
            *(one.aperture, one.pitch_um),
        )
        np.testing.assert_array_equal(back.cells, one.cells)
        assert (back.still is None) == (one.still is None)
        if back.still is not None:
            np.testing.assert_array_equal(back.still.green, kept.still.green)


@pytest.mark.parametrize("content", [b"", b"not a zip", None])
def test_what_is_damaged_is_told(tmp_path: Path, content: bytes | None) -> None:
    path = tmp_path / "kept.npz"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(UnreadableFileError, match=r"kept\.npz"):
        Against.load(path)
