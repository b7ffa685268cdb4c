"""What every test process begins with: folders of its own, and signals as a terminal gives them."""

from __future__ import annotations

import os
import signal
import tempfile
from collections.abc import Iterator

import pytest
from hypothesis import settings

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


@pytest.fixture(scope="session", autouse=True)
def _own_folders() -> Iterator[None]:
    """Keep the runs of this process from being found by tests in another, and the user's own settings out of all.

    Sockets need a short path.
    """
    with tempfile.TemporaryDirectory(prefix="tt-", ignore_cleanup_errors=True) as folder:
        own = {"XDG_RUNTIME_DIR": folder} | {
            f"XDG_{kind.upper()}_HOME": f"{folder}/{kind}" for kind in ("config", "data", "state")
        }
        before = {name: os.environ.get(name) for name in own}
        os.environ.update(own)
        yield
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
