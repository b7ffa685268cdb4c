"""What a body was found set to, kept in the outing's folder so that it can be put back at the end, whoever does it."""

from __future__ import annotations

import json
from pathlib import Path

from tether.files.errors import disk_sentences

NAME = "as-found.json"


def keep(folder: Path, texts: dict[str, str]) -> None:
    """Keep texts by entry, unless some are kept already: the first session's are the ones that count."""
    if not (folder / NAME).exists():
        write(folder / NAME, texts)


def write(path: Path, data: object) -> None:
    """Write a small file, which stays as it was where the disk does not take all of it. Raises TetherError."""
    arriving = path.with_name(f".{path.name}.part")
    with disk_sentences(path):
        arriving.write_text(json.dumps(data, indent=2), encoding="utf-8")
        arriving.replace(path)


def kept(folder: Path) -> dict[str, str]:
    """Return the texts that were kept; none where there are none."""
    try:
        texts = json.loads((folder / NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return texts if isinstance(texts, dict) else {}


def forget(folder: Path) -> None:
    """Forget what was kept."""
    (folder / NAME).unlink(missing_ok=True)
