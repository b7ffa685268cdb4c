"""A rung's frames averaged into a raw file: which are taken, what the file says, what is said of it."""

from __future__ import annotations

import json
import subprocess
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import rawpy

from tests.journal.outings import weir, write_outing
from tests.page.choosing import BLACK as DRAWN_BLACK
from tests.page.choosing import HEIGHT, WIDTH, draw
from tests.page.choosing import WHITE as DRAWN_WHITE
from tether.errors import PlanError
from tether.files.exif import read_exif
from tether.files.raw import RawFrame, RawHeader, read_raw, read_with_header
from tether.frames.averaging import BLACK, WHITE
from tether.journal.story import LadderStory
from tether.journal.telling import read_outing
from tether.report.averages import average_rung
from tether.report.choosing import file_of


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    for part in ("frames", "previews"):
        (tmp_path / part).mkdir()
    write_outing(tmp_path, weir())
    for frame in ladder_of(tmp_path).frames:
        draw(tmp_path / (file_of(frame) or ""), frame.frame)
    return tmp_path


def ladder_of(outing: Path) -> LadderStory:
    return read_outing(outing).ladders[0]


def test_libraw_reads_it_and_it_is_the_mean(outing: Path) -> None:
    done = average_rung(outing, ladder_of(outing), 2, outing / "mean.dng")
    assert (done.frames, done.darks) == (2, 0)
    with rawpy.imread(str(outing / "mean.dng")) as raw:
        mosaic = raw.raw_image_visible.astype(np.float64)
        assert (raw.white_level, raw.black_level_per_channel[0]) == (WHITE, BLACK)
    both = [read_raw(outing / (file_of(one) or "")) for one in ladder_of(outing).frames if one.rung == 2]
    mean = np.mean([(one.mosaic - one.black[0]) / (one.white - one.black[0]) for one in both], axis=0)
    assert mosaic.shape == (HEIGHT, WIDTH)
    assert np.abs((mosaic - BLACK) / (WHITE - BLACK) - mean).max() < 2e-5


