"""Three looks: for sunlight, for the room, for eyes that are used to the night; which one is kept for the next time."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path
from typing import Literal, get_args

from textual.theme import Theme

from tether.errors import TetherError
from tether.files.safe import safe_write

Look = Literal["plain", "bright", "ember"]
LOOKS: tuple[Look, ...] = get_args(Look)
_FILE = "desk.toml"


def _theme(look: Look, ink: str, ground: str, soft: str, *, dark: bool) -> Theme:
    """Make a look of one ink on one ground: what matters is told by words, bold and reversed, never by a colour."""
    return Theme(
        name=look,
        primary=ink,
        secondary=soft,
        warning=ink,
        error=ink,
        success=ink,
        accent=ink,
        foreground=ink,
        background=ground,
        surface=ground,
        panel=ground,
        boost=ground,
        dark=dark,
        text_alpha=1.0,
        variables={"block-cursor-text-style": "bold reverse"},
    )


THEMES: tuple[Theme, ...] = (
    _theme("plain", "#e6e6e6", "#101010", "#a8a8a8", dark=True),
    _theme("bright", "#000000", "#ffffff", "#000000", dark=False),
    _theme("ember", "#c62a10", "#000000", "#a8230d", dark=True),
)


def after(look: str) -> Look:
    """Return the look that follows."""
    place = LOOKS.index(look) if look in LOOKS else -1
    return LOOKS[(place + 1) % len(LOOKS)]


def kept_in() -> Path:
    """Return the file in the user's config folder that remembers the look."""
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "tether" / _FILE


def remembered(path: Path) -> Look:
    """Return the look that was used last; plain where none is remembered, or the file cannot be read."""
    try:
        look = tomllib.loads(path.read_text(encoding="utf-8")).get("look")
    except (OSError, ValueError):
        return "plain"
    return look if look in LOOKS else "plain"


def remember(path: Path, look: Look) -> str | None:
    """Keep a look for the next time; return a sentence where that cannot be done."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        safe_write(path, f'look = "{look}"\n'.encode())
    except (OSError, TetherError) as error:
        return f"The look is not remembered: {error}"
    return None
