"""Files that are either whole under their name or not there: temporary name, flush, check, rename.

Only the standard library is loaded here, so that the process that holds the shutter can use it.
"""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tether.errors import PlanError, TetherError
from tether.files.errors import NameTakenError, UnreadableFileError, disk_sentences

#: Folders whose files are the system's: /dev/stdout may be a plain file, and is not to be replaced either.
_SYSTEM_S = (("/", "dev"), ("/", "proc"))


#: How often a file that arrives damaged is fetched.
MOST_FETCHES = 3


@dataclass(frozen=True, kw_only=True)
class Arrived:
    """A file that is home and whole: its size in bytes and the SHA-256 of its content in hexadecimal."""

    size: int
    sha256: str


def safe_write(path: Path, data: bytes) -> None:
    """Write `data` to `path`, which holds the old content or all of the new, never a part, even if power fails.

    A link stays one, and its target is written. What is there and no plain file is never replaced: a device, a pipe or
    anything under /dev and /proc is written into; a folder, a disk or a socket is refused.

    Raises
    ------
    SupplyError, PlanError, LostError
        As :func:`tether.files.errors.disk_sentences` says; nothing is left behind then.
    """
    with disk_sentences(path):
        path = path.resolve() if path.is_symlink() and not _is_system_s(path) else path
        if _takes_bytes(path):
            _write_into(path, data)
            return
        with whole(path) as temp:
            temp.write_bytes(data)


@contextmanager
def whole(path: Path) -> Iterator[Path]:
    """Yield the name under which a large file is to be written; once the block is through, it is there as `path`.

    An older file of that name is replaced. Where the block fails, that is left, and of the new one nothing.

    Raises
    ------
    SupplyError, PlanError, LostError
        As :func:`tether.files.errors.disk_sentences` says.
    """
    temp = arriving(path)
    with disk_sentences(path):
        try:
            yield temp
            _flush(temp)
            temp.replace(path)
        except BaseException:
            temp.unlink(missing_ok=True)
            raise
        _flush_folder(path.parent)


def _is_system_s(path: Path) -> bool:
    parts = path.absolute().parts
    return parts[:2] in _SYSTEM_S and parts[:3] != ("/", "dev", "shm")


def _takes_bytes(path: Path) -> bool:
    """Say whether what is at a path is written into rather than replaced; raise PlanError where it is neither."""
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        return False
    if _is_system_s(path) or stat.S_ISCHR(mode) or stat.S_ISFIFO(mode):
        return True
    if not stat.S_ISREG(mode):
        what = "a folder" if stat.S_ISDIR(mode) else "no plain file"
        raise PlanError(f"{path} is {what}, and is left as it is. Give the name of a file.")
    return False


def _write_into(path: Path, data: bytes) -> None:
    # To append is harmless for devices and pipes, and keeps what stands in a file that standard output goes to.
    with open(os.open(path, os.O_WRONLY | os.O_APPEND), "wb") as file:  # noqa: PTH123
        file.write(data)


def arriving(path: Path) -> Path:
    """Return the name under which a file is written until it is whole: in the same folder, hidden, ending in .part."""
    return path.with_name(f".{path.name}.part")


def settle(
    temp: Path,
    final: Path,
    *,
    expected_size: int | None = None,
    check: Callable[[Path], None] | None = None,
) -> Arrived:
    """Flush and check a file that has arrived, and give it its name; one that has it already is home.

    That may be so where a run ended before it had told the journal of it. Only one run writes into an outing, so that
    looking for a file of that name beforehand is enough.

    Parameters
    ----------
    temp
        The file as it arrived, see :func:`arriving`; in the same folder as `final`.
    final
        The name it is to have.
    expected_size
        How many bytes there should be; None: not known.
    check
        Looks into the file and raises a TetherError where it is not as it should be.

    Raises
    ------
    NameTakenError
        There is another file named `final`; it and `temp` are left as they are.
    UnreadableFileError
        The file is not as it should be. It is kept beside `final` under a name with ``.damaged``, which is told.
    SupplyError, PlanError, LostError
        The disk would not do it, see :func:`tether.files.errors.disk_sentences`; `temp` is left as it is.
    """
    with disk_sentences(final):
        if final.exists():
            return _there_already(temp, final)
        _flush(temp)
        size = temp.stat().st_size
        try:
            _check_size(final, size, expected_size)
            if check is not None:
                check(temp)
        except TetherError as error:
            kept = _set_aside(temp, final)
            raise UnreadableFileError(*error.sentences, f"What arrived is kept as {kept}.") from error
        sha256 = sha256_of(temp)
        temp.rename(final)
        _flush_folder(final.parent)
    return Arrived(size=size, sha256=sha256)


def _there_already(temp: Path, final: Path) -> Arrived:
    sha256 = sha256_of(final)
    if sha256_of(temp) != sha256:
        raise NameTakenError(f"{final} is there already and was left as it is; {temp} holds the file that arrived.")
    temp.unlink()
    return Arrived(size=final.stat().st_size, sha256=sha256)


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file's content in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _check_size(final: Path, size: int, expected_size: int | None) -> None:
    if size == 0:
        raise UnreadableFileError(f"{final} arrived empty.")
    if expected_size is not None and size != expected_size:
        raise UnreadableFileError(f"{final} arrived with {size} bytes instead of {expected_size}.")


def _set_aside(temp: Path, final: Path) -> Path:
    """Rename to the first free of NAME.damaged, NAME.damaged-2, … so that no frame is lost."""
    kept, count = final.with_name(f"{final.name}.damaged"), 1
    while kept.exists():
        count += 1
        kept = final.with_name(f"{final.name}.damaged-{count}")
    temp.rename(kept)
    _flush_folder(kept.parent)
    return kept


def _flush(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())


def _flush_folder(folder: Path) -> None:
    """Make a rename last. Some network and user-space file systems cannot flush a folder; that is no fault."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP, errno.ENOSYS):
            raise
    finally:
        os.close(handle)
