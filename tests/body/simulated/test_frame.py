"""The file of an exposure: what it tells of the shot, of who made it, and the picture inside for a quick look."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.body.simulated.rig import Rig, world
from tests.files.previews import read_preview
from tether.body.protocol import Identity
from tether.body.simulated.frame import identity_of
from tether.body.simulated.world import LensTruth, World
from tether.files.exif import read_exif


def test_who_it_is_tells_one_world_from_another_and_its_lens() -> None:
    assert identity_of(World(seed=7, lens=LensTruth(focal_mm=50.0))) == Identity(
        model="Simulated body", serial="SIM7", firmware="1.0", lens="Simulated 50 mm", simulated=True
    )


@pytest.mark.parametrize(("told", "expected_s"), [("open", 33.0), ("label", 32.0)])
def test_exif_tells_the_time_open_or_the_label(tmp_path: Path, told: str, expected_s: float) -> None:
    rig = Rig(tmp_path, world(exif_time=told, true_times_s={"30": 33.0}))
    rig.shoot("30", "f/16", "200")
    exif = read_exif(rig.folder / "SIM_0001.DNG")
    assert exif.time_s == pytest.approx(expected_s, rel=1e-6)
    assert (exif.aperture, exif.iso, exif.model) == (16.0, 200.0, "Simulated body")


def test_a_frame_has_a_picture_of_half_its_size_inside_neither_dark_nor_bright(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    rig.set("1/60")
    rig.body.take()
    size = rig.body.fetch(rig.newest(), tmp_path / "frame.dng")
    assert size == (tmp_path / "frame.dng").stat().st_size
    preview = read_preview(tmp_path / "frame.dng")
    assert preview.shape == (100, 150, 3)
    assert 60 < preview.mean() < 140
