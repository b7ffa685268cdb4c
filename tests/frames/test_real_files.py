"""Real raw files: levels and noise against numbers read from them by other means, and sentences for the damaged ones.

The numbers are from `tests/data/raw_numbers.csv`: read with rawpy 0.28.0, and with tifffile and imagecodecs.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.data import rows
from tests.files.conftest import SENSOR, SHOT
from tests.frames.real_files import FILES, colour_chart, landscape, real_arw, real_file
from tether.files.dng import write_dng
from tether.files.errors import UnreadableFileError
from tether.files.raw import RawFrame, read_raw
from tether.frames.asked import FrameAnswer, FrameAsked
from tether.frames.levels import Histogram, clip_level, histograms, level_exceeded_by, levels, levels_of
from tether.frames.mosaic import planes
from tether.frames.noise import Noise, noise_between
from tether.frames.reading import answer, read_frame

# The first of them waits for downloads of 150 MB.
pytestmark = [pytest.mark.prove, pytest.mark.timeout(600)]
_ARW, _LANDSCAPE = "_DSC2164.ARW", "03_jxl_bayer_raw_integer.dng"


def numbers(file: str) -> dict[str, str]:
    return {row["quantity"]: row["value"] for row in rows("raw_numbers") if row["file"] == file}


def mean(one: Histogram) -> float:
    return float((one.counts * np.arange(len(one.counts))).sum() / one.counts.sum())


def every(found: tuple[Histogram, ...]) -> Histogram:
    """Return all four places counted as one."""
    counts = np.zeros(max(len(one.counts) for one in found), dtype=np.int64)
    for one in found:
        counts[: len(one.counts)] += one.counts
    return Histogram(channel="G", counts=counts, black=found[0].black)


@pytest.fixture(scope="module")
def river() -> RawFrame:
    return landscape()


def test_a_real_mosaic_gives_the_listed_numbers() -> None:
    listed = numbers(_ARW)
    frame = read_raw(real_arw())
    assert " x ".join(map(str, frame.mosaic.shape)) == listed["visible_shape"]
    assert frame.white == int(listed["white_level"])
    assert [int(frame.mosaic.min()), int(frame.mosaic.max())] == [int(listed["raw_min"]), int(listed["raw_max"])]
    found = histograms(frame)
    # The table's order is colour index 0 1 2 3: red, green, blue, green; the mosaic's is R G G B.
    places = [found[place] for place in (0, 1, 3, 2)]
    assert [mean(one) for one in places] == pytest.approx(
        [float(one) for one in listed["mean_R_G1_B_G2"].split()], abs=1e-3
    )
    tops = [level_exceeded_by(one, 0.001) for one in places]
    assert tops == [int(one) for one in listed["p99.9_R_G1_B_G2"].split()]
    assert level_exceeded_by(every(found), 0.001) == int(listed["p99.9_all"])
    camera_white = int(listed["camera_white_level_per_channel"].split()[0])
    assert [int(one.counts[camera_white:].sum()) for one in places] == [
        int(one) for one in listed["count_ge_15360_R_G1_B_G2"].split()
    ]
    clipped = levels_of(found, camera_white)
    assert clipped.clipped_share * places[3].counts.sum() == pytest.approx(92)
    # Most of the clipped blue pixels share one level below the white level of the file.
    assert clip_level(found, frame.white) == 16372
    assert int(found[3].counts[16372]) > 32


def test_a_real_landscape_gives_the_listed_numbers(river: RawFrame) -> None:
    listed = numbers(_LANDSCAPE)
    found = histograms(river)
    assert [mean(one) for one in found] == pytest.approx(
        [float(one) for one in listed["mean_R_G1_G2_B"].split()], abs=1e-2
    )
    assert len(every(found).counts) - 1 == int(listed["crop_max"])
    assert level_exceeded_by(every(found), 0.001) == int(listed["p99.9_all"])
    # Nothing clips, and nothing passes for clipping.
    assert clip_level(found, river.white) == river.white
    room = levels_of(found, river.white)
    assert room.clipped_share == 0
    assert room.headroom_stops is not None
    # The greens are the brightest: they have less room than all places together, and more than the brightest pixel.
    assert float(listed["stops_max_below_white"]) < room.headroom_stops < float(listed["stops_p99.9_below_white"])


def test_a_real_landscape_is_read_from_a_file_as_from_the_array(river: RawFrame, tmp_path: Path) -> None:
    path = tmp_path / "river.dng"
    write_dng(path, river.mosaic, shot=SHOT, sensor=SENSOR, preview=np.zeros((20, 30, 3), dtype=np.uint8))
    read, found = read_frame(path).frame, levels(river)
    assert read is not None
    assert read.headroom_stops == found.headroom_stops
    assert {name: one.mean for name, one in read.channels.items()} == {
        name: one.mean for name, one in found.channels.items()
    }


def test_noise_of_a_real_landscape_is_what_its_maker_says(river: RawFrame) -> None:
    """The file's NoiseProfile for green; found in one frame, between a green and the mean of the four around it.

    The picture has detail nearly everywhere, and detail can only add: 17 % here. How noisy black is can't be told
    from a picture without anything dark.
    """
    shot, floor = (float(one) for one in numbers(_LANDSCAPE)["noise_profile_S_O"].split(";")[1].split())
    way = river.white - river.black[1]
    said = Noise(gain=shot * way, read=floor**0.5 * way)
    one, other = (plane.values.astype(np.float32) - plane.black for plane in planes(river) if plane.channel == "G")
    around = (other[:-1, :-1] + other[1:, :-1] + other[:-1, 1:] + other[1:, 1:]) / 4
    # The difference has 1 + 1/4 of a pixel's variance, where that of two frames has 2.
    found = noise_between(one[1:, :-1], around).gain * 2 / 1.25
    assert 0.95 * said.gain < found < 1.25 * said.gain


def test_a_real_mosaic_whose_numbers_have_gaps_does_not_pass_for_clipped() -> None:
    """Its ten bits are stored in steps of four; where it is made to clip, that is found all the same."""
    chart = colour_chart()
    assert (int(chart.mosaic.min()), int(chart.mosaic.max())) == (240, 2020)
    found = histograms(chart)
    assert clip_level(found, chart.white) == chart.white
    assert levels(chart).clipped_share == 0
    greens = [mean(one) for one in found if one.channel == "G"]
    assert greens[0] == pytest.approx(greens[1], rel=0.002)
    brighter = np.minimum(chart.black[0] + 4 * (chart.mosaic.astype(np.int64) - 256), 4000).clip(0)
    clipped = RawFrame(mosaic=brighter.astype(np.uint16), pattern="RGGB", black=chart.black, white=chart.white)
    assert clip_level(histograms(clipped), clipped.white) == 4000
    assert levels(clipped).headroom_stops is None


@pytest.mark.parametrize("name", [name for name, row in FILES.items() if row["says"] != "read"])
def test_what_can_not_be_read_is_one_sentence(name: str) -> None:
    path = real_file(name)
    with pytest.raises(UnreadableFileError) as refused:
        read_raw(path)
    sentence = str(refused.value)
    assert sentence.startswith(str(path))
    assert FILES[name]["says"] in sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert answer(FrameAsked(path=path)) == FrameAnswer(problem=sentence)
