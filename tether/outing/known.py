"""Outings that are known: remembered ones, and those in folders that are looked into; what moved, what is gone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tether.errors import PlanError, TetherError, system_reason
from tether.files.last_words import say_last
from tether.journal.store import JOURNAL_NAME, read_contents
from tether.outing.learning import cases_of
from tether.outing.memory import Remembered, remember, remembered
from tether.plan.learned import Case
from tether.report.choices import Choice, read_choices
from tether.report.done_before import Gone, OutingDone, mark_of, outing_done

#: How deep outings are looked for: in a folder, and in the folders in it.
_PLACES = (JOURNAL_NAME, f"*/{JOURNAL_NAME}", f"*/*/{JOURNAL_NAME}")


@dataclass(frozen=True, kw_only=True)
class Known:
    """Outings that are known, oldest first, those that are gone, and in sentences what is to be known beside them."""

    outings: tuple[OutingDone, ...]
    gone: tuple[Gone, ...]
    sentences: tuple[str, ...]


def known_outings(look_in: Iterable[Path] = (), *, and_remember: bool = False) -> Known:
    """Return the outings that are remembered or lie in folders; one that moved is remembered where it is now.

    Parameters
    ----------
    look_in
        Folders of outings, or with outings in them.
    and_remember
        Whether what is found in them is remembered; else it is only told.

    Raises
    ------
    TetherError
        If the memory can't be read or written.
    """
    looking = _Looking()
    for one in remembered():
        looking.where_it_was(one)
    seen = [there for folder in look_in for outing in outings_in(folder) if (there := looking.read(outing))]
    new = {one.mark: one for one in seen if one.mark not in looking.found}
    moved = [looking.moved(one) for one in new.values() if one.mark in looking.gone]
    looking.found |= {one.mark: one.done for one in new.values()}
    if kept := list(new.values()) if and_remember else moved:
        remember(*map(_remembered, kept), told=[case for one in kept for case in one.cases])
    return Known(
        outings=tuple(sorted(looking.found.values(), key=lambda one: (one.begun_utc, str(one.folder)))),
        gone=tuple(looking.gone.values()),
        sentences=(*looking.sentences, *(one.sentence for one in looking.gone.values())),
    )


def outings_in(folder: Path) -> list[Path]:
    """Return the folders of outings in a folder, by name: itself, or those in it. Raises PlanError if there is none."""
    try:
        journals = [found for place in _PLACES for found in folder.glob(place)]
    except OSError as error:
        raise PlanError(f"{folder}: cannot be read: {system_reason(error)}.") from error
    if not journals:
        raise PlanError(f"{folder}: no outing lies in this folder.")
    return sorted({journal.parent.resolve() for journal in journals})


def remember_outing(folder: Path) -> None:
    """Remember where an outing is; where that can't be done it is said on standard error, and nothing else is lost."""
    if not (folder / JOURNAL_NAME).exists():
        return
    try:
        told = _read(folder.resolve())
        if told is not None:
            remember(_remembered(told), told=told.cases)
    except (TetherError, OSError) as error:
        say_last(f"This outing is not remembered: {error}\n")


@dataclass(frozen=True, kw_only=True)
class _Read:
    """An outing as it was read: its mark, what it was, and what it tells of how long things take."""

    mark: str
    done: OutingDone
    cases: tuple[Case, ...]


def _read(folder: Path, choices: Mapping[int, Choice] | None = None) -> _Read | None:
    """Return an outing; None where nothing was written in it yet. Raises TetherError."""
    contents = read_contents(folder)
    mark = mark_of(contents)
    if mark is None:
        return None
    return _Read(mark=mark, done=outing_done(folder, contents, choices or {}), cases=cases_of(contents.entries, mark))


def _remembered(one: _Read) -> Remembered:
    done = one.done
    return Remembered(mark=one.mark, folder=done.folder, title=done.title, begun_utc=done.begun_utc)


@dataclass
class _Looking:
    """What was found so far, by mark."""

    found: dict[str, OutingDone] = field(default_factory=dict)
    gone: dict[str, Gone] = field(default_factory=dict)
    sentences: list[str] = field(default_factory=list)

    def where_it_was(self, one: Remembered) -> None:
        """Look where an outing was: it is found, or it is gone."""
        there = self.read(one.folder) if (one.folder / JOURNAL_NAME).exists() else None
        if there is not None and there.mark == one.mark:
            self.found[one.mark] = there.done
            return
        what = (
            "holds another outing now" if there else "cannot be read as an outing" if one.folder.exists() else "is gone"
        )
        sentence = (
            f"{one.folder} {what}: {one.title}, {one.begun_utc.astimezone():%Y-%m-%d}. If it was moved, show where:"
            f" tether outings FOLDER. To forget it: tether outings --forget {one.folder}"
        )
        self.gone[one.mark] = Gone(folder=one.folder, title=one.title, begun_utc=one.begun_utc, sentence=sentence)

    def read(self, folder: Path) -> _Read | None:
        """Return an outing; None, and a word about it, where it can't be read."""
        choices: Mapping[int, Choice] = {}
        try:
            choices = read_choices(folder)
        except TetherError as error:
            self.sentences += error.sentences
        try:
            return _read(folder, choices)
        except TetherError as error:
            self.sentences += error.sentences
            return None

    def moved(self, one: _Read) -> _Read:
        """Take an outing off those that are gone, say where it is now, and return it."""
        before = self.gone.pop(one.mark).folder
        self.sentences.append(f"{before} was moved: it is {one.done.folder} now.")
        return one


def forgotten(known: Iterable[Remembered], folders: Iterable[Path]) -> set[str]:
    """Return the marks of outings that are remembered in folders, or below them.

    Raises
    ------
    PlanError
        If none is remembered in one of them.
    """
    marks: set[str] = set()
    known = tuple(known)
    for folder in folders:
        there = {one.mark for one in known if one.folder.is_relative_to(folder.absolute())}
        there |= {one.mark for one in known if one.folder.is_relative_to(folder.resolve())}
        if not there:
            raise PlanError(f"{folder}: no outing is remembered there. See those that are: tether outings")
        marks |= there
    return marks
