"""The contract, over every body and every handle on one that there is."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.body.choices import choice
from tests.body.contract import (
    STILL,
    BodyBench,
    CameraBench,
    Exposes,
    Focuses,
    Holds,
    IsSteered,
    Leaves,
    Settles,
    Shows,
)
from tether.body.local import LocalCamera
from tether.body.open import open_body, open_camera
from tether.body.protocol import CameraEvent
from tether.body.remote import CameraProcess
from tether.clock import AffineClock, SteppedClock

PACE = 200.0


@pytest.fixture(params=["local camera", "camera process"])
def camera(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[CameraBench]:
    box: queue.SimpleQueue[CameraEvent] = queue.SimpleQueue()
    clock = SteppedClock() if request.param == "local camera" else AffineClock.started_now(PACE)
    camera = open_camera(choice(tmp_path / "body", scene=STILL), clock, box)
    assert isinstance(camera, LocalCamera if request.param == "local camera" else CameraProcess)
    yield CameraBench(asked=camera, clock=clock, box=box, folder=tmp_path, truth=tmp_path / "body")
    camera.leave()


@pytest.fixture
def body(tmp_path: Path) -> BodyBench:
    clock = SteppedClock()
    return BodyBench(
        asked=open_body(choice(tmp_path / "body", scene=STILL), clock),
        clock=clock,
        folder=tmp_path,
        truth=tmp_path / "body",
    )


class TestBody(Settles, Exposes, Holds, Shows, Focuses, Leaves):
    """A body alone."""

    @pytest.fixture
    def bench(self, body: BodyBench) -> BodyBench:
        return body


class TestCamera(Settles, Exposes, Holds, Shows, Focuses, IsSteered, Leaves):
    """A camera in this process, and one in its own."""

    @pytest.fixture
    def bench(self, camera: CameraBench) -> CameraBench:
        return camera
