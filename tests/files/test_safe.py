from __future__ import annotations

import errno
import hashlib
import os
import socket
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

import tether
from tether.errors import LostError, PlanError, SupplyError, TetherError
from tether.files.errors import NameTakenError, UnreadableFileError, disk_sentences
from tether.files.safe import arriving, safe_write, settle, sha256_of

DATA = b"a frame" * 1000


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def arrived(final: Path, data: bytes = DATA) -> Path:
    temp = arriving(final)
    temp.write_bytes(data)
    return temp


def fail(monkeypatch: pytest.MonkeyPatch, function: str, code: int) -> None:
    def failing(*_: object) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(function, failing)


def test_write_and_replace(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    safe_write(path, b"old")
    safe_write(path, b"new")
    assert path.read_bytes() == b"new"
    assert names(tmp_path) == {"log.csv"}


def test_a_pipe_is_written_into_and_stays_a_pipe(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reading = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        safe_write(pipe, b"all of it")
        assert os.read(reading, 100) == b"all of it"
    finally:
        os.close(reading)
    assert pipe.is_fifo()
    assert names(tmp_path) == {"pipe"}


def test_a_link_stays_one_and_its_target_is_written(tmp_path: Path) -> None:
    target, link = tmp_path / "there.csv", tmp_path / "link.csv"
    target.write_bytes(b"old")
    link.symlink_to(target)
    safe_write(link, b"new")
    assert link.is_symlink()
    assert target.read_bytes() == b"new"


def test_a_device_behind_a_link_is_written_into(tmp_path: Path) -> None:
    link = tmp_path / "nothing"
    link.symlink_to("/dev/null")
    safe_write(link, DATA)
    assert link.is_symlink()
    assert link.is_char_device()


def test_a_full_device_is_a_sentence() -> None:
    with pytest.raises(SupplyError, match="/dev/full could not be written"):
        safe_write(Path("/dev/full"), DATA)
    assert Path("/dev/full").is_char_device()


def test_a_folder_and_a_socket_are_refused_and_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "folder").mkdir()
    with closing(socket.socket(socket.AF_UNIX)) as bound:
        monkeypatch.chdir(tmp_path)  # a socket needs a short path
        bound.bind("socket")
        for name, what in (("folder", "is a folder"), ("socket", "is no plain file")):
            with pytest.raises(PlanError, match=what):
                safe_write(tmp_path / name, DATA)
    assert names(tmp_path) == {"folder", "socket"}
    assert (tmp_path / "socket").is_socket()


def test_standard_output_is_written_to_even_where_it_goes_to_a_file(tmp_path: Path) -> None:
    code = "from pathlib import Path; from tether.files.safe import safe_write; safe_write(Path('/dev/stdout'), b'new')"
    path = tmp_path / "out"
    with path.open("wb") as out:
        out.write(b"said before, ")
        out.flush()
        subprocess.run([sys.executable, "-c", code], stdout=out, check=True)
    assert path.read_bytes() == b"said before, new"
    assert Path("/dev/stdout").is_symlink()


@pytest.mark.parametrize(
    ("code", "kind"),
    [
        (errno.ENOSPC, SupplyError),
        (errno.EDQUOT, SupplyError),
        (errno.EROFS, PlanError),
        (errno.EACCES, PlanError),
        (errno.EIO, LostError),
    ],
)
@pytest.mark.parametrize("at", ["os.fsync", "pathlib.Path.replace"])
def test_a_write_that_fails_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: str, code: int, kind: type[TetherError]
) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(b"old")
    fail(monkeypatch, at, code)
    with pytest.raises(kind, match=r"log\.csv"):
        safe_write(path, b"new")
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == {"log.csv"}


def test_a_full_disk_for_real() -> None:
    """/dev/full answers every write with ENOSPC (Linux, full(4))."""
    with pytest.raises(SupplyError, match="The disk is full"), disk_sentences(Path("/dev/full")):
        Path("/dev/full").write_bytes(DATA)


def test_a_folder_that_is_missing(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="nowhere"):
        safe_write(tmp_path / "nowhere" / "a", DATA)


def test_a_file_system_that_cannot_flush_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.fsync

    def only_files(handle: int) -> None:
        if Path(f"/proc/self/fd/{handle}").is_dir():
            raise OSError(errno.EINVAL, "")
        real(handle)

    monkeypatch.setattr(os, "fsync", only_files)
    safe_write(tmp_path / "a", DATA)
    assert (tmp_path / "a").read_bytes() == DATA


