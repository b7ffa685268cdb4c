"""What comes with the program: profiles, and notes with the rules and units of a system; from a wheel or a checkout."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent


def shipped(name: str) -> Path:
    """Return where a folder lies that comes with the program, ``profiles`` or ``hardware-notes``."""
    packed = _PACKAGE / name
    return packed if packed.is_dir() else _PACKAGE.parent / name
