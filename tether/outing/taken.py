"""The frames of an outing with their files at hand: from the journal to the pixels."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path

from tether.errors import PlanError
from tether.files.errors import UnreadableFileError
from tether.files.raw import RawFrame, read_raw
from tether.journal.story import FrameStory
from tether.journal.telling import read_outing
from tether.report.choosing import file_of


@dataclass(frozen=True, kw_only=True)
class TakenFrame(FrameStory):
    """One frame of an outing: all that the journal tells of it, and its raw file.

    Attributes
    ----------
    folder
        The outing's folder.
    """

    folder: Path

    @property
    def path(self) -> Path | None:
        """The raw file; None where none was copied."""
        name = file_of(self)
        return None if name is None else self.folder / name

    def raw(self) -> RawFrame:
        """Read the pixels: a mosaic of raw levels, its colours, and the levels of black and of clipping.

        Nothing is kept: each call reads the file again.

        Raises
        ------
        UnreadableFileError
            No file of it was copied, or the file can't be read.
        """
        path = self.path
        if path is None:
            raise UnreadableFileError(f"Frame {self.frame} has no raw file in {self.folder}.")
        return read_raw(path)


def read_frames(folder: Path, ladder: int | None = None) -> tuple[TakenFrame, ...]:
    """Read the frames of a ladder, in the order in which they were taken; nothing is changed, also while a run writes.

    Parameters
    ----------
    folder
        The outing's folder, or a copy of it.
    ladder
        The number of the ladder in the outing; None: the last one.

    Raises
    ------
    PlanError
        If there is no such outing, or no such ladder in it.
    LostError
        If its journal is damaged.
    """
    told = read_outing(folder)
    story = told.ladder(ladder) if ladder else (told.ladders[-1] if told.ladders else None)
    if story is None:
        raise PlanError(f"{folder}: there is no such ladder in this outing.")
    told_of = [one.name for one in fields(FrameStory)]
    return tuple(
        TakenFrame(folder=folder, **{name: getattr(frame, name) for name in told_of}) for frame in story.frames
    )
