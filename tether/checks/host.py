"""What this machine is like for a run: disk, cable, real-time scheduling, power, variables. Checks only."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from importlib.util import find_spec
from pathlib import Path

from tether.body.connected import Connected, connected, the_known, the_one
from tether.body.driver.known import KnownBody
from tether.body.network import is_on_network
from tether.body.protocol import Finding
from tether.body.scheduling import undisturbed
from tether.checks.findings import note, ok, stop
from tether.checks.host_clocks import WallClock, clock_sentence, clock_trusted
from tether.checks.sleep import Inhibition
from tether.errors import CameraError

#: So much more room than the frames need by themselves: previews, journal, a frame more than planned.
ROOM_FACTOR = 1.2
#: File systems without a journal of their own: what is being written when the power fails may be lost.
FAT = ("vfat", "msdos", "exfat")
#: A variable that gives the camera library one camera that is none; and two that lead it to other parts of itself.
SPOILING = ("VCAMERADIR",)
LEADING_ASTRAY = ("CAMLIBS", "IOLIBS")
#: What the bits of `vcgencmd get_throttled` say (Raspberry Pi documentation).
_THROTTLED = {
    0: "the supply is too weak now",
    2: "it is slowed down now",
    16: "the supply was too weak since it was started",
    18: "it was slowed down since it was started",
}
_MOUNTS = Path("/proc/self/mountinfo")
_MEGABYTE, _GIGABYTE = 1e6, 1e9


@dataclass(frozen=True, kw_only=True)
class Disk:
    """Where an outing lies: free room [bytes], its file system (empty: not known), whether it can be written."""

    free_bytes: int
    kind: str
    writable: bool


def disk_at(path: Path, mounts: Path = _MOUNTS) -> Disk:
    """Return the disk that holds a path, which need not be there yet."""
    there = _nearest(path)
    found = os.statvfs(there)
    writable = not found.f_flag & os.ST_RDONLY and os.access(there, os.W_OK)
    return Disk(free_bytes=found.f_bavail * found.f_frsize, kind=_kind(there.resolve(), mounts), writable=writable)


def _kind(folder: Path, mounts: Path) -> str:
    """Return the kind of the file system at a folder, from proc(5), mountinfo: fields before and after a lone ``-``."""
    kinds: dict[Path, str] = {}
    try:
        for line in mounts.read_text(encoding="utf-8", errors="replace").splitlines():
            before, _, after = line.partition(" - ")
            kinds[Path(before.split()[4].replace("\\040", " "))] = after.split()[0]
    except (OSError, IndexError):
        return ""
    return next((kinds[place] for place in (folder, *folder.parents) if place in kinds), "")


def disk(found: Disk, frames: int, frame_bytes: int | None) -> Finding:
    """Hold the room on the disk against the frames of a ladder."""
    free = f"{_amount(found.free_bytes)} free"
    if not found.writable:
        return stop("disk", "The outing's folder can't be written: choose another place, or repair the disk.")
    if frame_bytes is None:
        return note("disk", f"{free}; how large a frame of this body is, is not known: {frames} are made.")
    needed = frames * frame_bytes * ROOM_FACTOR
    need = f"{frames} frames need {_amount(needed)}"
    if found.free_bytes < needed:
        return stop("disk", f"{free}, {need}: make room, or choose another disk.")
    if found.kind in FAT:
        remedy = "it has no journal, so take it off only after the run, never under it; ext4 is safer."
        return note("disk", f"{free}, {need}. The file system is {found.kind}: {remedy}")
    return ok("disk", f"{free}, {need}.")


def second_disk(under: Path, outing: Path, frames: int, frame_bytes: int | None) -> Finding:
    """Look at the folder that a second copy goes to: whether it is there, on another disk, and has room."""
    what, outing = "second copy", outing.resolve()
    if not under.is_dir():
        remedy = "Connect that disk, or change copy_to in the plan's [run]."
        return stop(what, f"The folder {under} is not there. {remedy}")
    if (under.resolve() / outing.name).is_relative_to(outing) or outing.is_relative_to(under.resolve() / outing.name):
        return stop(what, f"In {under} the copy would lie in the outing itself: choose a folder on another disk.")
    found = disk(disk_at(under), frames, frame_bytes)
    if found.verdict == "stop":
        return stop(what, f"At {under}: {found.sentence}")
    if under.stat().st_dev == _nearest(outing).stat().st_dev:
        return note(what, f"{under} is on the same disk as the outing: if that disk fails, both are lost.")
    return replace(found, what=what, sentence=f"At {under}: {found.sentence}")


def _nearest(path: Path) -> Path:
    """Return a path, or the nearest of the folders above it that is there."""
    return next(folder for folder in (path.absolute(), *path.absolute().parents) if folder.is_dir())


def _amount(size_bytes: float) -> str:
    return f"{size_bytes / _GIGABYTE:.1f} GB" if size_bytes >= _GIGABYTE / 10 else f"{size_bytes / _MEGABYTE:.0f} MB"


def connection(
    port: str, cameras: Iterable[Connected] | None = None, known: KnownBody | None = None
) -> tuple[Finding, ...]:
    """Look at the camera's cable before it is opened: whether it is there, this account may, and nobody else has it.

    Parameters
    ----------
    port
        Where the camera is meant to be; empty: the only one there is. One on a network is not looked for.
    cameras
        The cameras that are connected; None: looked for.
    known
        The body that the ladder was begun on, which is taken wherever it is, and no other; None: none is known.
    """
    if is_on_network(port):
        return ()
    try:
        there = connected() if cameras is None else cameras
        camera = the_known(there, known, port) if known else the_one(there, port)
    except CameraError as error:
        return (stop("connection", str(error)),)
    return (ok("connection", f"{camera.model} at {camera.port}: nothing is in the way of opening it."),)


def real_time() -> Finding:
    """Look whether real-time scheduling is allowed, by asking for it for a moment."""
    with undisturbed(realtime=True) as granted:
        pass
    if granted:
        return ok("real time", "Real-time scheduling is allowed during bulb exposures.")
    remedy = "a line “@you - rtprio 20” in /etc/security/limits.d/tether.conf allows it."
    return note("real time", f"Not allowed: on a busy machine a bulb exposure may be some ms longer; {remedy}")


def awake(inhibition: Inhibition) -> Finding:
    """Say whether the machine is kept awake."""
    return (ok if inhibition.held else note)("sleep", inhibition.sentence)


def wall_clock(clock: WallClock) -> Finding:
    """Say whether the wall clock can be believed."""
    return (ok if clock_trusted(clock) else note)("clock", clock_sentence(clock))


def variables(environment: Mapping[str, str] = os.environ, own: Path | None = None) -> Finding:
    """Look for variables that would lead the camera library elsewhere.

    `own` is the folder of the parts that came with its binding (None: looked for): where there is one, it goes by them.
    """
    there = (_own_parts() if own is None else own).is_dir()
    set_ones = [name for name in (SPOILING if there else (*SPOILING, *LEADING_ASTRAY)) if environment.get(name)]
    if not set_ones:
        return ok("variables", "None is set that leads the camera library elsewhere.")
    return note("variables", f"{', '.join(set_ones)} set: the camera library will not see its cameras; unset that.")


def spoilt(environment: Mapping[str, str] = os.environ) -> str | None:
    """Return the variable by which the camera library has a camera that is none; None where it is not set."""
    return next((name for name in SPOILING if environment.get(name)), None)


def _own_parts() -> Path:
    found = find_spec("gphoto2")
    return Path(found.origin if found and found.origin else "/nowhere").parent / "libgphoto2"


def power(ask: Callable[[], str | None] | None = None) -> tuple[Finding, ...]:
    """Look at the supply of a Raspberry Pi; nothing elsewhere. `ask` gives what ``vcgencmd get_throttled`` says."""
    said = (ask or _throttled)()
    if said is None:
        return ()
    try:
        bits = int(said.strip().partition("=")[2], 16)
    except ValueError:
        return (note("power", "This machine does not tell how it is supplied."),)
    found = [words for bit, words in _THROTTLED.items() if bits >> bit & 1]
    if not found:
        return (ok("power", "The machine's supply was strong enough since it was started."),)
    remedy = "Use a stronger supply and cable, and charge no camera from it."
    return (note("power", f"Of this machine: {'; '.join(found)}. {remedy}"),)


def _throttled() -> str | None:
    command = shutil.which("vcgencmd")
    if command is None:
        return None
    words = [command, "get_throttled"]
    try:
        done = subprocess.run(words, capture_output=True, text=True, timeout=2.0, check=False)  # noqa: S603 - as found
        return done.stdout
    except (OSError, subprocess.TimeoutExpired):
        return ""
