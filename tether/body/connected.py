"""The cameras that are connected: what they are, what keeps them from being opened, and which body files fit them."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass

from tether.body.bodyfile import BodyFile, load_body_file
from tether.body.driver.known import KnownBody
from tether.body.driver.reading import matches
from tether.body.driver.usb import UsbDevice, find_devices, holders_of, refusal_of
from tether.body.layers import known_names
from tether.errors import CameraError, PlanError

#: What to look at where a camera is not found.
LOOK_AT = (
    "Is it switched on and awake, is the cable one for data and in at both ends, is its USB mode the one for remote"
    " control (its notes are where “tether setup” says), does “lsusb” list it?"
)


@dataclass(frozen=True, kw_only=True)
class Connected:
    """A camera that is connected.

    Attributes
    ----------
    model
        The camera library's name for it, or what it calls itself where the library does not know it.
    port
        Where it is, as the library writes it.
    hindrance
        Why it can't be opened, as far as can be seen, and what to do; None: nothing is in the way.
    device
        How Linux sees it; None: not on USB.
    """

    model: str
    port: str
    hindrance: str | None
    device: UsbDevice | None = None


def connected() -> tuple[Connected, ...]:
    """Return every camera on USB, those first that the camera library knows."""
    from tether.body.driver.session import cameras_found  # the camera library, which a run leaves to another process

    found, devices = cameras_found(), {device.port: device for device in find_devices()}
    known = {port for _, port in found}
    unknown = [(device.name, port) for port, device in devices.items() if port not in known]
    return tuple(
        Connected(
            model=model, port=port, device=devices.get(port), hindrance=_hindrance(devices.get(port), port in known)
        )
        for model, port in (*found, *unknown)
    )


def _hindrance(device: UsbDevice | None, is_known: bool) -> str | None:
    if device is None:
        return None
    if refusal := refusal_of(device):
        return refusal
    if holders := holders_of(device):
        return f"{', '.join(holders)} has it open: end that, or pull the cable out and in again."
    return None if is_known else "The camera library does not know it."


def the_one(cameras: Iterable[Connected], port: str = "") -> Connected:
    """Return the camera that is meant: the one at a port, or the only one there is.

    Raises
    ------
    CameraError
        If there is none, several are meant, or it can't be opened.
    """
    meant = [one for one in cameras if port in ("", one.port)]
    if not meant:
        raise CameraError(none_found(port))
    if len(meant) > 1:
        raise CameraError(f"{len(meant)} cameras are connected; say which: --port {' or '.join(o.port for o in meant)}")
    return _unhindered(meant[0])


def the_known(cameras: Iterable[Connected], known: KnownBody, port: str = "") -> Connected:
    """Return the camera that a ladder was begun on, wherever it is now; which of several it is, opening them tells.

    Raises
    ------
    CameraError
        If it is not there, or can't be opened; what is there in its place is named.
    """
    cameras = tuple(cameras)
    if not known.vendor:
        return the_one(cameras, port)
    meant = [one for one in cameras if one.device is not None and known.may_be(one.device)]
    if not meant:
        others = "".join(f" {one.model} at {one.port} is another camera and is left alone." for one in cameras)
        raise CameraError(f"The {known.model} that this ladder was begun on is not found.{others} {LOOK_AT}")
    return _unhindered(min(meant, key=lambda one: (one.port != port, one.hindrance is not None)))


def _unhindered(camera: Connected) -> Connected:
    if camera.hindrance:
        raise CameraError(f"{camera.model} at {camera.port}: {camera.hindrance}")
    return camera


def none_found(port: str = "") -> str:
    """Say that no camera was found, and what to look at."""
    where = f" at {port}" if port else ""
    return f"No camera is found{where}. {LOOK_AT}"


def fitting(model: str) -> tuple[str, ...]:
    """Return the names of the body files of real bodies that fit a model, best first: by the longest pattern."""
    scored: list[tuple[int, str]] = []
    for name in known_names():
        with contextlib.suppress(PlanError):  # one that is wrong says so where it is used
            file = load_body_file(name)
            if file.driver and not file.simulated:
                scored += [(-len(one.replace("*", "")), name) for one in file.driver.models if matches(model, (one,))]
    return tuple(dict.fromkeys(name for _, name in sorted(scored)))


def is_of_one_body(file: BodyFile, model: str) -> bool:
    """Say whether a body file is that of one model, and not of a family."""
    return file.driver is not None and any("*" not in one and matches(model, (one,)) for one in file.driver.models)
