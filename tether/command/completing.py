"""What a Tab completes beside commands and options: names of plans, outings and bodies, and words to a run.

Only folders are looked at: nothing is read, so that it is there at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from tether.control.commands import WORDS

#: What makes a folder an outing; see `tether.journal.store`, which takes longer to load.
_JOURNAL = "journal.sqlite"
_OUTINGS = Path("outings")


def named(kinds: Sequence[str], begun: str) -> list[str]:
    """Return what is called by a name or path that begins as told, sorted.

    What has a space in it is left to the shell, which knows how to write it.

    Parameters
    ----------
    kinds
        Among "plans", "outings" and "bodies".
    begun
        What is there of the name.
    """
    finders = {"plans": _plans, "outings": _outings, "bodies": _bodies}
    found = {one for kind in kinds for one in finders[kind]() if one.startswith(begun)}
    return sorted(one for one in found if not any(map(str.isspace, one)))


def words_after(before: Sequence[str], begun: str) -> list[str]:
    """Return the words that may come next in what is said to a run, after those that are there."""
    count = len(before)
    said = [word.lower() for word in before]
    verbs = (word.verb.split() for word in WORDS)
    follow = {verb[count] for verb in verbs if len(verb) > count and [one.lower() for one in verb[:count]] == said}
    return sorted(one for one in follow if one.lower().startswith(begun.lower()))


def _plans() -> Iterator[str]:
    from tether.command.plans import plans_by_name

    yield from plans_by_name()
    yield from (path.name for path in Path().glob("*.toml"))


def _outings() -> Iterator[str]:
    for folder in (Path(), _OUTINGS):
        yield from (str(path.parent) for path in folder.glob(f"*/{_JOURNAL}"))


def _bodies() -> list[str]:
    from tether.body.layers import known_names

    return known_names()
