"""Which plan is meant: a file, or by its name one of the user's own or of those that come with the program."""

from __future__ import annotations

from pathlib import Path


def plan_named(given: Path) -> Path:
    """Return the plan that is meant; what is no file and no name of one is returned as it is, for its own sentence."""
    if given.exists() or given.suffix or len(given.parts) != 1:
        return given
    from tether.body.layers import profile_folders  # it loads more than help and completion need

    found = (folder / f"{given}.toml" for folder in profile_folders("plans"))
    return next((path for path in found if path.is_file()), given)
