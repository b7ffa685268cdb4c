"""The real camera library against each dialect, one process a session."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.body.responder.observed import observed
from tests.body.responder.rig import started_with
from tether.body.dialects import Dialect
from tether.body.responder.keeper import WireCamera, kept
from tether.body.responder.start import WireHow

DIALECTS: tuple[Dialect, ...] = ("eos", "eos-old", "nikon", "plain")
LIBRARY = Path(__file__).with_name("library.py")
HELD_BY: dict[Dialect, str] = {"eos": "eosremoterelease", "eos-old": "bulb", "nikon": "bulb"}
SHOWN = {
    "eos": ["Manual", "Manual", "Single", "RAW + L", "100%", "WIRE1"],
    "nikon": ["M", "Manual", "Single Shot", "NEF+Fine", "100%", "Off"],
    "plain": ["M", "Manual", "Single Shot", "100%"],
}
SHOWN["eos-old"] = SHOWN["eos"]
READ_BACK = {"eos": ["1/8", "8", "200"], "nikon": ["1/8", "f/8", "200"], "plain": ["0.1250s", "f/8", "200"]}
READ_BACK["eos-old"] = READ_BACK["eos"]


@pytest.fixture(params=DIALECTS)
def dialect(request: pytest.FixtureRequest) -> Dialect:
    given: Dialect = request.param
    return given


@pytest.fixture
def camera(tmp_path: Path, dialect: Dialect) -> Iterator[WireCamera]:
    folder = tmp_path / "camera"
    with kept(started_with(folder, dialect, WireHow(two_files=True)), folder) as camera:
        yield camera


def session(camera: WireCamera, home: Path, dialect: Dialect, *what: str) -> subprocess.Popen[str]:
    """Start a session of the library that does something."""
    return subprocess.Popen(
        [sys.executable, str(LIBRARY), camera.path, camera.model, dialect, *what],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"HOME": str(home), "XDG_CONFIG_HOME": str(home), "LC_ALL": "C", "LANGUAGE": ""},
    )


def result(camera: WireCamera, home: Path, dialect: Dialect, *what: str) -> dict[str, Any]:
    """Have a session do something, and return what came of it."""
    with session(camera, home, dialect, *what) as process:
        said, _ = process.communicate(timeout=30)
        assert process.returncode == 0
    came: dict[str, Any] = json.loads(said)
    return came


def on_card(folder: Path, number: int) -> dict[str, str]:
    """Return what is in the files of a frame, as a digest, by their names."""
    files = sorted((folder / "camera" / "wire").glob(f"SIM_{number:04}.*"))
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in files}


def test_a_session_looks_around_takes_a_frame_and_holds_one(
    camera: WireCamera, tmp_path: Path, dialect: Dialect
) -> None:
    came = result(camera, tmp_path, dialect, "work", "2")
    assert "imulated" in came["summary"]
    assert list(came["shown"].values()) == SHOWN[dialect]
    assert came["read back"] == READ_BACK[dialect]
    assert came["timed"] == on_card(tmp_path, 1)
    assert sorted(came["timed"]) == ["SIM_0001.DNG", "SIM_0001.JPG"]
    seen = observed(tmp_path / "camera")
    assert [(one.time, one.aperture, one.iso) for one in seen[:1]] == [("1/8", "f/8", "200")]
    if dialect in HELD_BY:
        assert HELD_BY[dialect] in came["names"]
        assert came["held"] == on_card(tmp_path, 2)
        assert [one.held for one in seen] == [False, True]
        assert seen[1].held_s is not None
        assert seen[1].held_s >= 0.2


@pytest.mark.parametrize("dialect", ["eos", "nikon"])
def test_a_session_that_is_killed_leaves_the_shutter_open_and_the_next_closes_it(
    camera: WireCamera, tmp_path: Path, dialect: Dialect
) -> None:
    with session(camera, tmp_path, dialect, "stay") as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "open\n"
        process.kill()
    came = result(camera, tmp_path, dialect, "close")
    assert came["held"].items() <= on_card(tmp_path, 1).items()
    assert len(came["held"]) == 1


@pytest.mark.parametrize("dialect", ["eos", "nikon"])
def test_a_frame_can_go_to_the_library_s_memory(camera: WireCamera, tmp_path: Path, dialect: Dialect) -> None:
    came = result(camera, tmp_path, dialect, "memory")
    (digest,) = came["timed"].values()
    assert digest in on_card(tmp_path, 1).values()
    assert all(name.startswith("capt") for name in came["timed"])
