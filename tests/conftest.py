"""What every test process begins with: a runtime folder of its own, and signals as a terminal gives them."""

from __future__ import annotations

import os
import signal
import tempfile
from collections.abc import Iterator

import pytest

# Started by `nohup` or a job system, hanging up would be ignored here and in all that is started from here.
signal.signal(signal.SIGHUP, signal.SIG_DFL)


@pytest.fixture(scope="session", autouse=True)
def _own_runtime_folder() -> Iterator[None]:
    """Keep the runs of this process from being found by tests in another; sockets need a short path."""
    with tempfile.TemporaryDirectory(prefix="tt-", ignore_cleanup_errors=True) as folder:
        before = os.environ.get("XDG_RUNTIME_DIR")
        os.environ["XDG_RUNTIME_DIR"] = folder
        yield
        if before is None:
            del os.environ["XDG_RUNTIME_DIR"]
        else:
            os.environ["XDG_RUNTIME_DIR"] = before
