"""What runs on this machine: a folder of the user's own, where every run has its socket and a note of what it is.

The folder is ``$XDG_RUNTIME_DIR/tether``, else ``/tmp/tether-UID``. The runtime folder that systemd gives,
``/run/user/UID``, is used only where the user lingers: otherwise it is removed when the last session ends, which may be
a dropped connection, and a run goes on after that. Faces look in both then.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import pwd
import socket
import stat
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from tether.errors import PlanError, TetherError
from tether.files.errors import disk_sentences
from tether.files.safe import safe_write
from tether.journal.codec import adapter_of

#: A path to a socket may have this many bytes (Linux: `sun_path` of unix(7), less its closing zero).
LONGEST_PATH = 107
#: A note that nobody answers for is removed when it is older than this [s].
SWEPT_AFTER_S = 3600.0
#: How long is waited for a socket to take a connection [s].
ANSWERS_WITHIN_S = 1.0
_LINGERING = Path("/var/lib/systemd/linger")


@dataclass(frozen=True, kw_only=True)
class Running:
    """A run that is going on: the outing's folder and title, its processes by name, and the socket for faces."""

    outing: Path
    title: str
    pids: dict[str, int]
    socket: Path

    @property
    def is_over(self) -> bool:
        """Whether its guard is gone, so that nothing will start it again."""
        try:
            state = Path(f"/proc/{self.pids['guard']}/stat").read_text().rpartition(")")[2].split()[0]
        except (OSError, KeyError, IndexError):
            return True
        return state in ("Z", "X")  # it has ended, and whoever started it has not looked yet


def runtime_folders() -> tuple[Path, ...]:
    """Return where sockets may be, the place for new ones first."""
    fallback = Path(f"/tmp/tether-{os.getuid()}")  # noqa: S108 - its owner and mode are checked before use
    given = os.environ.get("XDG_RUNTIME_DIR", "")
    if not given.startswith("/") or not Path(given).is_dir():
        return (fallback,)
    runtime = Path(given) / "tether"
    if Path(given) != Path(f"/run/user/{os.getuid()}"):
        return (runtime,)
    return (runtime, fallback) if _lingers() else (fallback, runtime)


def live_path() -> Path:
    """Return where a draft's live picture is, while there is one; see :mod:`tether.editor`."""
    return runtime_folders()[0] / "live.jpg"


def own_folder(folder: Path) -> Path:
    """Make a folder that only this user can enter, or check that it is one, and return it.

    Raises
    ------
    PlanError
        If it is a link, somebody else's, or open to others: what is in it cannot be trusted then.
    SupplyError, PlanError, LostError
        If it cannot be made.
    """
    with disk_sentences(folder):
        with contextlib.suppress(FileExistsError):
            folder.mkdir(mode=0o700)
        found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode):
        raise PlanError(f"{folder} must be a folder and not a link; remove it, it is made anew.")
    if found.st_uid != os.getuid():
        raise PlanError(f"{folder} belongs to somebody else and is not used; it must be yours. Have it removed.")
    if stat.S_IMODE(found.st_mode) & 0o077:
        raise PlanError(f"{folder} is open to others and is not used; remove it, or close it: chmod 700 {folder}")
    return folder


def announce(outing: Path, title: str, pids: Mapping[str, int]) -> Path:
    """Leave a note of a run for the faces and return the path for its socket.

    Parameters
    ----------
    outing
        The outing's folder.
    title
        As people know it.
    pids
        The processes of the run by name, for people.

    Raises
    ------
    PlanError, SupplyError, LostError
        If the runtime folder cannot be used.
    """
    whole = outing.resolve()
    folder = own_folder(runtime_folders()[0])
    _sweep(folder)
    path = folder / f"{hashlib.sha256(os.fsencode(whole)).hexdigest()[:12]}.socket"
    note = {"outing": str(whole), "title": title, "pids": dict(pids), "socket": str(path)}
    safe_write(_note_path(path), json.dumps(note, ensure_ascii=False).encode(errors="replace"))
    return path


def _sweep(folder: Path) -> None:
    """Remove notes of runs that were killed, once they are old: a run that is starting does not answer yet."""
    for note in _notes(folder):
        with contextlib.suppress(OSError):
            old = time.time() - _note_path(note.socket).stat().st_mtime > SWEPT_AFTER_S
            if old and not answers(note.socket):
                note.socket.unlink(missing_ok=True)
                withdraw(note.socket)


def withdraw(path: Path) -> None:
    """Remove the note of a run that is over, given its socket's path."""
    with contextlib.suppress(OSError):
        _note_path(path).unlink()


def answers(path: Path) -> bool:
    """Say whether somebody listens at a socket's path. A run that is too busy to take the connection counts."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as end:
        end.settimeout(ANSWERS_WITHIN_S)
        try:
            end.connect(os.fspath(path))
        except (ConnectionRefusedError, FileNotFoundError):
            return False
        except OSError:
            return path.is_socket()
    return True


def running() -> tuple[Running, ...]:
    """Return the runs that are going on, in the order of their outings' paths."""
    notes = (note for folder in runtime_folders() for note in _notes(folder))
    return tuple(sorted((note for note in notes if answers(note.socket)), key=lambda note: note.outing))


def find(name: str | Path | None) -> Running:
    """Return the run that is meant.

    Parameters
    ----------
    name
        The outing's folder, its name, or its title; None: the only one that runs.

    Raises
    ------
    PlanError
        If none runs, several do (they are listed), or none of that name.
    """
    runs = running()
    if not runs:
        raise PlanError("Nothing is running. Start a run with: tether run PLAN")
    meant = runs if name is None else tuple(one for one in runs if _is_meant(one, str(name)))
    if len(meant) == 1:
        return meant[0]
    listed = "".join(f"\n  {one.outing}  ({one.title})" for one in meant or runs)
    if meant:
        raise PlanError(f"{len(meant)} runs match; pick one by its folder:{listed}")
    raise PlanError(f'No run is called "{name}"; running:{listed}')


def _is_meant(run: Running, name: str) -> bool:
    return name in (run.outing.name, run.title) or Path(name).resolve() == run.outing


def _note_path(path: Path) -> Path:
    return path.with_suffix(".json")


def _notes(folder: Path) -> list[Running]:
    """Read the notes in a folder; one that cannot be trusted or read is none."""
    if not folder.exists():
        return []
    notes = []
    with contextlib.suppress(TetherError):
        for path in own_folder(folder).glob("*.json"):
            with contextlib.suppress(OSError, ValueError):
                notes.append(adapter_of(Running).validate_json(path.read_bytes()))
    return notes


def _lingers() -> bool:
    """Say whether what belongs to the user stays when the last session ends (systemd: loginctl(1))."""
    try:
        return (_LINGERING / pwd.getpwuid(os.getuid()).pw_name).exists()
    except (KeyError, OSError):
        return False
