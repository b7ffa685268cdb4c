"""What a process keeps of the memory it no longer uses: the C library keeps much of it, unless it is told otherwise.

Where the C library has no such calls (it is glibc that has them) nothing is done.
"""

from __future__ import annotations

import contextlib
import ctypes

#: Names of <malloc.h>: what may stay free at the end of the heap, and from which size on a block is the system's own.
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
_KEPT_BYTES = 128 * 1024


def keep_little() -> None:
    """Have the C library hand back large blocks, and what is free at the end of its heap, from now on.

    It costs time where large arrays come and go.
    """
    library = ctypes.CDLL(None)
    with contextlib.suppress(AttributeError):
        library.mallopt(_TRIM_THRESHOLD, _KEPT_BYTES)
        library.mallopt(_MMAP_THRESHOLD, _KEPT_BYTES)


def hand_back() -> None:
    """Have the C library hand back what is free by now."""
    with contextlib.suppress(AttributeError):
        ctypes.CDLL(None).malloc_trim(0)
