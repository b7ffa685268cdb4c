"""Crops of an outing's frames: from the raw file and from prepared tiles alike, by place, size and step."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.page.choosing import HEIGHT, WIDTH, draw
from tether.errors import TetherError
from tether.report import crops as crops_module
from tether.report.crops import Crops
from tether.report.crops_asked import Crop, Shown, Survey, asked_of, line_of, prepare_line

ONE = Shown(frame="frames/one.dng", base="frames/one.dng", gains=(1.0, 1.0, 1.0))


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("outing")
    for part in ("frames", "previews"):
        (folder / part).mkdir()
    for seed, name in enumerate(("one", "two", "three")):
        draw(folder / "frames" / f"{name}.dng", seed)
    return folder


def crop(centre: tuple[float, float], size: tuple[int, int], step: int, of: Shown = ONE) -> Crop:
    return Crop(of=of, centre=centre, size=size, step=step)


@pytest.mark.parametrize(
    ("asked", "rows", "columns"),
    [
        (crop((0.5, 0.5), (40, 30), 1), 30, 40),
        (crop((0.0, 0.0), (40, 30), 2), 30, 40),
        (crop((0.5, 0.5), (400, 400), 1), HEIGHT, WIDTH),  # no larger than there is
        (crop((0.3, 0.3), (100, 100), 0), HEIGHT // 2, WIDTH // 2),  # all of it, as large as fits
    ],
)
def test_a_crop_has_the_size_that_is_asked_for(outing: Path, asked: Crop, rows: int, columns: int) -> None:
    assert Crops(outing).crop(asked).shape == (rows, columns, 3)


def test_it_lies_where_it_is_asked_for(outing: Path) -> None:
    crops = Crops(outing)
    left, right = (crops.crop(crop((across, 0.5), (20, 20), 1)).mean() for across in (0.1, 0.9))
    assert right > left + 60  # the picture is bright at its right end


@pytest.mark.parametrize("step", [0, 1, 2, 4])
def test_prepared_it_is_the_same_picture(outing: Path, step: int) -> None:
    two = Shown(frame="frames/two.dng", base="frames/one.dng", gains=(1.0, 1.2, 1.0))
    asked = crop((0.6, 0.4), (24, 20), step, two)
    before = Crops(outing).crop(asked)
    prepared = Crops(outing)
    list(prepared.prepare(two))
    assert prepared.tiles(two).exists()
    after = prepared.crop(asked)
    assert after.shape == before.shape
    assert np.abs(after.astype(int) - before).mean() < 4
    prepared.tiles(two).unlink()


def test_shown_otherwise_since_it_is_not_taken_from_old_tiles(outing: Path) -> None:
    three = Shown(frame="frames/three.dng", base="frames/one.dng", gains=(1.0, 1.0, 1.0))
    crops = Crops(outing)
    list(crops.prepare(three))
    brighter = Shown(frame=three.frame, base=three.base, gains=(2.0, 2.0, 2.0))
    asked = ((0.5, 0.5), (20, 20), 1)
    assert crops.crop(crop(*asked, brighter)).mean() > crops.crop(crop(*asked, three)).mean() + 20


def test_on_a_disk_that_is_nearly_full_nothing_is_prepared(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(crops_module, "LEAST_FREE", 10**18)
    crops = Crops(outing)
    assert list(crops.prepare(ONE)) == []
    assert not crops.tiles(ONE).exists()


def test_a_frame_that_is_not_there_is_a_sentence(outing: Path) -> None:
    gone = Shown(frame="frames/gone.dng", base="frames/one.dng", gains=(1.0, 1.0, 1.0))
    with pytest.raises(TetherError, match=r"gone\.dng"):
        Crops(outing).crop(crop((0.5, 0.5), (20, 20), 1, gone))


def test_the_middle_of_a_region_is_where_it_is_deepest(outing: Path) -> None:
    cells = tuple("w" * 3 + "." * 5 if row < 6 else "r" * 8 for row in range(8))
    found = Crops(outing).survey(Survey(frame=ONE.frame, cells=cells, letters="wri"))
    assert found["size"] == (WIDTH, HEIGHT)
    across, down = found["middles"]["w"]
    assert across == pytest.approx(1.5 / 8)
    assert 1 / 8 < down < 5 / 8
    assert found["middles"]["i"] is None


@pytest.mark.parametrize(
    "asked",
    [crop((0.25, 0.5), (40, 30), 2), Survey(frame="frames/one.dng", cells=("wr", ".."), letters="wr")],
    ids=["crop", "survey"],
)
def test_a_request_arrives_as_it_was_sent(asked: Crop | Survey) -> None:
    assert asked_of(line_of(7, asked)) == (7, asked)
    assert asked_of(prepare_line([ONE])) == (0, (ONE,))


def test_its_process_answers_each_request_and_prepares_meanwhile(outing: Path) -> None:
    lines = prepare_line([ONE]) + line_of(1, crop((0.5, 0.5), (16, 16), 1))
    lines += line_of(2, crop((0.5, 0.5), (16, 16), 1, Shown(frame="no", base="no", gains=(1.0, 1.0, 1.0))))
    done = subprocess.run(
        [sys.executable, "-P", "-m", "tether.report.crops", str(outing)], input=lines, capture_output=True, check=True
    )
    first, second = (json.loads(line) for line in done.stdout.splitlines())
    assert (first["id"], "jpeg" in first) == (1, True)
    assert second["id"] == 2
    assert "can't be read" in second["problem"]
