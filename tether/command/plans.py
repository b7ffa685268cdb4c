"""Which plan is meant: a file, or by its name one of the user's own or of those that come with the program."""

from __future__ import annotations

from pathlib import Path


def plan_named(given: Path) -> Path:
    """Return the plan that is meant; what is no file and no name of one is returned as it is, for its own sentence."""
    if given.exists() or given.suffix or len(given.parts) != 1:
        return given
    return plans_by_name().get(str(given), given)


def plans_by_name() -> dict[str, Path]:
    """Return every plan that has a name; the user's own one stands before a shipped one of the same name."""
    from tether.body.layers import profile_folders  # it loads more than help needs

    folders = reversed(profile_folders("plans"))
    return {path.stem: path for folder in folders for path in sorted(folder.glob("*.toml"))}
