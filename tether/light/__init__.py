"""Light that changes, as numbers: no input or output, no clock."""

from tether.light.falling import brightness_after, gathered_s, open_for

__all__ = ["brightness_after", "gathered_s", "open_for"]
