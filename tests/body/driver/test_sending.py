"""The library's log tells when the operation that opens or closes went out."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.body.driver.on_wire import on_wire
from tests.body.responder.observed import observed
from tether.body.bodyfile import load_body_file
from tether.body.dialects import Dialect
from tether.body.driver.release import usable
from tether.body.driver.sending import Sendings
from tether.body.driver.session import Session


@pytest.mark.parametrize(("dialect", "file"), [("eos", "canon-eos"), ("nikon", "nikon")])
def test_what_opens_and_closes_is_heard_when_the_camera_sees_it(tmp_path: Path, dialect: Dialect, file: str) -> None:
    """Between its call and what the camera itself wrote down, which can only be later."""
    profile = load_body_file(file).driver
    assert profile is not None
    sendings = Sendings()
    with on_wire(tmp_path, dialect) as wire:
        session = Session(wire.camera.path, wire.camera.model)
        way = usable(session, profile.release)
        assert way is not None
        session.write("shutterspeed", session.read("shutterspeed").choices[-1], "set the time")
        sent_ns = []
        for commands, operations in ((way.open, way.opens_with), (way.close, way.closes_with)):
            (write,) = [session.prepared(one.entry, one.value, "release") for one in commands]
            sendings.listen()
            called_ns = time.monotonic_ns()
            write()
            sent_ns.append((called_ns, sendings.sent_ns(operations)))
            sendings.stop()
        session.end()
        (seen,) = observed(wire.truth)
    for (called_ns, told_ns), seen_ns in zip(sent_ns, (seen.opened_ns, seen.closed_ns), strict=True):
        assert told_ns is not None
        assert seen_ns is not None
        assert called_ns < told_ns < seen_ns


def test_the_library_calls_nobody_who_is_gone() -> None:
    """Left listening and dropped: the next line of the library's log ended the process with a segmentation fault."""
    script = (
        "import gc, gphoto2\n"
        "from tether.body.driver.sending import Sendings\n"
        "sendings = Sendings()\n"
        "sendings.listen()\n"
        "del sendings\n"
        "gc.collect()\n"
        "noise = [bytes(4096) for _ in range(1000)]\n"
        "print(len(gphoto2.Camera.autodetect()))\n"
    )
    done = subprocess.run([sys.executable, "-P", "-c", script], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (0, "0\n"), done.stderr


def test_nothing_is_known_before_and_heard_after_listening() -> None:
    sendings = Sendings()
    sendings.listen()
    sendings.stop()
    assert sendings.sent_ns([0x9207]) is None
