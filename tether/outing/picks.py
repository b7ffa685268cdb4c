"""The chosen frames copied out of an outing, with sidecars: each file read back and held against the journal."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from tether.errors import PlanError, SupplyError, TetherError
from tether.files.copying import copy_frame
from tether.files.sidecar import Fields, write_sidecar
from tether.journal.story import FileStory, FrameStory, Outing
from tether.report.choices import Choice, Verdict
from tether.report.sidecars import fields_of, raw_paths, sidecar_path

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class Picked:
    """What came of copying the chosen: frames by number, and in sentences what is to be known and what is missing.

    `copied` are those of which something was still to be copied, `there` those that were whole already.
    """

    to: Path
    copied: tuple[int, ...]
    there: tuple[int, ...]
    notes: tuple[str, ...]
    problems: tuple[str, ...]

    @property
    def frames(self) -> int:
        """How many of the chosen are in the folder, each file as it came from the camera, with its sidecar."""
        return len(self.copied) + len(self.there)

    @property
    def summary(self) -> str:
        """Say in sentences what is in the folder."""
        if not self.frames and not self.problems:
            return "No frame was chosen, so nothing is copied. Press k at a frame at the desk, or write choices.toml."
        if not self.frames:
            return f"None of the chosen frames is in {self.to} as it should be."
        one = self.frames == 1
        many = "1 chosen frame is" if one else f"{self.frames} chosen frames are"
        parts = ((len(self.copied), "copied or brought up to date"), (len(self.there), "there before"))
        how = ", ".join(f"{count} {what}" for count, what in parts if count)
        return f"{many} in {self.to}, each with its sidecar{': ' if how else ''}{how}."


def copy_picks(
    folder: Path, told: Outing, choices: Mapping[int, Choice], to: Path, verdicts: frozenset[Verdict]
) -> Picked:
    """Copy the frames that were chosen, with their sidecars; what was copied before is left, so that it can be resumed.

    Parameters
    ----------
    folder, told, choices
        The outing's folder, its story, and what was chosen.
    to
        The folder that the copies go into; it is made.
    verdicts
        Which choices count.

    Raises
    ------
    PlanError
        If the copies would lie in the outing itself, or `to` is no folder.
    """
    if to.exists() and not to.is_dir():
        raise PlanError(f"--to {to}: this is not a folder; choose another.")
    if to.resolve().is_relative_to(folder.resolve()):
        raise PlanError(f"--to {to}: the copies would lie in the outing itself; choose another folder.")
    chosen = {number for number, choice in choices.items() if choice.verdict in verdicts}
    frames = [(frame, fields) for frame, fields in fields_of(told, choices) if frame.frame in chosen]
    not_told = sorted(chosen - {frame.frame for frame, _ in frames})
    picking = _Picking(folder, to, [f"Frame {number} was chosen, and is not in the journal." for number in not_told])
    states: dict[bool, list[int]] = {True: [], False: []}
    try:
        for frame, fields in frames:
            if (copied := picking.copied(frame, fields)) is not None:
                states[copied].append(frame.frame)
    except SupplyError as error:  # the disk is full
        picking.problems += error.sentences
    return Picked(
        to=to,
        copied=tuple(states[True]),
        there=tuple(states[False]),
        notes=tuple(picking.notes),
        problems=tuple(picking.problems),
    )


@dataclass
class _Picking:
    """Copying, and in sentences what is missing and to be known so far."""

    folder: Path
    to: Path
    problems: list[str]
    notes: list[str] = field(default_factory=list)

    def copied(self, frame: FrameStory, fields: Fields) -> bool | None:
        """Copy a frame; say whether anything was still to be copied, None where it is not all there."""
        if not frame.files:
            self.problems.append(
                f"Frame {frame.frame} was chosen, and no file of it is in the outing."
                f" If it is on the card, copy it: tether finish {self.folder} --fetch"
            )
            return None
        done = [self._file(frame, file) for file in frame.files]
        if None not in done:
            done += [self._sidecar(raw, fields) for raw in raw_paths(self.folder, frame)]
        return None if None in done else any(done)

    def _file(self, frame: FrameStory, file: FileStory) -> bool | None:
        path = self.folder / file.name
        if not path.is_file():
            self.problems.append(f"Frame {frame.frame} was chosen, and {path} is not there; look for a copy of it.")
            return None
        if file.sha256 is None:
            self.notes.append(f"The journal has no digest of {path}: its copy was compared with that alone.")
        return self._or_problem(lambda: copy_frame(path, self.to / path.name, file.sha256))

    def _sidecar(self, raw: Path, fields: Fields) -> bool | None:
        """Write a sidecar beside a copy: begun with the outing's own, or put into the one that is there."""
        at_home, copy = sidecar_path(raw), self.to / sidecar_path(raw).name
        written = self._or_problem(lambda: write_sidecar(copy, fields, begun_with=at_home))
        if written is None:
            return None
        if written.state != "new" and at_home.exists() and at_home.read_bytes() != copy.read_bytes():
            self.notes.append(f"{copy} was changed since, or {at_home} was; what stands in the copy stays.")
        return written.state != "same"

    def _or_problem(self, act: Callable[[], T]) -> T | None:
        """Do something; None, and in sentences why, where it can't be done. Raises SupplyError: the disk is full."""
        try:
            return act()
        except SupplyError:
            raise
        except TetherError as error:
            self.problems += error.sentences
            return None
