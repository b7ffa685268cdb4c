"""Memory that a process no longer uses goes back to the system, measured by the kernel."""

from __future__ import annotations

import ctypes
import subprocess
import sys

import pytest

#: Frees one large block, as a frame is, by which the C library learns to keep much; then takes 40 MB in small ones and
#: frees them, and prints what of them the kernel still counts [MB].
_SCRIPT = """
import tether.memory as memory
def taken_mb():
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmRSS")) / 1024
{first}
large = bytearray(30_000_000)
del large
before = taken_mb()
small = [bytearray(b"x" * 100_000) for _ in range(400)]
del small
{then}
print(taken_mb() - before)
"""


@pytest.mark.skipif(not hasattr(ctypes.CDLL(None), "mallopt"), reason="it is glibc that keeps memory")
@pytest.mark.parametrize(
    ("first", "then", "kept"),
    [("", "", True), ("memory.keep_little()", "", False), ("", "memory.hand_back()", False)],
    ids=["left alone", "keep little", "hand back"],
)
def test_what_was_freed_is_handed_back(first: str, then: str, kept: bool) -> None:
    script = _SCRIPT.format(first=first, then=then)
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert (float(done.stdout) > 10) == kept
