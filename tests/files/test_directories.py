"""Directories of a frame in which one number is wrong, each in turn: it is read, or said why not; nothing breaks."""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.files.conftest import Written
from tether.errors import TetherError
from tether.files.check import check_frame
from tether.files.errors import UnreadableFileError
from tether.files.exif import read_exif
from tether.files.preview import preview_of
from tether.files.raw import read_raw

READERS: tuple[Callable[[Path], object], ...] = (check_frame, read_exif, preview_of, read_raw)
_SUB_DIRECTORIES = (330, 34665)
_WIDTH, _ROWS_PER_STRIP, _DIGEST = 256, 278, 50972
_TEXT, _DOUBLE = 2, 12
#: What a type, a count or a value is set to (TIFF 6.0, section 2: types 1 to 12; offsets of 32 bits).
WRONG = (
    *(("type", number) for number in (_TEXT, _DOUBLE)),
    *(("count", number) for number in (0, 2**32 - 1)),
    *(("value", number) for number in (0, 65_000, 2**31 - 1, 2**32 - 1)),
)
_PLACES = {"type": (2, "<H"), "count": (4, "<I"), "value": (8, "<I")}


@dataclass(frozen=True)
class Entry:
    """One entry of a directory: its tag, and where in the file it stands."""

    tag: int
    at: int


def entries(data: bytes) -> Iterator[Entry]:
    """Yield every entry of a little-endian TIFF's directories, the first directory's first."""
    left = [struct.unpack_from("<I", data, 4)[0]]
    while left:
        directory = left.pop(0)
        (count,) = struct.unpack_from("<H", data, directory)
        for at in range(directory + 2, directory + 2 + 12 * count, 12):
            tag, _, number, value = struct.unpack_from("<HHII", data, at)
            yield Entry(tag, at)
            if tag in _SUB_DIRECTORIES and number == 1:
                left.append(value)
        if following := struct.unpack_from("<I", data, directory + 2 + 12 * count)[0]:
            left.append(following)


def spoilt(data: bytes, entry: Entry, what: str, number: int) -> bytes:
    """Return a file with another number in an entry of its directories."""
    changed = bytearray(data)
    offset, form = _PLACES[what]
    struct.pack_into(form, changed, entry.at + offset, number)
    return bytes(changed)


def first(data: bytes, tag: int) -> Entry:
    return next(entry for entry in entries(data) if entry.tag == tag)


def test_a_preview_that_says_that_it_is_larger_than_it_is_ends_no_process(written: Written) -> None:
    """LibRaw hands on what is said; to read all of that is to read what is not ours, which the system ends us for."""
    data = written.path.read_bytes()
    written.path.write_bytes(spoilt(data, first(data, _WIDTH), "value", 65_000))
    picture, _ = preview_of(written.path)
    assert picture.shape[:2] == (64, 96), "developed at half the size"


def test_a_digest_that_is_none_is_damage(written: Written) -> None:
    data = written.path.read_bytes()
    written.path.write_bytes(spoilt(data, first(data, _DIGEST), "type", _DOUBLE))
    with pytest.raises(UnreadableFileError, match="what it says of its own picture can't be read"):
        check_frame(written.path)


def test_directories_that_the_blacks_can_not_be_read_of_leave_the_frame_readable(written: Written) -> None:
    data = written.path.read_bytes()
    written.path.write_bytes(spoilt(data, first(data, _ROWS_PER_STRIP), "type", _DOUBLE))
    assert (read_raw(written.path).mosaic == written.raw).all()


@pytest.mark.prove
def test_one_number_wrong_anywhere_is_read_or_said(written: Written) -> None:
    data = written.path.read_bytes()
    for entry in entries(data):
        for what, number in WRONG:
            written.path.write_bytes(spoilt(data, entry, what, number))
            for read in READERS:
                try:
                    read(written.path)
                except TetherError:
                    pass
                except Exception as error:
                    raise AssertionError(f"{read.__name__} with tag {entry.tag}, {what} {number}") from error
