"""How the driver reaches its body, as data that can cross to the camera process."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tether.body.driver.profile import Profile


@dataclass(frozen=True, kw_only=True)
class Link:
    """How a body is reached.

    Attributes
    ----------
    profile
        How it is spoken to.
    port
        Where it is: as ``usb:001,004``, or ``ptpip:ADDRESS`` for one on a network; empty: the only one there is.
    model
        The library's name for it, where it can't find that out itself (on a network); empty: it can.
    staged_at
        The socket of a simulated camera on the wire where it is told what the person did at the tripod; None: a real
        one, which sees it.
    recorded_at
        The file that the session is recorded in, names and numbers and all; None: it is not.
    """

    profile: Profile
    port: str = ""
    model: str = ""
    staged_at: Path | None = None
    recorded_at: Path | None = None
