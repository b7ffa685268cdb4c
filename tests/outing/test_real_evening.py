"""After the evening, on a real raw file of 18 megapixels: sidecars, picks, an average, the sheet; read by others.

Every frame of the outing is that one file (`tests/data/raw_files.csv`), so an average must be as bright as it is.
"""

from __future__ import annotations

import json
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
import rawpy
import tifffile
from numpy.typing import NDArray
from PIL import Image

from tests.files.test_outside_readers import said
from tests.frames.real_files import real_arw
from tests.journal.outings import weir, write_outing
from tether.journal.records import FetchOutcome, RegionsSet
from tether.journal.telling import read_outing
from tether.outing.picks import copy_picks
from tether.report.averages import average_rung
from tether.report.choices import Choice, choose, read_choices
from tether.report.layers import write_layers
from tether.report.sheet import make_sheet
from tether.report.sidecars import write_sidecars
from tether.report.strip_picture import make_strip

pytestmark = [pytest.mark.prove, pytest.mark.timeout(600)]


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The evening at the weir, each of its files the real one."""
    folder = tmp_path_factory.mktemp("real") / "weir"
    real = real_arw()
    digest = sha256(real.read_bytes()).hexdigest()
    records = [
        replace(one, name=str(Path(one.name).with_suffix(".arw")), sha256=digest)
        if isinstance(one, FetchOutcome) and one.name
        else one
        for one in weir()
    ]
    records.append(RegionsSet(ladder=1, source="given", cells=("w" * 36 + "r" * 36,) * 48))
    (folder / "frames").mkdir(parents=True)
    write_outing(folder, records)
    for frame in read_outing(folder).ladders[0].frames:
        for file in frame.files:
            (folder / file.name).symlink_to(real)
    choose(folder, 8, Choice(verdict="keep", note="the long one"))
    return folder


def exiftool(path: Path, *tags: str) -> dict[str, object]:
    found: dict[str, object] = json.loads(said("exiftool", "-json", "-n", *(f"-{tag}" for tag in tags), path))[0]
    return found


def developed(path: Path) -> NDArray[np.float64]:
    """Return a picture as LibRaw develops it by the file's own white balance, linear, at half size (0 to 1)."""
    with rawpy.imread(str(path)) as raw:
        shown = raw.postprocess(
            half_size=True, use_camera_wb=True, no_auto_bright=True, gamma=(1, 1), output_bps=16, user_flip=0
        )
    return shown.astype(np.float64) / 65535


def test_sidecars_and_picks_of_it_are_read_by_others_and_it_stays_as_it_is(outing: Path, tmp_path: Path) -> None:
    told, choices = read_outing(outing), read_choices(outing)
    assert write_sidecars(outing, told, choices).problems == ()
    picked = copy_picks(outing, told, choices, tmp_path / "picks", frozenset({"keep"}))
    assert (picked.copied, picked.problems) == ((8,), ())
    (raw,) = (tmp_path / "picks").glob("*.arw")
    assert sha256(raw.read_bytes()).hexdigest() == sha256(real_arw().read_bytes()).hexdigest()
    read = exiftool(raw.with_suffix(".xmp"), "XMP-xmp:Rating", "XMP-dc:Description", "XMP-exif:ExposureTime")
    assert read["Rating"] == 5
    assert "the long one" in str(read["Description"])
    assert "Xmp.xmp.Rating" in said("exiv2", "-px", "pr", raw.with_suffix(".xmp"))


def test_an_average_of_it_is_developed_by_libraw_as_it_is_itself(outing: Path, tmp_path: Path) -> None:
    mean = tmp_path / "mean.dng"
    average_rung(outing, read_outing(outing).ladders[0], 2, mean)
    with rawpy.imread(str(real_arw())) as one, rawpy.imread(str(mean)) as other:
        assert one.raw_image_visible.shape == other.raw_image_visible.shape
        patterns = [[raw.color_desc[colour] for colour in raw.raw_colors[:2, :2].flat] for raw in (one, other)]
        assert patterns[0] == patterns[1]
    itself, averaged = developed(real_arw()), developed(mean)
    assert averaged.shape == itself.shape
    # The average is white where the file says that channels clip (15360), LibRaw takes the file's own to be white at
    # 16383, black at 512 (tests/data/raw_numbers.csv): so much brighter, alike in all channels.
    brighter = (16383 - 512) / (15360 - 512)
    clear = itself.max(axis=2) < 0.9
    for channel in range(3):
        ratio = averaged[..., channel][clear].mean() / itself[..., channel][clear].mean()
        assert ratio == pytest.approx(brighter, abs=0.005)
    read = exiftool(mean, "CompositeImage", "CompositeImageCount", "ExposureTime", "Model")
    assert (read["CompositeImage"], read["CompositeImageCount"]) == (2, "2 2")
    assert read["Model"] == exiftool(real_arw(), "Model")["Model"]


def test_strip_sheet_and_layers_of_it_are_pictures_of_it(outing: Path, tmp_path: Path) -> None:
    """All frames are one: every crop of the strip is alike, and the layers match by one and the same factor."""
    make_strip(outing, 1, tmp_path / "strip.png", rungs=[1, 2])
    with Image.open(tmp_path / "strip.png") as strip:
        assert np.asarray(strip.convert("L")).std() > 10
    make_sheet(outing, 1, tmp_path / "sheet.html")
    assert (tmp_path / "sheet.html").read_text().count("data:image/jpeg") >= 7
    told = read_outing(outing)
    write_layers(outing, told, 8, 3, tmp_path / "layers")
    itself = developed(real_arw())
    for path in (tmp_path / "layers").glob("*.tif*"):
        layer = tifffile.imread(path)
        assert layer.dtype == np.uint16
        assert layer.shape[:2] == tuple(2 * side for side in itself.shape[:2])
    water, rest = (
        tifffile.imread(one).astype(float)
        for one in sorted((tmp_path / "layers").glob("*.tif*"))
        if "mask" not in one.name
    )
    assert np.median(water) == pytest.approx(np.median(rest), rel=0.001)
