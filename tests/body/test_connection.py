"""How the body of a run is reached: which choice each way gives the camera process, and that it is always left."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.body.choices import ABILITIES
from tether.body import connection
from tether.body.bodyfile import load_body_file
from tether.body.connection import SIMULATED, Connection, at_port, opened_body, recording_in
from tether.body.open import BodyChoice
from tether.body.responder import keeper
from tether.body.responder.start import WireStart
from tether.body.simulated.world import World
from tether.clock import SteppedClock
from tether.errors import PlanError

EOS = load_body_file("canon-eos")
WORLD = World(seed=4)


@dataclass(frozen=True)
class Where:
    simulated: Path = Path("/run/truth")
    camera: Path = Path("/run/camera")
    words: Path | None = Path("/run/words.log")


class Camera:
    """A camera that is opened, and left."""

    def __init__(self) -> None:
        self.choices: list[BodyChoice] = []
        self.left = 0

    def leave(self) -> None:
        self.left += 1


@pytest.fixture
def camera(monkeypatch: pytest.MonkeyPatch) -> Camera:
    camera = Camera()

    def opened(choice: BodyChoice, clock: object, box: object) -> Camera:
        camera.choices.append(choice)
        return camera

    monkeypatch.setattr(connection, "open_camera", opened)
    return camera


def chosen(camera: Camera, reach: Connection, file: Any = EOS) -> BodyChoice:
    """Return what is opened for a way to reach a body."""
    with opened_body(reach, ABILITIES, file, WORLD, Where(), SteppedClock(), queue.SimpleQueue()):
        assert camera.left == 0
    assert camera.left == 1
    (choice,) = camera.choices
    return choice


def test_a_simulated_body_is_in_the_camera_process_and_has_no_link(camera: Camera) -> None:
    choice = chosen(camera, SIMULATED)
    assert choice == BodyChoice(
        abilities=ABILITIES, folder=Path("/run/truth"), world=WORLD, words=Path("/run/words.log")
    )


def test_a_camera_is_reached_by_its_port_and_its_body_file_and_knows_no_world(camera: Camera) -> None:
    choice = chosen(camera, Connection(way="camera", port="usb:001,004", model="A"))
    assert (choice.folder, choice.world, choice.words) == (Path("/run/camera"), None, Path("/run/words.log"))
    assert choice.link is not None
    assert (choice.link.profile, choice.link.port, choice.link.model) == (EOS.driver, "usb:001,004", "A")
    assert choice.link.staged_at is None


def test_one_on_the_wire_is_kept_while_its_driver_is_and_is_staged_beside_it(
    camera: Camera, monkeypatch: pytest.MonkeyPatch
) -> None:
    running: list[tuple[WireStart, Path]] = []

    @contextmanager
    def kept(start: WireStart, folder: Path) -> Iterator[Any]:
        running.append((start, folder))
        yield SimpleNamespace(path="ptpip:127.0.0.1:5", model="M", control=Path("/run/wire.sock"))
        assert camera.left == 1

    monkeypatch.setattr(keeper, "kept", kept)
    choice = chosen(camera, Connection(way="wire", dialect="nikon"))
    ((start, folder),) = running
    assert (start.dialect, folder) == ("nikon", Path("/run/truth"))
    assert start.choice == BodyChoice(abilities=ABILITIES, folder=Path("/run/truth"), world=WORLD)
    assert choice.link is not None
    assert (choice.link.port, choice.link.model) == ("ptpip:127.0.0.1:5", "M")
    assert choice.link.staged_at == Path("/run/wire.sock")
    assert (choice.folder, choice.world) == (Path("/run/camera"), None)


def test_it_is_left_when_the_block_fails(camera: Camera) -> None:
    with (
        pytest.raises(ZeroDivisionError),
        opened_body(SIMULATED, ABILITIES, EOS, WORLD, Where(), SteppedClock(), queue.SimpleQueue()),
    ):
        raise ZeroDivisionError
    assert camera.left == 1


@pytest.mark.parametrize("way", ["camera", "wire"])
def test_a_body_file_that_says_nothing_of_a_driver_is_named(
    camera: Camera, way: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    @contextmanager
    def kept(start: WireStart, folder: Path) -> Iterator[Any]:
        yield SimpleNamespace(path="", model="", control=Path("x"))

    monkeypatch.setattr(keeper, "kept", kept)
    mute = EOS.model_copy(update={"name": "Mute", "driver": None})
    with pytest.raises(PlanError, match=r"^Mute: this body file does not say how the body is spoken to"):
        chosen(camera, Connection(way=way), mute)
    assert camera.choices == []


def test_another_port_takes_the_place_of_the_one_that_was_and_none_leaves_it() -> None:
    reach = Connection(way="camera", port="usb:001,004")
    assert at_port(reach, EOS, "") is reach
    assert at_port(reach, EOS, "usb:001,009") == Connection(way="camera", port="usb:001,009")
    # On a network the library must be told what it is, and a port that is not the usual one is said twice.
    there = at_port(reach, EOS, "ptpip:192.168.1.5:4000")
    assert (there.port, there.model) == ("ptpip:192.168.1.5:4000:4000", "Canon EOS (WLAN)")
    with pytest.raises(PlanError, match="--model"):
        at_port(reach, EOS, "usb:001,009", "Canon EOS (WLAN)")


def test_only_where_it_is_asked_for_a_session_is_recorded_in_the_camera_process_own_folder(camera: Camera) -> None:
    choice = chosen(camera, Connection(way="camera", recorded=True))
    assert choice.link is not None
    assert choice.link.recorded_at == recording_in(Path("/run/camera")) == Path("/run/camera/recording.jsonl")


def test_else_nothing_is_recorded(camera: Camera) -> None:
    choice = chosen(camera, Connection(way="camera"))
    assert choice.link is not None
    assert choice.link.recorded_at is None


def test_a_simulated_body_has_no_session_to_be_recorded(camera: Camera) -> None:
    assert chosen(camera, Connection(recorded=True)).link is None
