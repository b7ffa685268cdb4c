"""A running server, for the tests of both its sides."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.control.rig import Rig


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[Rig]:
    folder = tmp_path / "run"
    folder.mkdir(mode=0o700)
    before = threading.active_count()
    rig = Rig(folder / "a.socket")
    with closing(rig.server):
        rig.server.start()
        yield rig
    assert threading.active_count() == before
    assert not rig.path.exists()
