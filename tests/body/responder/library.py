"""One session of the real camera library, in a process of its own: ``python library.py PATH MODEL DIALECT WHAT``.

A program of its own, because the library keeps settings of a process and closes its descriptor 0 when it leaves. What
came of it is one line of JSON.
"""

from __future__ import annotations

import hashlib
import json
import sys
import time
from typing import Any

import gphoto2 as gp

WITHIN_S = 5.0
OPENS = {"eos": ("eosremoterelease", "Press Full"), "eos-old": ("bulb", 1), "nikon": ("bulb", 1)}
CLOSES = {"eos": ("eosremoterelease", "Release Full"), "eos-old": ("bulb", 0), "nikon": ("bulb", 0)}
NAMES = {
    "eos": ("shutterspeed", "aperture", "iso"),
    "eos-old": ("shutterspeed", "aperture", "iso"),
    "nikon": ("shutterspeed2", "f-number", "iso"),
    "plain": ("shutterspeed", "f-number", "iso"),
}
WANTED = {"eos": ("1/8", "8", "200"), "eos-old": ("1/8", "8", "200"), "nikon": ("1/8", "f/8", "200")}
WANTED["plain"] = ("0.1250s", "f/8", "200")
BULB = {"eos": "bulb", "eos-old": "bulb", "nikon": "Bulb"}
SHOWN = {
    "eos": ("autoexposuremodedial", "focusmode", "drivemode", "imageformat", "batterylevel", "eosserialnumber"),
    "nikon": ("expprogram", "focusmode", "capturemode", "imagequality", "batterylevel", "longexpnr"),
    "plain": ("expprogram", "focusmode", "capturemode", "batterylevel"),
}
SHOWN["eos-old"] = SHOWN["eos"]


class Session:
    """A session that is open."""

    def __init__(self, path: str, model: str) -> None:
        known, ports = gp.CameraAbilitiesList(), gp.PortInfoList()
        known.load()
        ports.load()
        self.camera = gp.Camera()
        self.camera.set_abilities(known.get_abilities(known.lookup_model(model)))
        self.camera.set_port_info(ports.get_info(ports.lookup_path(path)))
        self.camera.init()

    def get(self, name: str) -> Any:
        return self.camera.get_single_config(name).get_value()

    def put(self, name: str, value: Any) -> None:
        widget = self.camera.get_single_config(name)
        widget.set_value(value)
        self.camera.set_single_config(name, widget)

    def names(self) -> list[str]:
        return [name for name, _ in self.camera.list_config().items()]

    def files(self, count: int) -> dict[str, str]:
        """Wait for files, and return what is in them, as a digest, by their names."""
        found: dict[str, str] = {}
        until_s = time.monotonic() + WITHIN_S
        while len(found) < count and time.monotonic() < until_s:
            kind, what = self.camera.wait_for_event(20)
            if kind == gp.GP_EVENT_FILE_ADDED:
                file = self.camera.file_get(what.folder, what.name, gp.GP_FILE_TYPE_NORMAL)
                found[what.name] = hashlib.sha256(bytes(file.get_data_and_size())).hexdigest()
        return found


def work(session: Session, dialect: str, files: int) -> dict[str, Any]:
    """Look around, take a timed frame, and hold one where that can be."""
    names = session.names()
    came: dict[str, Any] = {"names": names, "summary": session.camera.get_summary().text}
    if "capturetarget" in names:
        session.put("capturetarget", "Memory card")
    came["shown"] = {name: session.get(name) for name in SHOWN[dialect]}
    for name, value in zip(NAMES[dialect], WANTED[dialect], strict=True):
        session.put(name, value)
    came["read back"] = [session.get(name) for name in NAMES[dialect]]
    session.camera.trigger_capture()
    came["timed"] = session.files(files)
    if dialect in OPENS:
        session.put(NAMES[dialect][0], BULB[dialect])
        session.put(*OPENS[dialect])
        time.sleep(0.2)
        session.put(*CLOSES[dialect])
        came["held"] = session.files(files)
    return came


def memory(session: Session, dialect: str) -> dict[str, Any]:
    """Take a frame into the library's memory."""
    session.put("capturetarget", "Internal RAM")
    session.put(NAMES[dialect][0], WANTED[dialect][0])
    session.camera.trigger_capture()
    return {"timed": session.files(1)}


def stay(session: Session, dialect: str) -> None:
    """Hold the shutter open until killed."""
    session.put("capturetarget", "Memory card")
    session.put(NAMES[dialect][0], BULB[dialect])
    session.put(*OPENS[dialect])
    say("open")
    time.sleep(60)


def close(session: Session, dialect: str) -> dict[str, Any]:
    """Close the shutter that another session left open."""
    session.put("capturetarget", "Memory card")
    session.put(*CLOSES[dialect])
    return {"held": session.files(1)}


def say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main() -> None:
    path, model, dialect, what = sys.argv[1:5]
    session = Session(path, model)
    if what == "stay":
        stay(session, dialect)
    elif what == "work":
        say(json.dumps(work(session, dialect, int(sys.argv[5]))))
    else:
        say(json.dumps({"close": close, "memory": memory}[what](session, dialect)))
    session.camera.exit()


if __name__ == "__main__":
    main()
