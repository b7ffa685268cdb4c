"""Whether a file has all the bytes that its own directories speak of, for the many raw formats built on TIFF 6.0."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator
from pathlib import Path

import tifffile

from tether.files.errors import UnreadableFileError

#: Stands in some makers' files where an offset would be.
_NO_OFFSET = 0xFFFFFFFF

# tifffile logs what is odd about a file; what matters is said here in a sentence.
logging.getLogger("tifffile").addHandler(logging.NullHandler())


def check_extent(path: Path) -> None:
    """Check that no picture of a TIFF-based file reaches past its end. Says nothing about files of other kinds.

    A decoder can only say that it ran out of data; this says how much is missing, and before it is tried.

    Raises
    ------
    UnreadableFileError
        The file is cut short.
    OSError
        It can't be opened.
    """
    wanted, there = _end_of_pictures(path), path.stat().st_size
    if wanted > there:
        raise UnreadableFileError(f"{path} is cut short: {there} bytes are there, at least {wanted} should be.")


def holds_picture(path: Path, height_px: int, width_px: int, size: int) -> bool:
    """Say whether a TIFF-based file speaks of a picture of this height and width in at least so many bytes.

    Where the directories of a file are damaged, LibRaw gives as much memory as a preview has bytes, and says that it
    has as many pixels as they tell: what lies between is not ours to read, and ends the process.
    """
    try:
        with tifffile.TiffFile(path) as tiff:
            return any(
                (page.imagelength, page.imagewidth) == (height_px, width_px) and sum(page.databytecounts) >= size
                for page in _all_pages(tiff.pages)
            )
    except OSError:
        raise
    except Exception:
        return False


def _all_pages(pages: Iterable[tifffile.TiffPage | tifffile.TiffFrame]) -> Iterator[tifffile.TiffPage]:
    for page in pages:
        if isinstance(page, tifffile.TiffPage):
            yield page
        yield from _all_pages(page.pages or () if page.subifds else ())


def _end_of_pictures(path: Path) -> int:
    """Return the offset behind the last picture's last byte; 0 where the file is no TIFF or has no directories left."""
    try:
        with tifffile.TiffFile(path) as tiff:
            return max((_end_of_page(page) for page in tiff.pages), default=0)
    except OSError:
        raise
    except Exception:
        # Damaged directories raise nearly anything. Whether the file can be used all the same the decoder decides.
        return 0


def _end_of_page(page: tifffile.TiffPage | tifffile.TiffFrame) -> int:
    strips = zip(page.dataoffsets, page.databytecounts, strict=False)
    own = max((offset + count for offset, count in strips if offset != _NO_OFFSET), default=0)
    below: Iterable[tifffile.TiffPage | tifffile.TiffFrame] = page.pages or () if page.subifds else ()
    return max(own, *(_end_of_page(lower) for lower in below), 0)
