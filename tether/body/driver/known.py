"""Which body it is: kept beside what it was found set to, so that no other is ever taken for it.

Kept from the first session of a ladder on, whoever reaches for the body then: a camera process that replaced one that
died, or a run that is taken up again.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from tether.body.driver.found import write
from tether.body.driver.usb import UsbDevice

NAME = "known-body.json"


@dataclass(frozen=True, kw_only=True)
class KnownBody:
    """A body as it told of itself, and as it was on USB; a text that is not known is empty.

    Attributes
    ----------
    model, serial, firmware
        What the camera library calls it; what the body itself says.
    vendor, product, usb_serial
        What it calls itself on USB, where that was to be seen.
    place
        The port it was last plugged into, as the kernel writes it: ``1-1``.
    """

    model: str
    serial: str = ""
    firmware: str = ""
    vendor: str = ""
    product: str = ""
    usb_serial: str = ""
    place: str = ""

    @property
    def tells_serial(self) -> bool:
        """Whether it can be told from another of its model wherever it is plugged in."""
        return bool(self.serial or self.usb_serial)

    def may_be(self, device: UsbDevice) -> bool:
        """Say whether a device may be it, as far as can be seen without opening it."""
        if (self.vendor, self.product) != (device.vendor, device.product):
            return False
        return not (self.usb_serial and device.serial) or self.usb_serial == device.serial

    def same_as(self, told: KnownBody) -> bool:
        """Say whether a body that was opened is it; one that told its serial number before must tell it again."""
        if (self.model, self.serial) != (told.model, told.serial):
            return False
        return not (self.usb_serial and told.usb_serial) or self.usb_serial == told.usb_serial

    def surely(self, devices: Iterable[UsbDevice], address: str = "") -> UsbDevice | None:
        """Return the one device that is certainly it without opening any: None where that can't be said.

        `address` is the port, as the library writes it, at which it was last opened by this process: an address is not
        given again while its device is there.
        """
        meant = [one for one in devices if self.may_be(one)]
        for same in (
            [one for one in meant if one.port == address],
            [one for one in meant if self.usb_serial and one.serial == self.usb_serial],
            [one for one in meant if len(meant) == 1 and one.place == self.place],
        ):
            if len(same) == 1:
                return same[0]
        return None


def seen_at(known: KnownBody, device: UsbDevice | None) -> KnownBody:
    """Return a body with what is seen of it on USB."""
    if device is None:
        return known
    return dataclasses.replace(
        known, vendor=device.vendor, product=device.product, usb_serial=device.serial, place=device.place
    )


def keep(folder: Path, known: KnownBody) -> None:
    """Keep which body it is. Raises TetherError."""
    write(folder / NAME, dataclasses.asdict(known))


def kept(folder: Path) -> KnownBody | None:
    """Return the body that was kept; None where none was, or it can't be read."""
    try:
        return KnownBody(**json.loads((folder / NAME).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def forget(folder: Path) -> None:
    """Forget which body it was: another ladder may be worked on another one."""
    (folder / NAME).unlink(missing_ok=True)
