"""The run process's parent: starts it, and starts it again when it dies or falls silent. Standard library only.

Usage: ``python -m tether.guard OUTING``. The run process writes a byte to a pipe every second; a pipe that stays silent
for `SILENT_S` means that it hangs, and it is ended and started again. When that has been tried `MOST_TRIES` times in a
row without a run that lasted, the guard hands over to a person: a sentence in ``handed-over.txt`` in the outing.

A run process that ends without a verdict may leave a shutter open whose camera process is gone too. Before all else a
camera process that only closes is started then, and given a head start.

It stays in memory all night on the smallest computers: what its few lines do without (pathlib, typing, json until it is
needed) is not loaded, which is a fifth of its memory.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from io import TextIOWrapper

#: A path as its callers have it.
Folder = str | os.PathLike[str]

#: Verdicts of a run process about its ladder; every other end of it is a failure.
VERDICTS = range(5)
MOST_TRIES = 5
#: A run process that lived so long has its tries counted anew [s].
LASTED_S = 300.0
#: Pauses before the tries [s].
PAUSES_S = (0.5, 1.0, 2.0, 4.0, 8.0)
#: How long the run process may be silent before it counts as hanging [s].
SILENT_S = 30.0
#: How long a closing-only camera process may work before the run process is started beside it [s].
HEAD_START_S = 3.0
#: What a camera process was started with, and what it knew of its last exposure, in a folder of the outing.
START_NAME = "camera.start"
STAMPS_NAME = "camera.stamps"
LOCK_NAME = "guard.lock"
LOG_NAME = "run.log"
HANDED_OVER_NAME = "handed-over.txt"


def main(outing: Folder, silent_s: float = SILENT_S) -> int:
    """Guard the run in an outing's folder until it has a verdict; return its exit code."""
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with _only_guard(outing) as only:
        if not only:
            sys.stderr.write(f"{outing}: this outing is guarded already; watch it with: tether watch {outing}\n")
            return 2
        with contextlib.suppress(OSError):
            os.unlink(os.path.join(outing, HANDED_OVER_NAME))
        return _guard(outing, silent_s)


@contextlib.contextmanager
def _only_guard(outing: Folder) -> Iterator[bool]:
    with open(os.path.join(outing, LOCK_NAME), "a") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            yield False
            return
        with contextlib.suppress(OSError):  # who it is, as far as a full disk takes it; what counts is the lock
            file.truncate(0)
            file.write(f"{os.getpid()}\n")
            file.flush()
        yield True


def _guard(outing: Folder, silent_s: float) -> int:
    tries = 0
    while True:
        began_s = time.monotonic()
        code = _run_once(outing, silent_s)
        if code in VERDICTS:
            return code
        _close_left_open(outing)
        if time.monotonic() - began_s > LASTED_S:
            tries = 0
        tries += 1
        if tries >= MOST_TRIES:
            return _hand_over(outing, code)
        time.sleep(PAUSES_S[tries - 1])


def _run_once(outing: Folder, silent_s: float) -> int:
    """Start the run process and wait for its end; one that falls silent is ended."""
    hears, speaks = os.pipe()
    with _log_of(outing) as log:
        process = subprocess.Popen(  # noqa: S603 - our own interpreter
            [sys.executable, "-P", "-m", "tether.service.process", os.fspath(outing), str(speaks)],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            pass_fds=(speaks,),
            process_group=0,
        )
    os.close(speaks)
    before = signal.signal(signal.SIGTERM, lambda *_: process.terminate())
    try:
        _listen(hears, process, silent_s)
    finally:
        os.close(hears)
        signal.signal(signal.SIGTERM, before)
    return process.wait()


def _log_of(outing: Folder) -> TextIOWrapper:
    """Open the log for what is started; nowhere while its disk can't be written."""
    try:
        return open(os.path.join(outing, LOG_NAME), "a")
    except OSError:
        return open(os.devnull, "a")


def _listen(hears: int, process: subprocess.Popen[bytes], silent_s: float) -> None:
    """Return when the run process has closed its end of the pipe, or was ended because it was silent too long."""
    while True:
        if not select.select([hears], [], [], silent_s)[0]:
            process.kill()
            return
        if not os.read(hears, 4096):
            return


def _close_left_open(outing: Folder) -> None:
    """Have shutters shut that may be open: at the planned moment, or at once where that is past."""
    closing = [_closing(folder, outing) for folder in _started(outing) if _may_be_open(folder)]
    until_s = time.monotonic() + HEAD_START_S
    for process in closing:
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(max(until_s - time.monotonic(), 0.0))


def _started(outing: Folder) -> list[str]:
    """Return the folders that camera processes were started in; none where the outing can't be read."""
    try:
        with os.scandir(outing) as found:
            return [entry.path for entry in found if os.path.exists(os.path.join(entry.path, START_NAME))]
    except OSError:
        return []


def _may_be_open(folder: Folder) -> bool:
    """Say whether the last exposure of a camera process was held, and is not known to be over."""
    import json

    try:
        with open(os.path.join(folder, STAMPS_NAME), "rb") as file:
            stamps = json.load(file)
        return stamps["way"] == "held" and not stamps["shut"]
    except (OSError, ValueError, TypeError, KeyError):
        return False


def _closing(folder: str, outing: Folder) -> subprocess.Popen[bytes]:
    """Start a camera process that closes and ends; it waits for an earlier one that lives, and closes by itself."""
    with _log_of(outing) as log:
        return subprocess.Popen(  # noqa: S603 - our own interpreter
            [sys.executable, "-P", "-m", "tether.body.closing", folder],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,
            env={**os.environ, "LC_ALL": "C", "LANGUAGE": ""},
        )


def _hand_over(outing: Folder, code: int) -> int:
    how = f"signal {-code}" if code < 0 else f"code {code}"
    sentence = (
        f"The run of this outing ended {MOST_TRIES} times without a result, last with {how}, and is not started "
        f"again. What happened is in {LOG_NAME}. Journal and frames are as they were: look at the camera, then go "
        f"on with:  tether run {outing}\n"
    )
    with contextlib.suppress(OSError), open(os.path.join(outing, HANDED_OVER_NAME), "w", encoding="utf-8") as file:
        file.write(sentence)
    with contextlib.suppress(OSError):
        sys.stderr.write(sentence)
    return 4


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], float(sys.argv[2]) if len(sys.argv) > 2 else SILENT_S))
