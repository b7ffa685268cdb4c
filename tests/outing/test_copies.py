"""A second copy: whole or named, what stands there already left, and nothing in the outing touched."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

import pytest

from tether.errors import PlanError
from tether.files.tiles import TILES_END
from tether.journal.store import JOURNAL_NAME
from tether.outing.copies import copy_outing

FRAME = "frames/weir_L1_R01_0001.dng"


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    folder = tmp_path / "weir"
    for name, data in {
        FRAME: b"raw",
        "previews/weir_L1_R01_0001.jpg": b"small",
        "frames/.0-A.NEF.part": b"half",
        JOURNAL_NAME: b"truth",
        "run.json": b"{}",
        "camera/as-found.json": b"not of the outing's worth",
    }.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


def sums(data: bytes = b"raw") -> dict[str, str]:
    return {FRAME: sha256(data).hexdigest()}


def there(copy: Path) -> dict[str, bytes]:
    return {str(path.relative_to(copy)): path.read_bytes() for path in copy.rglob("*") if path.is_file()}


def test_frames_previews_and_what_lies_beside_them_are_copied_and_no_more(outing: Path, tmp_path: Path) -> None:
    copied = copy_outing(outing, tmp_path / "disk", sums())
    assert (copied.to, copied.files, copied.problems) == (tmp_path / "disk" / "weir", 4, ())
    assert there(copied.to) == {
        FRAME: b"raw",
        "previews/weir_L1_R01_0001.jpg": b"small",
        JOURNAL_NAME: b"truth",
        "run.json": b"{}",
    }


def test_a_frame_that_is_no_longer_what_came_from_the_camera_is_named_and_not_copied(
    outing: Path, tmp_path: Path
) -> None:
    copied = copy_outing(outing, tmp_path / "disk", sums(b"as it came"))
    assert copied.files == 3
    (problem,) = copied.problems
    assert problem.startswith(f"{outing / FRAME} is no longer what came from the camera, and is not copied")
    assert FRAME not in there(copied.to)


def test_what_stands_there_as_it_should_is_left_and_what_does_not_is_copied_anew(outing: Path, tmp_path: Path) -> None:
    copied = copy_outing(outing, tmp_path / "disk", sums())
    stands = (copied.to / FRAME).stat().st_ino
    (copied.to / JOURNAL_NAME).write_bytes(b"an older truth")
    again = copy_outing(outing, tmp_path / "disk", sums())
    assert again.files == 4
    assert (copied.to / FRAME).stat().st_ino == stands
    assert (copied.to / JOURNAL_NAME).read_bytes() == b"truth"


def test_a_frame_there_that_is_another_is_left_and_named(outing: Path, tmp_path: Path) -> None:
    """Nobody knows which of the two is wanted: nothing that is called a frame is ever written over."""
    copied = copy_outing(outing, tmp_path / "disk", sums())
    (copied.to / FRAME).write_bytes(b"spoilt")
    again = copy_outing(outing, tmp_path / "disk", sums())
    assert again.problems == (
        f"{copied.to / FRAME} is another file, and is left as it is. Move it away, then copy again.",
    )
    assert (copied.to / FRAME).read_bytes() == b"spoilt"
    assert [path.name for path in (copied.to / "frames").iterdir()] == [Path(FRAME).name]


def test_sidecars_and_choices_are_brought_up_to_date(outing: Path, tmp_path: Path) -> None:
    sidecar, choices = Path(FRAME).with_suffix(".xmp"), Path("choices.toml")
    for text in ("as it was", "anew"):
        for name in (sidecar, choices):
            (outing / name).write_text(text)
        copied = copy_outing(outing, tmp_path / "disk", sums())
        assert (copied.files, copied.problems) == (6, ())
    assert [(copied.to / name).read_text() for name in (sidecar, choices)] == ["anew", "anew"]


def test_tiles_that_are_made_anew_at_any_time_are_not_copied(outing: Path, tmp_path: Path) -> None:
    (outing / "previews" / f"{Path(FRAME).stem}{TILES_END}").write_bytes(b"large")
    assert copy_outing(outing, tmp_path / "disk", sums()).files == 4


@pytest.mark.parametrize("under", [".", "weir", "weir/frames"])
def test_a_copy_in_the_outing_itself_is_refused(outing: Path, under: str) -> None:
    with pytest.raises(PlanError, match="the copy would lie in the outing itself"):
        copy_outing(outing, outing.parent / under, {})
    assert not (outing / "weir").exists()
