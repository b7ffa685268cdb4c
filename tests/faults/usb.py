"""Cells on a mocked USB bus: cable, claim, address, permission."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import ExitStack
from functools import cache
from pathlib import Path
from subprocess import Popen

from tests.faults.found import Left
from tests.usb.camera import NIKON, UsbCamera
from tests.usb.rig import Rig, on_usb, soon, why_not_here

#: Two short ones, and one that is held long enough for a cable to be pulled out meanwhile and put in again.
_HELD = ("1/60", "1/8", "8")
_TIMED = ("1/60", "1/8", "4")
_HOLD_IT = "import gphoto2 as gp, time\nc = gp.Camera()\nc.init()\ntime.sleep({seconds})\n"
_LOST = "Trying to reach it again"
_OVER_WITHIN_S = 200.0

why_not = cache(why_not_here)
Act = Callable[[Rig, UsbCamera, ExitStack], None]
#: What is wrong, and how it went in a line.
Came = tuple[list[str], str]


def _out(place: str | None = "1-1", *, frame: int = 3) -> Act:
    """Pull the cable out while a frame is exposed; it comes back at a place (None: never)."""

    def act(rig: Rig, camera: UsbCamera, _: ExitStack) -> None:
        _until_open(camera, frame)
        camera.unplug()
        soon(lambda: rig.noted(_LOST))
        if place is not None:
            camera.plug(place)
            return
        soon(lambda: any(turn.what == "see to the camera" for turn in rig.ladder().turns), within_s=_OVER_WITHIN_S)
        rig.tether("stop", rig.outing, "--now")

    return act


def _until_open(camera: UsbCamera, frame: int) -> None:
    soon(lambda: any(one.frame == frame for one in camera.seen()))


def _twice(rig: Rig, camera: UsbCamera, stack: ExitStack) -> None:
    _out("1-3")(rig, camera, stack)
    time.sleep(2.0)
    camera.unplug()
    time.sleep(3.0)
    camera.plug("1-4")


def _between(_: Rig, camera: UsbCamera, __: ExitStack) -> None:
    soon(lambda: any(one.frame == 2 and one.shutter_closed_ns for one in camera.seen()))
    camera.unplug()
    time.sleep(4.0)
    camera.plug("1-2")


def _another_first(rig: Rig, camera: UsbCamera, stack: ExitStack) -> None:
    _until_open(camera, 3)
    camera.unplug()
    other = rig.camera(NIKON).plug("1-2")
    soon(lambda: rig.noted("is not the camera of this ladder"))
    camera.plug("1-1")
    stack.callback(lambda: _untouched(other))


def _untouched(other: UsbCamera) -> None:
    assert other.seen() == [], "another camera was worked with"


def _claimed(rig: Rig, camera: UsbCamera, stack: ExitStack) -> None:
    """Have another program hold the camera when it comes back, for a while."""
    _until_open(camera, 3)
    camera.unplug()
    soon(lambda: rig.noted(_LOST))
    camera.plug("1-1")
    stack.enter_context(rig.begun_python(_HOLD_IT.format(seconds=12)))


def _deaf(_: Rig, camera: UsbCamera, __: ExitStack) -> None:
    _until_open(camera, 3)
    camera.deaf = True


def _worked(
    act: Act, times: tuple[str, ...] = _HELD, *, longest_s: float = 0.25, back: bool = True, leaves: bool = False
) -> Callable[[Path], Came]:
    """Return what runs a ladder on USB, acts, and looks at what is left; `back`: the camera comes back by itself."""

    def run(root: Path) -> Came:
        root.mkdir(parents=True, exist_ok=True)
        with on_usb(root) as rig:
            camera = rig.camera(leaves_at_reset=leaves, longest_s=longest_s).plug("1-1")
            plan = rig.plan(camera.kind, times, longest=f"{longest_s:g}" if longest_s > 1 else "1/4", base="1/4")
            command = ("run", plan, "--outing", rig.outing, "--port", camera.port)
            with ExitStack() as stack:
                process: Popen[str] = stack.enter_context(rig.begun(*command))
                act(rig, camera, stack)
                soon(rig.over, within_s=_OVER_WITHIN_S)
                process.communicate(timeout=60)
            by_itself = rig.ladder().outcome
            problems, line = [], f"code {process.returncode}, {by_itself}"
            if back and by_itself != "done":
                problems.append(f"it did not heal by itself: {rig.ladder().note}")
            if not back:
                camera.plug("1-1")
            if by_itself != "done":
                again = rig.tether("run", rig.outing, "--port", camera.port, within_s=_OVER_WITHIN_S)
                line += f"; gone on with, code {again.code}"
            camera.seen()
            left = Left(rig.outing, body=camera.folder)
            return problems + left.lost() + left.unfinished(), f"{line}; {left.summary()}"

    return run


def _refused(hold: bool) -> Callable[[Path], Came]:
    """Return what begins a ladder on a camera that is held by another program, or may not be opened."""

    def run(root: Path) -> Came:
        root.mkdir(parents=True, exist_ok=True)
        root.parent.chmod(0o755)
        with on_usb(root) as rig, ExitStack() as stack:
            camera = rig.camera().plug("1-1", mode=0o666 if hold else 0o600)
            plan = rig.plan(camera.kind, _HELD, base="1/4")
            if hold:
                stack.enter_context(rig.begun_python(_HOLD_IT.format(seconds=90)))
                soon(lambda: camera.there and camera.there.node.claimed)
                said = rig.tether("run", plan, "--outing", rig.outing)
                words = "Another program is using the camera"
            else:
                said = rig.unprivileged("run", plan, "--outing", "outing")
                words = "This account may not open the camera"
            problems = [] if said.code == 3 else [f"exit code {said.code}: {said.words}"]
            problems += [] if words in said.words else [f"it says: {said.words}"]
            problems += ["it was exposed all the same"] if camera.seen() else []
            return problems, f"code {said.code}, nothing made"

    return run


CELLS: dict[str, Callable[[Path], Came]] = {
    "cable out in a hold, back elsewhere": _worked(_out("1-3")),
    "cable out in a hold, back at its place": _worked(_out()),
    "cable out in a timed frame": _worked(_out(), _TIMED, longest_s=4.0),
    "cable out in a short frame": _worked(_out(frame=2)),
    "cable out between frames": _worked(_between),
    "cable out twice": _worked(_twice),
    "cable never back": _worked(_out(None), back=False),
    "another camera at its place": _worked(_another_first),
    "held by another program when it is back": _worked(_claimed),
    "out of step, address kept at reset": _worked(_deaf),
    "out of step, another address after reset": _worked(_deaf, leaves=True),
    "held by another program at the beginning": _refused(hold=True),
    "may not be opened": _refused(hold=False),
}
