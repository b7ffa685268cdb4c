"""Sidecars beside an outing's raw files, and in sentences what became of them. Raw files are never written to."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from tether.errors import PlanError, SupplyError, TetherError
from tether.files.sidecar import Fields, write_sidecar
from tether.journal.story import FrameStory, Outing
from tether.report.audit import audit
from tether.report.choices import Choice
from tether.report.sidecar_fields import sidecar_fields

#: What people call the fields in which what another program wrote is worth a sentence where it stays.
_CALLED = {"Xmp.xmp.Rating": "rating", "Xmp.dc.description": "description", "Xmp.dc.subject": "keywords"}
SIDECAR_SUFFIX = ".xmp"
#: How many names a sentence has.
_NAMED = 6


@dataclass(frozen=True, kw_only=True)
class SidecarsWritten:
    """What became of sidecars: how many by how they changed, and in sentences what stayed and what went wrong."""

    states: Mapping[str, int] = field(default_factory=dict)
    stayed: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def summary(self) -> str:
        """Say in a sentence how many sidecars there are now."""
        count = sum(self.states.values())
        many = "1 sidecar is" if count == 1 else f"{count} sidecars are"
        parts = [f"{self.states[state]} {word}" for state, word in _STATES.items() if self.states.get(state)]
        return f"{many} beside the raw files{': ' if parts else ''}{', '.join(parts)}."


_STATES = {"new": "new", "changed": "changed", "same": "as before"}


def write_sidecars(folder: Path, outing: Outing, choices: Mapping[int, Choice]) -> SidecarsWritten:
    """Write a sidecar beside every raw file that belongs to a frame, as `outing`, told of `folder`, has it.

    What goes wrong with one is told, and the others are written all the same, unless the disk takes none.
    """
    states: Counter[str] = Counter()
    stayed: dict[str, list[str]] = defaultdict(list)
    problems: list[str] = []
    for frame, fields, raw in _raws(folder, outing, choices):
        try:
            if not raw.is_file():
                problems.append(f"Frame {frame.frame} has no sidecar: {raw} is not there.")
                continue
            written = write_sidecar(sidecar_path(raw), fields)
        except (SupplyError, PlanError) as error:
            problems += error.sentences
            break
        except TetherError as error:
            problems += error.sentences
            continue
        states[written.state] += 1
        for key in written.stayed:
            stayed[key].append(sidecar_path(raw).name)
    return SidecarsWritten(states=states, stayed=tuple(_stayed(stayed)), problems=tuple(problems))


def _raws(folder: Path, outing: Outing, choices: Mapping[int, Choice]) -> Iterator[tuple[FrameStory, Fields, Path]]:
    for frame, fields in fields_of(outing, choices):
        for raw in raw_paths(folder, frame):
            yield frame, fields, raw


def fields_of(outing: Outing, choices: Mapping[int, Choice]) -> Iterator[tuple[FrameStory, Fields]]:
    """Yield every frame with what its sidecar is to say."""
    for ladder in outing.ladders:
        splits = {split.frame: split for split in audit(ladder)}
        for frame in ladder.frames:
            choice = choices.get(frame.frame, Choice())
            yield frame, sidecar_fields(outing, ladder, frame, splits.get(frame.frame), choice)


def raw_paths(folder: Path, frame: FrameStory) -> list[Path]:
    """Return where a frame's raw files are, one for each sidecar: a JPEG of the same name shares its raw file's."""
    names = {str(PurePosixPath(file.name).with_suffix("")): file.name for file in reversed(frame.files)}
    return [folder / name for name in reversed(names.values())]


def sidecar_path(raw: Path) -> Path:
    """Return the sidecar of a raw file: of its name, ending in ``.xmp``."""
    return raw.with_suffix(SIDECAR_SUFFIX)


def _stayed(names: Mapping[str, list[str]]) -> Iterator[str]:
    for key, called in _CALLED.items():
        if found := names.get(key):
            more = f" and {len(found) - _NAMED} more" if len(found) > _NAMED else ""
            stay = "stay" if called == "keywords" else "stays"
            yield f"The {called} given elsewhere {stay} in {', '.join(found[:_NAMED])}{more}."