def test_the_name_meanwhile_is_hidden_and_beside(tmp_path: Path) -> None:
    assert arriving(tmp_path / "weir.dng") == tmp_path / ".weir.dng.part"


def test_a_file_settles(tmp_path: Path) -> None:
    final = tmp_path / "weir.dng"
    seen: list[Path] = []
    result = settle(arrived(final), final, expected_size=len(DATA), check=seen.append)
    assert seen == [arriving(final)]
    assert (result.size, result.sha256) == (len(DATA), hashlib.sha256(DATA).hexdigest())
    assert sha256_of(final) == result.sha256
    assert names(tmp_path) == {"weir.dng"}


def test_everything_is_flushed_before_the_name_is_given(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    final = tmp_path / "weir.dng"
    temp = arrived(final)
    flushed: list[tuple[Path, bool]] = []
    monkeypatch.setattr(
        os, "fsync", lambda handle: flushed.append((Path(f"/proc/self/fd/{handle}").readlink(), final.exists()))
    )
    settle(temp, final)
    assert flushed == [(temp, False), (tmp_path, True)]


@pytest.mark.parametrize(
    ("data", "word"), [(DATA[:-1], "6999 bytes instead of 7000"), (DATA + b"x", "7001 bytes"), (b"", "empty")]
)
def test_a_wrong_size_is_told_and_kept(tmp_path: Path, data: bytes, word: str) -> None:
    final = tmp_path / "weir.dng"
    with pytest.raises(UnreadableFileError, match=rf"weir\.dng arrived[^\n]* {word}") as caught:
        settle(arrived(final, data), final, expected_size=len(DATA))
    assert caught.value.sentences[-1] == f"What arrived is kept as {final}.damaged."
    assert names(tmp_path) == {"weir.dng.damaged"}
    assert (tmp_path / "weir.dng.damaged").read_bytes() == data


def test_what_fails_its_check_is_kept_each_time(tmp_path: Path) -> None:
    final = tmp_path / "weir.dng"

    def refuse(path: Path) -> None:
        raise UnreadableFileError(f"{path} is no frame.")

    for attempt in range(3):
        with pytest.raises(UnreadableFileError, match="is no frame") as caught:
            settle(arrived(final, b"%d" % attempt), final, check=refuse)
        assert "kept as" in caught.value.sentences[-1]
    assert names(tmp_path) == {"weir.dng.damaged", "weir.dng.damaged-2", "weir.dng.damaged-3"}
    assert (tmp_path / "weir.dng.damaged-3").read_bytes() == b"2"


def test_a_name_that_is_taken_is_left_alone(tmp_path: Path) -> None:
    final = tmp_path / "weir.dng"
    final.write_bytes(b"an earlier frame")
    with pytest.raises(NameTakenError, match="is there already"):
        settle(arrived(final), final)
    assert final.read_bytes() == b"an earlier frame"
    assert arriving(final).read_bytes() == DATA


def test_a_frame_that_has_its_name_since_before_is_home(tmp_path: Path) -> None:
    """A run that ended between the name and the journal has it fetched again: it is the same, and there once."""
    final = tmp_path / "weir.dng"
    first = settle(arrived(final), final)
    assert settle(arrived(final), final, expected_size=len(DATA)) == first
    assert names(tmp_path) == {"weir.dng"}
    assert final.read_bytes() == DATA


@pytest.mark.parametrize("at", ["os.fsync", "pathlib.Path.rename"])
def test_settling_on_a_failing_disk_keeps_what_arrived(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    final = tmp_path / "weir.dng"
    temp = arrived(final)
    fail(monkeypatch, at, errno.ENOSPC)
    with pytest.raises(SupplyError, match="The disk is full"):
        settle(temp, final)
    assert temp.read_bytes() == DATA
    assert not final.exists()


def test_safe_writing_loads_no_library_for_pictures() -> None:
    """The process that holds the shutter uses it."""
    code = "import sys, tether.files.safe; print(*sorted({name.partition('.')[0] for name in sys.modules}))"
    root = Path(tether.__file__).parents[1]
    run = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    loaded = run.stdout.split()
    assert "tether" in loaded
    assert not {"numpy", "rawpy", "exiv2", "PIL", "tifffile"} & set(loaded)
