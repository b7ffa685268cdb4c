"""The one more key that answers a turn at the desk: that of a one-button remote, which is a keyboard to the system."""

from __future__ import annotations

from tether.errors import PlanError

#: What such keys are called by people, and what they are in a terminal.
_KEYS = {
    "page down": "pagedown",
    "page up": "pageup",
    "up": "up",
    "down": "down",
    "left": "left",
    "right": "right",
    "space": "space",
    "enter": "enter",
    "b": "b",
    ".": "full_stop",
    "volume up": "raise_volume",
    "volume down": "lower_volume",
    **{f"F{number}": f"f{number}" for number in range(1, 13)},
}


def named_key(text: str) -> tuple[str, str]:
    """Return a key as people and as the terminal call it, in any case and spacing. Raises PlanError for another."""
    wanted = text.replace(" ", "").casefold()
    for called, key in _KEYS.items():
        if wanted == called.replace(" ", "").casefold():
            return called, key
    allowed = ", ".join(one for one in _KEYS if not one.startswith("F"))
    raise PlanError(f'--answer-key "{text}": no remote is known to send this; allowed: {allowed}, F1 to F12.')
