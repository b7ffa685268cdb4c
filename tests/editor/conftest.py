"""A draft to begin, and one that is kept by a face."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.editor.rig import TEXT, Kept
from tether.control.client import Face
from tether.control.registry import running
from tether.editor.messages import (
    Start,
)


@pytest.fixture
def start(tmp_path: Path) -> Start:
    (tmp_path / "plan.toml").write_text(TEXT)
    (tmp_path / "world.toml").write_text("base_level_stops = -5.5\n[sensor]\nwindow_px = [240, 160]\n")
    return Start(
        path=str(tmp_path / "plan.toml"), world=str(tmp_path / "world.toml"), under=str(tmp_path / "outings"), pace=60
    )


@pytest.fixture
def kept(start: Start) -> Iterator[Kept]:
    kept = Kept(start)
    kept.keeper.open()
    yield kept
    kept.keeper.close()
    kept.keeper.wait()
    for run in running():
        if str(run.outing).startswith(start.under):
            with closing(Face.attach(run.socket)) as face:
                face.say("drop everything")
