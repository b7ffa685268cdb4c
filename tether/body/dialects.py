"""What a simulated camera on the wire may speak, for all who offer the choice; standard library only."""

from __future__ import annotations

from typing import Literal

Dialect = Literal["eos", "eos-old", "nikon", "plain"]

#: The camera library's names for bodies of these dialects on a network, which it can't find out by itself.
MODELS: dict[Dialect, str] = {
    "eos": "Canon EOS (WLAN)",
    "eos-old": "Canon EOS (WLAN)",
    "nikon": "Nikon DSLR (WLAN)",
    "plain": "PTP/IP Camera",
}
