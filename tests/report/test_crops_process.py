"""The process that makes crops, asked one thing after another."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from tests.page.choosing import HEIGHT, WIDTH, draw
from tether.errors import LostError
from tether.report.crops_asked import Crop, Shown, Survey
from tether.report.crops_process import CropsProcess


def test_it_answers_tells_what_it_cannot_read_and_is_missed_when_it_has_ended(tmp_path: Path) -> None:
    (tmp_path / "frames").mkdir()
    draw(tmp_path / "frames" / "one.dng", 1)
    there = Shown(frame="frames/one.dng", base="frames/one.dng", gains=(1.0, 1.0, 1.0))
    gone = Shown(frame="frames/gone.dng", base="frames/one.dng", gains=(1.0, 1.0, 1.0))
    with CropsProcess(tmp_path) as process:
        seen = process.survey(Survey(frame=there.frame, cells=(), letters="w"))
        assert seen is not None
        assert seen["size"] == [WIDTH, HEIGHT]
        assert process.survey(Survey(frame=gone.frame, cells=(), letters="w")) is None
        jpeg = process.crop(Crop(of=there, centre=(0.5, 0.5), size=(30, 20), step=1))
        assert jpeg is not None
        assert Image.open(io.BytesIO(jpeg)).size == (30, 20)
        assert process.crop(Crop(of=gone, centre=(0.5, 0.5), size=(30, 20), step=1)) is None
        process._process.kill()
        process._process.wait()
        with pytest.raises(LostError, match="The process that makes pictures of frames has ended; what it said last"):
            process.crop(Crop(of=there, centre=(0.5, 0.5), size=(30, 20), step=1))
