"""The one union of records, the durable journal of an outing, and every fold of it.

The names below are loaded when they are first asked for: records alone are light.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tether.journal.codec import Entry
    from tether.journal.store import Journal
    from tether.journal.story import FrameStory, LadderStory, Outing
    from tether.journal.telling import read_outing, tell

__all__ = ["Entry", "FrameStory", "Journal", "LadderStory", "Outing", "read_outing", "tell"]

_MODULES = ("codec", "store", "story", "telling")


def __getattr__(name: str) -> Any:
    """Return one of the names of this room, from the module that has it."""
    if name in __all__:
        for module in map(import_module, (f"{__name__}.{one}" for one in _MODULES)):
            if hasattr(module, name):
                return getattr(module, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