def test_every_frame_is_decoded_once(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read: Counter[str] = Counter()
    decode = rawpy.imread

    def counted(path: str) -> rawpy.RawPy:
        read[Path(path).name] += 1
        return decode(path)

    monkeypatch.setattr("tether.files.raw.rawpy.imread", counted)
    average_rung(outing, ladder_of(outing), 2, outing / "mean.dng")
    assert list(read.values()) == [1, 1]


def test_grey_stays_grey_where_red_clips_lower_than_green(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By LibRaw's own development, balanced as the files say: as of the frames themselves, but for the brightness."""
    plain = average_rung(outing, ladder_of(outing), 2, outing / "plain.dng")
    decoded = read_with_header

    def by_channel(path: Path) -> tuple[RawFrame, RawHeader]:
        frame, header = decoded(path)
        return replace(frame, whites={"R": 12000, "G": frame.white, "B": frame.white}), header

    monkeypatch.setattr("tether.report.averages.read_with_header", by_channel)
    assert average_rung(outing, ladder_of(outing), 2, outing / "mean.dng") == plain
    one, other = (developed(outing / name) for name in ("plain.dng", "mean.dng"))
    assert np.abs(one - other).max() < 0.01
    with rawpy.imread(str(outing / "mean.dng")) as raw:
        red, green = raw.camera_whitebalance[0], raw.camera_whitebalance[1]
    assert red / green == pytest.approx(2 * (12000 - DRAWN_BLACK) / (DRAWN_WHITE - DRAWN_BLACK), rel=1e-3)


def developed(path: Path) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    with rawpy.imread(str(path)) as raw:
        linear = raw.postprocess(use_camera_wb=True, no_auto_bright=True, gamma=(1, 1), output_bps=16, half_size=True)
    return np.asarray(linear / 65535)


def test_its_exif_has_the_summed_time(outing: Path) -> None:
    average_rung(outing, ladder_of(outing), 2, outing / "mean.dng")
    said = read_exif(outing / "mean.dng")
    assert said.time_s == pytest.approx(2 / 8)
    assert said.model == "Drawn"
    assert said.description == "Mean of 2 frames of 1/8 s"


def test_what_it_equals_is_said(outing: Path) -> None:
    first, *_ = average_rung(outing, ladder_of(outing), 2, outing / "mean.dng").sentences
    assert first == "2 frames of 1/8 s: as bright as one of them, with 1/1.4 of its noise; the water of 1/4 s of light."


def test_a_frame_that_does_not_count_is_left_out(outing: Path) -> None:
    ladder = ladder_of(outing)
    frames = tuple(replace(one, void=one.frame == 3) for one in ladder.frames)
    with pytest.raises(PlanError, match="Rung 2 has 1 frame to average; it takes two or more of one exposure"):
        average_rung(outing, replace(ladder, frames=frames), 2, outing / "mean.dng")


def test_what_is_not_known_of_its_frames_is_not_made_up(outing: Path) -> None:
    """A lens without contacts tells no aperture; of a frame that a dead run left nobody knows when it was opened."""
    ladder = ladder_of(outing)
    dark = {"aperture": None, "aperture_label": None}
    frames = tuple(
        replace(
            one,
            opened_utc=None,
            read_back=None,
            asked=replace(one.asked, **dark),
            exif=one.exif and replace(one.exif, **dark),
        )
        for one in ladder.frames
    )
    average_rung(outing, replace(ladder, frames=frames), 2, outing / "mean.dng")
    said = read_exif(outing / "mean.dng")
    assert said.aperture is None
    assert said.taken_at == datetime(2026, 10, 3, 18, 4, 5, tzinfo=UTC)  # as the first raw file says


def test_a_clock_that_was_set_back_between_frames_tells_no_span(outing: Path) -> None:
    """By wall time the last frame opened an hour before the first."""
    ladder = ladder_of(outing)
    last = max(one.frame for one in ladder.frames if one.rung == 2)
    opened = {last: "2026-10-03T05:00:00+00:00"}
    frames = tuple(replace(one, opened_utc=opened.get(one.frame, one.opened_utc)) for one in ladder.frames)
    done = average_rung(outing, replace(ladder, frames=frames), 2, outing / "mean.dng")
    assert [one for one in done.sentences if "spread" in one] == []
    assert read_exif(outing / "mean.dng").time_s == pytest.approx(2 / 8)


def test_it_lies_as_its_frames_do(outing: Path) -> None:
    """Turned left by a quarter: 8 to Exif, 5 to LibRaw."""
    for one in ladder_of(outing).frames:
        draw(outing / (file_of(one) or ""), one.frame, orientation=8)
    average_rung(outing, ladder_of(outing), 2, outing / "mean.dng")
    with rawpy.imread(str(outing / "mean.dng")) as raw:
        assert raw.sizes.flip == 5


def test_a_rung_without_frames_is_a_sentence(outing: Path) -> None:
    with pytest.raises(PlanError, match="Rung 7 has 0 frames to average"):
        average_rung(outing, ladder_of(outing), 7, outing / "mean.dng")


@pytest.mark.prove
def test_exiftool_reads_what_it_is_made_of(outing: Path) -> None:
    average_rung(outing, ladder_of(outing), 2, outing / "mean.dng")
    told = subprocess.run(
        ["/usr/bin/exiftool", "-j", "-n", "-G1", str(outing / "mean.dng")], capture_output=True, check=True
    )
    (tags,) = json.loads(told.stdout)
    assert tags["ExifIFD:CompositeImage"] == 2
    assert tags["ExifIFD:CompositeImageCount"] == "2 2"
    assert tags["ExifIFD:ExposureTime"] == 0.25
    times = [float(one) for one in tags["ExifIFD:CompositeImageExposureTimes"].split()]
    assert times[1:3] == [0.25, 0.25]
    assert times[-2:] == [0.125, 0.125]
