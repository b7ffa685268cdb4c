"""Where a process leaves its last words: a file that is added to, so that the next process does not wipe them.

Only the standard library is loaded here, so that the process that holds the shutter can use it.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import BinaryIO

#: What the line before a process's words begins with.
MARK = "-- "


def log_of(path: Path, what: str) -> BinaryIO:
    """Open the file that a process is to write its words to, at its end, with a dated line that says what begins.

    Raises
    ------
    OSError
        If it can't be written.
    """
    log = path.open("ab")
    try:
        named = "".join(one if one.isprintable() else "?" for one in what)
        log.write(f"{MARK}{datetime.now().astimezone():%Y-%m-%d %H:%M:%S %z}  {named}\n".encode())
        log.flush()
    except OSError:
        log.close()
        raise
    return log
