"""A second copy of an outing: every file is written safely, read back, and held against what came from the camera."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from tether.errors import PlanError, TetherError
from tether.files.copying import copy_changing, copy_frame
from tether.files.tiles import TILES_END
from tether.guard import LOG_NAME
from tether.journal.store import JOURNAL_NAME
from tether.outing.folder import COPIER_LOG_NAME, READER_LOG_NAME
from tether.outing.job import JOB_NAME
from tether.report.choices import CHOICES_NAME
from tether.report.sidecars import SIDECAR_SUFFIX

#: What an outing is: raw frames, which never change, and what may be newer than in an earlier copy, sidecars too.
_FRAMES = "frames"
_PREVIEWS = "previews"
_AVERAGES = "averages"
_BESIDE = (JOURNAL_NAME, JOB_NAME, CHOICES_NAME, LOG_NAME, READER_LOG_NAME, COPIER_LOG_NAME)


@dataclass(frozen=True, kw_only=True)
class Copied:
    """What came of copying: where to, how many files stand there whole, and in sentences what does not."""

    to: Path
    files: int
    problems: tuple[str, ...]


def copy_outing(outing: Path, under: Path, sums: Mapping[str, str]) -> Copied:
    """Copy an outing into a folder of its name; files that stand there already as they should are left.

    Parameters
    ----------
    outing
        The outing's folder, which no run may be writing.
    under
        The folder that the copy's folder is made in.
    sums
        The SHA-256 that frames had when they came from the camera, by their path in the outing.

    Raises
    ------
    PlanError
        If the copy would lie in the outing itself.
    """
    outing = outing.resolve()
    to = under.resolve() / outing.name
    if to.is_relative_to(outing) or outing.is_relative_to(to):
        raise PlanError(f"--copy-to {under}: the copy would lie in the outing itself; choose another disk.")
    problems: list[str] = []
    files = 0
    for path in _files(outing):
        name = str(path.relative_to(outing))
        try:
            if _is_raw_frame(path):
                copy_frame(path, to / name, sums.get(name))
            else:
                copy_changing(path, to / name)
            files += 1
        except TetherError as error:
            problems += error.sentences
    return Copied(to=to, files=files, problems=tuple(problems))


def names_beside(outing: Path) -> list[str]:
    """Return the paths in an outing of all that belongs to it beside raw frames; what may change."""
    return [str(path.relative_to(outing)) for path in _files(outing) if not _is_raw_frame(path)]


def _files(outing: Path) -> Iterator[Path]:
    for folder in (_FRAMES, _PREVIEWS, _AVERAGES):
        for path in sorted((outing / folder).glob("*")):
            # Not parts of files that are still arriving, nor tiles, which are made anew at any time.
            if path.is_file() and not path.name.startswith(".") and not path.name.endswith(TILES_END):
                yield path
    yield from (outing / name for name in _BESIDE if (outing / name).is_file())


def _is_raw_frame(path: Path) -> bool:
    return path.parent.name == _FRAMES and path.suffix != SIDECAR_SUFFIX
