"""A rehearsed frame, as it lies in the outing, read by programs that know nothing of ours."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, TEN, work
from tests.files.test_outside_readers import said

pytestmark = pytest.mark.prove


def test_a_held_frame_is_read_without_complaint_and_tells_the_time_really_open(tmp_path: Path) -> None:
    worked = work(tmp_path, BASE + '[rungs]\ntimes = ["2m"]\n[run]\nproof = false\n' + SIX + TEN)
    (frame,) = worked.frames
    path = worked.folder / frame.files[0].name
    assert said("exiftool", "-validate", "-warning", "-error", "-a", "-s3", path) == "OK"
    open_s = float(said("exiftool", "-s3", "-n", "-ExposureTime", path))
    assert open_s == pytest.approx(128, abs=0.02)
    assert frame.exif is not None
    assert open_s == pytest.approx(frame.exif.time_s)
    assert "Exif.Photo.ExposureTime" in said("exiv2", "-PEkv", path)
