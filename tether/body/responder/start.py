"""What a simulated camera on the wire is started with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from tether.body.open import BodyChoice
from tether.body.responder.faults import WireFault

Dialect = Literal["eos", "eos-old", "nikon", "plain"]

#: The camera library's names for bodies of these dialects on a network, which it can't find out by itself.
MODELS: dict[Dialect, str] = {
    "eos": "Canon EOS (WLAN)",
    "eos-old": "Canon EOS (WLAN)",
    "nikon": "Nikon DSLR (WLAN)",
    "plain": "PTP/IP Camera",
}


@dataclass(frozen=True, kw_only=True)
class WireStart:
    """What it is.

    Attributes
    ----------
    dialect
        What it speaks; "eos-old" is the older way of that family to hold a shutter.
    choice
        The simulated body behind it, whose folder keeps its card, state and records.
    faults
        Troubles of the wire.
    mode
        Where its mode dial stands: "M", or another, where it offers no bulb.
    focus
        Whether its lens is on manual focus ("manual") or not ("af").
    two_files
        Whether a frame is a raw file and a JPEG.
    priority
        Real-time priority of the process, so that in measurements it is not what is measured; None: none.
    """

    dialect: Dialect
    choice: BodyChoice
    faults: tuple[WireFault, ...] = ()
    mode: Literal["M", "Av"] = "M"
    focus: Literal["manual", "af"] = "manual"
    two_files: bool = False
    priority: int | None = None

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON data."""
        return {
            "dialect": self.dialect,
            "choice": self.choice.as_json(),
            "faults": [fault.model_dump(mode="json") for fault in self.faults],
            "mode": self.mode,
            "focus": self.focus,
            "two_files": self.two_files,
            "priority": self.priority,
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> WireStart:
        """Rebuild it from :meth:`as_json`."""
        faults = tuple(WireFault.model_validate(one) for one in data["faults"])
        return cls(**{**data, "choice": BodyChoice.from_json(data["choice"]), "faults": faults})
