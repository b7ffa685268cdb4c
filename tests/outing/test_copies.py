"""A second copy of an outing: raw files are held against the journal, what may be newer is brought up to date."""

from __future__ import annotations

from pathlib import Path

import pytest

from tether.outing.copies import copy_outing


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    folder = tmp_path / "weir"
    (folder / "frames").mkdir(parents=True)
    for name, text in (("frames/a.dng", "raw"), ("frames/a.xmp", "old"), ("choices.toml", "# chosen")):
        (folder / name).write_text(text)
    return folder


def test_sidecars_and_choices_are_brought_up_to_date(outing: Path, tmp_path: Path) -> None:
    copy_outing(outing, tmp_path / "second", {})
    (outing / "frames" / "a.xmp").write_text("new")
    (outing / "choices.toml").write_text("# chosen anew")
    copied = copy_outing(outing, tmp_path / "second", {})
    assert (copied.files, copied.problems) == (3, ())
    assert (copied.to / "frames" / "a.xmp").read_text() == "new"
    assert (copied.to / "choices.toml").read_text() == "# chosen anew"


def test_a_raw_file_that_is_another_there_is_left_and_told(outing: Path, tmp_path: Path) -> None:
    copied = copy_outing(outing, tmp_path / "second", {})
    (copied.to / "frames" / "a.dng").write_text("another")
    again = copy_outing(outing, tmp_path / "second", {})
    assert again.problems == (
        f"{copied.to}/frames/a.dng is another file, and is left as it is. Move it away, then copy again.",
    )
    assert (copied.to / "frames" / "a.dng").read_text() == "another"
    assert {path.name for path in (copied.to / "frames").iterdir()} == {"a.dng", "a.xmp"}
