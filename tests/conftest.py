"""What every test process begins with: folders of its own, and signals as a terminal gives them."""

from __future__ import annotations

import os
import signal
import tempfile
import time
from collections.abc import Iterator

import pytest
from hypothesis import settings

from tether.control.registry import running

# As the command line has it; said before arrays are loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# How long an example takes tells of the machine's load, not of the program.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")

# Started by `nohup` or a job system, hanging up would be ignored here and in all that is started from here.
signal.signal(signal.SIGHUP, signal.SIG_DFL)


#: Files that take longest, begun with, so that none of them is left alone at the end.
_LONG = (
    *("test_readme", "test_lost", "test_wire_ladder", "test_strikes", "test_chromium"),
    *("test_watching", "test_desk", "test_commands", "test_body"),
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the files that take longest first; the order within a file stays."""

    def place(item: pytest.Item) -> int:
        name = item.path.stem
        return _LONG.index(name) if name in _LONG else len(_LONG)

    items.sort(key=place)


#: How long a run that was told to end may take [s].
_ENDS_WITHIN_S = 20.0


def _left() -> list[str]:
    """Return the outings whose runs go on although they had time to end."""
    deadline_s = time.monotonic() + _ENDS_WITHIN_S
    while (left := [str(run.outing) for run in running()]) and time.monotonic() < deadline_s:
        time.sleep(0.05)
    return left


@pytest.fixture(scope="module", autouse=True)
def _own_folders() -> Iterator[None]:
    """Keep the runs of a file from being found by another's tests, and the user's own settings out of all.

    A file ends the runs that it began: which other file comes next on its process is chance. Sockets need a short path.
    """
    with tempfile.TemporaryDirectory(prefix="tt-", ignore_cleanup_errors=True) as folder:
        own = {"XDG_RUNTIME_DIR": folder} | {
            f"XDG_{kind.upper()}_HOME": f"{folder}/{kind}" for kind in ("config", "data", "state")
        }
        before = {name: os.environ.get(name) for name in own}
        os.environ.update(own)
        yield
        left = _left()
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
        assert not left, f"runs that were begun and not ended: {left}"
