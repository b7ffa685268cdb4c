"""A USB bus in a folder: devices as sysfs shows them, their nodes, and what a program needs to see them.

What a program is started with to be led here is two variables (:meth:`Bus.environment`), which its children inherit.
"""

from __future__ import annotations

import os
import shutil
import struct
from dataclasses import dataclass
from pathlib import Path

from tests.usb.node import BULK_IN, BULK_OUT, INTERRUPT_IN, Device, Node

_HUB = "sys/devices/pci0000:00/0000:00:14.0/usb1"
_BUS = 1
_FIRST_NUMBER = 4
_MAJOR = 189
_STILL_IMAGE, _HUB_CLASS = (6, 1, 1), (9, 0, 0)
PRELOAD = "libumockdev-preload.so.0"


@dataclass(frozen=True, kw_only=True)
class Named:
    """What a device calls itself on USB; `serial` None: nothing, as older bodies do."""

    vendor: int
    product: int
    maker: str
    name: str
    serial: str | None = None


_HUB_NAMED = Named(vendor=0x1D6B, product=2, maker="Linux", name="Hub")


@dataclass(frozen=True, kw_only=True)
class Plugged:
    """A device that is there: its node, its port as the camera library writes it, and where it hangs, as ``1-1``."""

    node: Node
    port: str
    place: str
    folder: Path
    path: Path


class Bus:
    """See the module.

    Parameters
    ----------
    root
        An empty folder with a short path, which every user may read.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self._next = _FIRST_NUMBER
        self._nodes: list[Node] = []
        for folder in ("sys/bus/usb/devices", "sys/devices/system", f"dev/bus/usb/{_BUS:03}", "dev/.node"):
            (root / folder).parent.mkdir(parents=True, exist_ok=True)
            if folder != "sys/devices/system":
                (root / folder).mkdir()
        (root / "sys/devices/system").symlink_to("/sys/devices/system")
        (root / f"ioctl/dev/bus/usb/{_BUS:03}").mkdir(parents=True)
        root.chmod(0o777)  # the socket of each monitor of devices is made in it
        self._lay_out(root / _HUB, _HUB_NAMED, number=1, place="0")

    def environment(self) -> dict[str, str]:
        """Return the variables by which a program is led here."""
        return {"LD_PRELOAD": PRELOAD, "UMOCKDEV_DIR": str(self.root)}

    def plug(self, named: Named, device: Device, place: str = "1-1", mode: int = 0o666) -> Plugged:
        """Plug a device in, at an address that was never used before."""
        number = self._next
        self._next += 1
        folder = self.root / _HUB / place
        self._lay_out(folder, named, number=number, place=place.partition("-")[2])
        self._lay_out_interface(folder, place)
        short = f"bus/usb/{_BUS:03}/{number:03}"
        node = Node(self.root / "dev" / short, self.root / "ioctl/dev" / short, device, mode)
        self._nodes.append(node)
        (self.root / "dev/.node" / short.replace("/", "_")).symlink_to(f"{_MAJOR}:{number - 1}")
        path = self.root / "dev" / short
        return Plugged(node=node, port=f"usb:{_BUS:03},{number:03}", place=place, folder=folder, path=path)

    def unplug(self, plugged: Plugged) -> None:
        """Pull a device's cable out."""
        for name in (plugged.place, f"{plugged.place}:1.0"):
            (self.root / "sys/bus/usb/devices" / name).unlink()
        shutil.rmtree(plugged.folder)
        plugged.node.leave()

    def close(self) -> None:
        """Answer no more."""
        for node in self._nodes:
            node.close()

    def _lay_out(self, folder: Path, named: Named, *, number: int, place: str) -> None:
        folder.mkdir(parents=True)
        product = f"{named.vendor:x}/{named.product:x}/2"
        texts = {
            "busnum": str(_BUS), "devnum": str(number), "devpath": place, "speed": "480",
            "idVendor": f"{named.vendor:04x}", "idProduct": f"{named.product:04x}", "bcdDevice": "0002",
            "bConfigurationValue": "1", "bNumConfigurations": "1", "bNumInterfaces": " 1",
            "bDeviceClass": "00", "manufacturer": named.maker, "product": named.name, "serial": named.serial,
            "dev": f"{_MAJOR}:{number - 1}",
            "uevent": f"MAJOR={_MAJOR}\nMINOR={number - 1}\nDEVNAME=bus/usb/{_BUS:03}/{number:03}\n"
            f"DEVTYPE=usb_device\nPRODUCT={product}\nBUSNUM={_BUS:03}\nDEVNUM={number:03}",
        }  # fmt: skip
        for name, text in texts.items():
            if text is not None:
                (folder / name).write_text(f"{text}\n")
        (folder / "descriptors").write_bytes(_descriptors(named, _HUB_CLASS if named is _HUB_NAMED else _STILL_IMAGE))
        self._link(folder)

    def _lay_out_interface(self, folder: Path, place: str) -> None:
        interface = folder / f"{place}:1.0"
        interface.mkdir()
        for name, text in {"Class": "06", "SubClass": "01", "Protocol": "01", "Number": "00"}.items():
            (interface / f"bInterface{name}").write_text(f"{text}\n")
        (interface / "uevent").write_text("DEVTYPE=usb_interface\nINTERFACE=6/1/1\n")
        self._link(interface)

    def _link(self, folder: Path) -> None:
        there = self.root / "sys/bus/usb/devices" / folder.name
        there.symlink_to(os.path.relpath(folder, there.parent))
        (folder / "subsystem").symlink_to(os.path.relpath(self.root / "sys/bus/usb", folder))


def _descriptors(named: Named, of_class: tuple[int, int, int]) -> bytes:
    """Return device, configuration, interface and endpoint descriptors (USB 2.0, chapter 9; still image class)."""
    serial = 3 if named.serial else 0
    device = struct.pack("<BBHBBBBHHHBBBB", 18, 1, 0x200, 0, 0, 0, 64, named.vendor, named.product, 2, 1, 2, serial, 1)
    interface = struct.pack("<9B", 9, 4, 0, 0, 3, *of_class, 0)
    ends = ((BULK_IN, 2, 512), (BULK_OUT, 2, 512), (INTERRUPT_IN, 3, 64))
    endpoints = b"".join(struct.pack("<BBBBHB", 7, 5, address, kind, size, 8) for address, kind, size in ends)
    total = 9 + len(interface) + len(endpoints)
    return device + struct.pack("<BBHBBBBB", 9, 2, total, 1, 1, 0, 0xC0, 1) + interface + endpoints
