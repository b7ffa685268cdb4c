"""The bus that the tests of this room are given."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.usb.rig import Rig, on_usb, why_not_here


@pytest.fixture(scope="session")
def mocked() -> None:
    """Have the mock tried once, before anything is tried on it."""
    if why_not := why_not_here():
        pytest.fail(f"No camera on USB can be mocked here: {why_not}.")


@pytest.fixture
def usb(tmp_path: Path, mocked: None) -> Iterator[Rig]:
    """A bus without cameras."""
    with on_usb(tmp_path) as rig:
        yield rig
