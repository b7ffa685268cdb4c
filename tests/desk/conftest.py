"""The desk looks and listens more often than it needs to, so that the tests do not wait for it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.desk.rig import PlayedRun
from tests.desk.test_draft import BARS
from tether.control import attachment
from tether.editor.messages import DraftFrame


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(attachment, "HEARS_FOR_S", 0.01)
    monkeypatch.setattr(attachment, "LOOKS_EVERY_S", 0.02)


@pytest.fixture
def frame(tmp_path: Path) -> DraftFrame:
    path = tmp_path / "base-1.jpg"
    Image.fromarray(np.full((60, 90, 3), 90, np.uint8)).save(path)
    return DraftFrame(
        picture=str(path),
        bars=BARS,
        exposure="1/60 s, f/8, ISO 100",
        sentence="0.42 stops of headroom.",
        headroom_stops=0.42,
        clipped_share=0.0,
    )


@pytest.fixture
def run(tmp_path: Path) -> Iterator[PlayedRun]:
    run = PlayedRun(tmp_path)
    yield run
    run.end()
