"""A draft to begin, and one that is kept by a face."""

from __future__ import annotations
import os
import queue
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TypeVar
import pytest
from PIL import Image
from tests.plan.plans import HEAD
from tests.editor.rig import SOON_S, TEXT, Kept, N
from tether.control.client import Face
from tether.control.registry import running
from tether.desk.draft import Known, after
from tether.editor.client import Drafting
from tether.editor.messages import (
    Begin,
    Begun,
    Check,
    Checked,
    Drafted,
    DraftFrame,
    EditorEvent,
    EditorRequest,
    Expose,
    Find,
    FromCamera,
    Halt,
    Leave,
    Nudge,
    PictureShown,
    Save,
    SetRegion,
    ShowLive,
    Start,
    Undo,
    WishAnswer,
    decode_news,
    decode_start,
    decode_wish,
    encode,
)
from tether.editor.process import DraftProcess, Wished
from tether.files.state import state_folder
from tether.plan.file import plan_from_text, read_plan


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
