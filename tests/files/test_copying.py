"""Files copied to a second disk: the same as they came; what is there is left; a disk that goes is no disk any more."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import pytest

from tether.files.copying import AskedCopy, CopyAnswer, SecondDisk, is_apart

FRAME = "frames/weir_L1_R01_0001.dng"
ASKED = AskedCopy(name=FRAME, sha256=sha256(b"raw").hexdigest())


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    for folder in ("weir/frames", "disk"):
        (tmp_path / folder).mkdir(parents=True)
    (tmp_path / "weir" / FRAME).write_bytes(b"raw")
    return tmp_path / "weir"


@pytest.fixture
def disk(outing: Path, tmp_path: Path) -> SecondDisk:
    return SecondDisk(outing, tmp_path / "disk")


def test_a_frame_is_copied_under_the_outing_s_name_and_nothing_is_left_beside_it(
    disk: SecondDisk, tmp_path: Path
) -> None:
    assert disk.copied(ASKED) == CopyAnswer(name=FRAME)
    assert [path.read_bytes() for path in (tmp_path / "disk" / "weir" / "frames").iterdir()] == [b"raw"]


def test_a_copy_that_is_there_is_left(disk: SecondDisk) -> None:
    disk.copied(ASKED)
    stands = (disk.to / FRAME).stat().st_ino
    for copied in (False, True):
        assert disk.copied(AskedCopy(name=FRAME, sha256=ASKED.sha256, copied=copied)).problem is None
    assert (disk.to / FRAME).stat().st_ino == stands


def test_one_that_was_copied_before_and_is_gone_or_cut_short_is_seen(disk: SecondDisk) -> None:
    before = AskedCopy(name=FRAME, sha256=ASKED.sha256, copied=True)
    assert disk.copied(before).problem is None, "gone, and copied again"
    assert (disk.to / FRAME).read_bytes() == b"raw"
    (disk.to / FRAME).write_bytes(b"ra")
    assert "is another file, and is left as it is" in str(disk.copied(before).problem)


def test_what_is_no_longer_what_came_from_the_camera_is_not_copied(disk: SecondDisk, outing: Path) -> None:
    (outing / FRAME).write_bytes(b"rot")
    assert "is no longer what came from the camera" in str(disk.copied(ASKED).problem)
    assert not (disk.to / FRAME).exists()


def test_a_file_that_may_change_is_copied_anew_where_it_did(disk: SecondDisk, outing: Path) -> None:
    for text in ("as it was", "anew"):
        (outing / "choices.toml").write_text(text)
        assert disk.copied(AskedCopy(name="choices.toml", sha256=None)).problem is None
        assert (disk.to / "choices.toml").read_text() == text


@pytest.mark.parametrize("sum_known", [True, False])
def test_a_file_of_the_outing_that_can_not_be_read_is_named(disk: SecondDisk, outing: Path, sum_known: bool) -> None:
    (outing / FRAME).unlink()
    problem = disk.copied(AskedCopy(name=FRAME, sha256=ASKED.sha256 if sum_known else None)).problem
    assert FRAME in str(problem)


def test_a_disk_that_is_full_leaves_nothing_of_the_frame(disk: SecondDisk, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: Path, to: Path) -> None:
        to.write_bytes(b"half")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("tether.files.copying.shutil.copyfile", full)
    answer = disk.copied(ASKED)
    assert (answer.kind, str(answer.problem)[:17]) == ("supply", "The disk is full:")
    assert list((disk.to / FRAME).parent.iterdir()) == [], "nor half of it under another"


def test_a_copy_that_is_not_the_same_when_read_back_is_said(disk: SecondDisk, monkeypatch: pytest.MonkeyPatch) -> None:
    """As long as it should be, and of other bytes: no size tells."""
    monkeypatch.setattr("tether.files.copying.shutil.copyfile", lambda _, to: to.write_bytes(b"rxw"))
    assert "the disk is not to be trusted" in str(disk.copied(ASKED).problem)


def test_a_disk_that_is_gone_is_not_made_anew_as_a_folder(disk: SecondDisk, tmp_path: Path) -> None:
    (tmp_path / "disk").rmdir()
    assert disk.copied(ASKED).problem == f"The disk of {tmp_path / 'disk'} is not there. Connect it again."
    assert not (tmp_path / "disk").exists()
    (tmp_path / "disk").mkdir()
    assert disk.copied(ASKED).problem is None


def test_what_is_left_of_a_disk_s_place_when_it_is_gone_is_not_filled(
    outing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its folder stays where it was mounted, and is then one of the outing's own disk."""
    apart = {"now": True}
    monkeypatch.setattr("tether.files.copying.is_apart", lambda *_: apart["now"])
    disk = SecondDisk(outing, tmp_path / "disk")
    apart["now"] = False
    assert "is not there" in str(disk.copied(ASKED).problem)
    assert "is not there" in str(SecondDisk(outing, tmp_path / "disk", was_apart=True).copied(ASKED).problem)
    assert list((tmp_path / "disk").iterdir()) == []
    apart["now"] = True
    assert disk.copied(ASKED) == CopyAnswer(name=FRAME, apart=True)


def test_a_folder_on_the_same_disk_is_none_apart(outing: Path, tmp_path: Path) -> None:
    """/proc is a file system of its own."""
    assert not is_apart(outing, tmp_path / "disk")
    assert not is_apart(outing, tmp_path / "none")
    assert is_apart(outing, Path("/proc"))


def test_the_process_answers_line_by_line_and_ends_with_what_it_is_asked(outing: Path, tmp_path: Path) -> None:
    lines = [json.dumps(vars(one)) + "\n" for one in (ASKED, AskedCopy(name="frames/none.dng", sha256="0"))]
    done = subprocess.run(
        [sys.executable, "-P", "-m", "tether.files.copying", str(outing), str(tmp_path / "disk")],
        input="".join(lines),
        capture_output=True,
        text=True,
        check=True,
    )
    first, second = (CopyAnswer(**json.loads(line)) for line in done.stdout.splitlines())
    assert first == CopyAnswer(name=FRAME)
    assert "frames/none.dng" in str(second.problem)
    assert (tmp_path / "disk" / "weir" / FRAME).read_bytes() == b"raw"
