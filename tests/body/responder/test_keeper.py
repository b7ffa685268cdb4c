"""Starting, keeping and ending a camera in a process of its own, and running one by hand."""

from __future__ import annotations

import dataclasses
import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.body.choices import really
from tests.body.responder.client import OK, Client, connected
from tests.body.responder.rig import started_with
from tether.body.protocol import Fitted, SceneChange
from tether.body.responder.keeper import LOG_NAME, WireCamera, kept, start
from tether.body.responder.start import WireHow, WireStart
from tether.body.wire import pack
from tether.errors import LostError

DIAL, FOCUS = 0xD138, 0xD108
#: Starts a camera as told on standard input, says so, and does nothing more.
KEEPER = """
import json, sys, time
from pathlib import Path
from tether.body.responder.keeper import start
from tether.body.wire import unpack
camera = start(unpack(json.loads(sys.stdin.readline())), Path(sys.argv[1]))
print(camera.port, flush=True)
time.sleep(60)
"""


def runs(camera: WireCamera) -> bool:
    try:
        connected(camera.port).close()
    except ConnectionError:
        return False
    return True


@contextmanager
def keeper_process(what: WireStart, folder: Path) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """Have another process keep a camera; killed at the end. Yields it and the camera's port."""
    with subprocess.Popen(
        [sys.executable, "-c", KEEPER, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(json.dumps(pack(what)) + "\n")
        process.stdin.flush()
        try:
            yield process, int(process.stdout.readline())
        finally:
            process.kill()


def test_a_camera_runs_is_told_what_the_person_does_and_stops(tmp_path: Path) -> None:
    how = WireHow(mode="Av", focus="af", two_files=True)
    with kept(started_with(tmp_path, "eos", how), tmp_path) as camera:
        assert camera.path == f"ptpip:127.0.0.1:{camera.port}:{camera.port}"
        assert camera.model == "Canon EOS (WLAN)"
        camera.tell("stage", SceneChange(fitted=(Fitted(name="Ten", stops=10.0),), capped=True))
        camera.tell("dial", "M")
        camera.tell("focus", "manual")
        camera.tell("press")
        with Client(camera.port) as client:
            told = {body[:4]: body[4:8] for code, body in client.begin_queue() if code == 0xC189}
            assert told[DIAL.to_bytes(4, "little")] == told[FOCUS.to_bytes(4, "little")] == b"\x03\0\0\0"
    assert [line["fitted"] for line in really(tmp_path, "staged")] == [["Ten"]]
    assert len(really(tmp_path, "opened")) == 1
    assert not runs(camera)
    assert not (tmp_path / "wire.json").exists()
    (begun,) = (tmp_path / LOG_NAME).read_text().splitlines()
    assert "starts" in begun
    camera.stop()
    with pytest.raises(LostError, match="gone"):
        camera.tell("press")


def test_a_camera_outlives_its_keeper_and_is_found_again_with_its_shutter_open(tmp_path: Path) -> None:
    what = started_with(tmp_path, "nikon")
    with keeper_process(what, tmp_path) as (keeper, port):
        with Client(port) as client:
            assert client.ask(0x1016, 0x500D, data=b"\xff" * 4).code == client.ask(0x9207, 0, 0).code == OK
        keeper.kill()
        keeper.wait()
    with kept(what, tmp_path) as again:
        assert (again.port, again.process) == (port, None)
        with pytest.raises(LostError, match="another dialect, nikon"):
            start(dataclasses.replace(what, dialect="eos"), tmp_path)
        with Client(port) as client:
            assert client.ask(0x920C, 0, 0).code == OK
    assert not runs(again)
    assert not (tmp_path / "wire.json").exists()
    assert len(really(tmp_path, "closed")) == 1


def test_a_camera_that_does_not_start_says_where_to_look(tmp_path: Path) -> None:
    (tmp_path / "state.json").write_text("not a state")
    with pytest.raises(LostError, match=LOG_NAME):
        start(started_with(tmp_path, "eos"), tmp_path)
    assert "state.json" in (tmp_path / LOG_NAME).read_text()


def test_by_hand_it_says_what_it_is_and_ends_with_an_interrupt(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tether.body.responder", "--dialect", "plain", "--folder", str(tmp_path / "c")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        try:
            said = process.stdout.readline()
            assert "simulated camera" in said
            with Client(int(said.rsplit(":", 1)[1])) as client:
                assert client.ask(0x1004).code == OK
            os.kill(process.pid, signal.SIGINT)
            assert process.wait(5) == 0
            talk = process.stderr.read()
        finally:
            process.kill()
    assert "no camera" in talk
    assert "PTP/IP Camera" in talk
    assert (tmp_path / "c" / "observer.jsonl").exists()


def test_by_hand_a_wrong_world_is_said_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "world.toml").write_text("sede = 1\n")
    command = [sys.executable, "-m", "tether.body.responder", "--world", str(tmp_path / "world.toml")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=20, check=False)
    assert done.returncode == 1
    assert "world.toml" in done.stderr
    assert "Traceback" not in done.stderr
