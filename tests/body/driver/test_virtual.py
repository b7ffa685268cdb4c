"""The driver in its camera process on libgphoto2's own virtual USB camera: identify, list, set, read back, fetch.

It can't expose in a meaningful way, so of the contract it is put through what it can pass.
"""

from __future__ import annotations

import queue
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from tests.body.driver.virtual import NAME, make_card, virtual_choice
from tether.body import remote
from tether.body.protocol import CameraEvent, Failed, Order, Settings
from tether.body.remote import CameraProcess
from tether.clock import AffineClock
from tether.errors import CameraError, LostError, TetherError

SET = Settings(time="1/20", aperture="f/8", iso="100")


@pytest.fixture
def box() -> queue.SimpleQueue[CameraEvent]:
    return queue.SimpleQueue()


@pytest.fixture
def camera(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, box: queue.SimpleQueue[CameraEvent]
) -> Iterator[CameraProcess]:
    monkeypatch.setenv("VCAMERADIR", str(make_card(tmp_path / "card")))
    monkeypatch.setenv("HOME", str(tmp_path))
    camera = CameraProcess(virtual_choice(tmp_path / "body"), AffineClock.started_now(1.0), box)
    yield camera
    camera.leave()


def test_it_says_who_it_is(camera: CameraProcess) -> None:
    identity = camera.identify()
    assert "D750" in identity.model
    assert identity.serial
    assert identity.simulated


def test_it_lists_sets_and_reads_back(camera: CameraProcess) -> None:
    offers = camera.offers()
    assert {"1/20", "1"} <= set(offers.times)
    assert {"f/2.8", "f/11"} <= set(offers.apertures)
    read = camera.apply(SET)
    assert (read.settings.time, read.settings.aperture) == ("1/20", "f/8")
    assert read.time_s == pytest.approx(2 ** (-13 / 3))
    assert read.aperture == 8.0
    assert camera.read_back() == read


def test_a_value_beside_the_list_is_refused_not_rounded(camera: CameraProcess) -> None:
    """The library itself takes the nearest value without a word: `1/15` would become 1/20 s."""
    camera.apply(SET)
    with pytest.raises(CameraError, match="1/15"):
        camera.apply(Settings(time="1/15", aperture="f/8", iso="100"))
    assert camera.read_back().settings.time == "1/20"


def test_it_is_put_back_as_it_was_found(camera: CameraProcess) -> None:
    before = camera.read_back()
    camera.apply(SET)
    assert camera.put_back() == ()
    assert camera.read_back() == before


def test_its_files_are_listed_and_fetched_whole(camera: CameraProcess, tmp_path: Path) -> None:
    (file,) = camera.card_files()
    assert (file.name, file.number) == (NAME, 1)
    size = camera.fetch(file, tmp_path / "fetched.jpg")
    assert (tmp_path / "fetched.jpg").read_bytes() == (tmp_path / "card" / NAME).read_bytes()
    assert size == (tmp_path / "card" / NAME).stat().st_size
    with Image.open(tmp_path / "fetched.jpg") as picture:
        assert picture.size == (64, 48)
    with pytest.raises(TetherError):
        camera.fetch(file, tmp_path / "no folder" / "x.jpg")


def test_it_can_not_be_held_and_says_why(camera: CameraProcess) -> None:
    offers = camera.offers()
    assert offers.held_by is None
    assert offers.why_not_held


def test_leaving_ends_the_session(camera: CameraProcess) -> None:
    camera.leave()
    camera.leave()
    with pytest.raises(LostError):
        camera.status()


def test_a_capture_that_hangs_is_given_up_and_the_camera_reached_again(
    camera: CameraProcess, box: queue.SimpleQueue[CameraEvent], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With no picture to copy, the virtual camera's capture never comes back."""
    monkeypatch.setattr(remote, "ALLOW_S", 0.5)
    monkeypatch.setattr(remote, "END_WITHIN_S", 0.2)
    camera.apply(SET)
    (tmp_path / "card" / NAME).unlink()
    camera.begin(Order(frame=1, way="timed", command_s=0.05))
    told = box.get(timeout=30)
    while not isinstance(told, Failed):
        told = box.get(timeout=30)
    assert told.kind == "lost"
    with pytest.raises(LostError):
        camera.status()
    monkeypatch.undo()
    monkeypatch.setenv("VCAMERADIR", str(make_card(tmp_path / "card")))
    camera.reach_again()
    assert "D750" in camera.identify().model
