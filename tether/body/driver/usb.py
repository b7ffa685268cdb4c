"""Cameras as Linux sees them: still-image devices on USB, whether they may be opened, and who has them open."""

from __future__ import annotations

import grp
import os
from dataclasses import dataclass
from pathlib import Path

_DEVICES = Path("/sys/bus/usb/devices")
_NODES = Path("/dev/bus/usb")
_PROCESSES = Path("/proc")
#: The class, subclass and protocol of a still-image interface (USB still image capture device definition).
_STILL_IMAGE = ("06", "01", "01")


@dataclass(frozen=True, kw_only=True)
class UsbDevice:
    """A still-image device; what is not known is empty.

    Attributes
    ----------
    name
        What it calls itself.
    node
        Its node.
    port
        Its address as the camera library writes it, which is another one whenever it comes back: ``usb:001,004``.
    place
        Where it is plugged in, as the kernel writes it, which stays the same: ``1-1``.
    vendor, product, serial
        The numbers that it tells on USB.
    """

    name: str
    node: Path
    port: str
    place: str = ""
    vendor: str = ""
    product: str = ""
    serial: str = ""


def find_devices(devices: Path = _DEVICES, nodes: Path = _NODES) -> tuple[UsbDevice, ...]:
    """Return every still-image device on USB, in the order of their addresses; none where there is no such folder."""
    found = (_device(interface, nodes) for interface in sorted(devices.glob("*:*")) if _is_still_image(interface))
    unique = {device.port: device for device in found if device is not None}
    return tuple(unique[port] for port in sorted(unique))


def _is_still_image(interface: Path) -> bool:
    names = ("bInterfaceClass", "bInterfaceSubClass", "bInterfaceProtocol")
    return tuple(_read(interface / name) for name in names) == _STILL_IMAGE


def _device(interface: Path, nodes: Path) -> UsbDevice | None:
    device = interface.resolve().parent
    bus, number = _read(device / "busnum"), _read(device / "devnum")
    if not (bus.isdecimal() and number.isdecimal()):
        return None
    place = f"{int(bus):03}", f"{int(number):03}"
    name = " ".join(filter(None, (_read(device / "manufacturer"), _read(device / "product"))))
    return UsbDevice(
        name=name or "camera without a name",
        node=nodes.joinpath(*place),
        port=f"usb:{','.join(place)}",
        place=device.name,
        vendor=_read(device / "idVendor"),
        product=_read(device / "idProduct"),
        serial=_read(device / "serial"),
    )


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""


def refusal_of(device: UsbDevice) -> str | None:
    """Return in a sentence why this account may not open the device, and what to do; None if it may."""
    if os.access(device.node, os.R_OK | os.W_OK):
        return None
    try:
        group = grp.getgrgid(device.node.stat().st_gid).gr_name
    except (OSError, KeyError):
        return f"{device.node} can't be read: pull the camera's cable out and in again."
    if group == "root":
        return (
            f"This account may not open the camera ({device.node}): install the rule for cameras (“tether setup” says"
            " how), then pull the cable out and in again."
        )
    return (
        f"This account may not open the camera ({device.node}): add it to the group {group}"
        f" (sudo usermod -aG {group} $USER) and log in again."
    )


def holders_of(device: UsbDevice, processes: Path = _PROCESSES) -> tuple[str, ...]:
    """Return name and number of every other process that has the device open, as far as this account may see."""
    names = []
    for process in processes.glob("[0-9]*"):
        if process.name != str(os.getpid()) and _has_open(process, device.node):
            names.append(f"{_read(process / 'comm') or 'a program'} (process {process.name})")
    return tuple(sorted(names))


def _has_open(process: Path, node: Path) -> bool:
    try:
        return any(link.readlink() == node for link in (process / "fd").iterdir())
    except OSError:
        return False
