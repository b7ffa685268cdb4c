"""What a picture that is made of an outing's frames says in Exif of how one of them was taken."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from tether.files.exif import FrameExif, read_exif
from tether.journal.story import FrameStory
from tether.report.choosing import file_of


def facts_of(outing: Path, frame: FrameStory) -> FrameExif:
    """Return what a frame was really taken with, by the journal and, for body and lens, by its own file.

    A moment whose time zone nobody knows is left out.

    Raises
    ------
    UnreadableFileError
        Its file can't be read.
    """
    said = read_exif(outing / (file_of(frame) or ""))
    taken_at = datetime.fromisoformat(frame.opened_utc) if frame.opened_utc else said.taken_at
    return replace(
        said,
        time_s=frame.believed_open_s,
        aperture=frame.aperture,
        iso=frame.iso,
        taken_at=taken_at if taken_at is not None and taken_at.tzinfo else None,
        software="tether",
        description=None,
        bias_stops=None,
    )
