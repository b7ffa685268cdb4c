"""One long exposure out of a rung's many short frames, as a DNG file that says what it is made of.

``python -m tether.report.averages OUTING LADDER RUNG FILE`` makes one beside a run, at the lowest priority, and prints
an :class:`AverageAnswer` as JSON.
"""

from __future__ import annotations

import faulthandler
import json
import os
import struct
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from fractions import Fraction
from math import log2, sqrt
from pathlib import Path

import numpy as np

from tether import wording as words
from tether.errors import PlanError, TetherError
from tether.files.dng import SRGB_SENSOR, Matrix, SensorLevels, write_dng
from tether.files.errors import disk_sentences
from tether.files.exif import read_exif
from tether.files.raw import RawFrame, RawHeader, read_with_header
from tether.frames.asked import AverageAnswer
from tether.frames.averaging import BLACK, MOST_FRAMES, WHITE, Mean, mean_of
from tether.frames.developing import Box, Look, shown
from tether.journal.story import FrameStory, LadderStory
from tether.journal.telling import read_outing
from tether.report.choosing import file_of
from tether.report.facts import facts_of

#: Frames whose open times differ by more than this are not of one exposure [stops].
_SAME_STOPS = 0.05
#: The small picture in front of the mosaic has at most so many pixels along a side.
_PREVIEW_PX = 1200
#: Exif's orientation for so many quarter turns to the left.
_ORIENTATIONS = (1, 8, 3, 6)
#: Of twenty steps of politeness, as a system counts it: behind everything else.
_POLITE = 19
#: Exif's value for an image that was put together from several (CIPA DC-008, CompositeImage).
_COMPOSITE = "2"


@dataclass(frozen=True, kw_only=True)
class Averaged:
    """What came of averaging: of how many frames and dark frames, and sentences on what it equals."""

    frames: int
    darks: int
    sentences: tuple[str, ...]


def average_rung(outing: Path, ladder: LadderStory, rung: int, to: Path) -> Averaged:
    """Average the frames of a rung into a DNG file.

    Raises
    ------
    PlanError
        The rung has fewer than two frames that are alike, or too many.
    UnreadableFileError
        One can't be read.
    SupplyError, LostError
        The disk would not take it.
    """
    frames = _frames(ladder, rung)
    darks = [one for one in ladder.frames if one.kind == "dark" and file_of(one) and _is_like(one, frames[0])]
    headers: list[RawHeader] = []
    try:
        mean = mean_of(_read(outing, frames, headers), _read(outing, darks, []))
    except ValueError as error:
        raise PlanError(f"Rung {rung} can't be averaged: {error}.") from error
    _write(outing, frames, mean, _header_of(mean, headers[0]), to)
    return Averaged(frames=mean.frames, darks=mean.darks, sentences=tuple(_sentences(frames, mean)))


def averaged(outing: Path, ladder: LadderStory, rung: int, to: Path) -> AverageAnswer:
    """Average a rung, whose file may lie in a folder that is not there yet; what goes wrong is a sentence."""
    try:
        with disk_sentences(to):
            to.parent.mkdir(exist_ok=True)
        return AverageAnswer(sentences=average_rung(outing, ladder, rung, to).sentences)
    except TetherError as error:
        return AverageAnswer(problem=str(error))


def _frames(ladder: LadderStory, rung: int) -> list[FrameStory]:
    home = [one for one in ladder.frames if one.rung == rung and one.kind == "rung" and file_of(one) and one.as_asked]
    alike = [one for one in home if _is_like(one, home[0])]
    if len(alike) < 2:
        found = "1 frame" if len(alike) == 1 else f"{len(alike)} frames"
        raise PlanError(f"Rung {rung} has {found} to average; it takes two or more of one exposure.")
    if len(alike) > MOST_FRAMES:
        raise PlanError(f"Rung {rung} has {len(alike)} frames; at most {MOST_FRAMES} can be averaged.")
    return alike


def _is_like(one: FrameStory, other: FrameStory) -> bool:
    open_s, other_s = one.believed_open_s, other.believed_open_s
    if not (open_s and other_s) or one.iso != other.iso:
        return False
    return abs(log2(open_s / other_s)) < _SAME_STOPS


def _read(outing: Path, frames: Sequence[FrameStory], headers: list[RawHeader]) -> Iterator[RawFrame]:
    """Yield frames, each decoded once; what their heads say goes into `headers`."""
    for frame in frames:
        raw, header = read_with_header(outing / (file_of(frame) or ""))
        headers.append(header)
        yield raw


def _header_of(mean: Mean, first: RawHeader) -> RawHeader:
    """Return how a mean is shown: as its first frame, in the channels as they were multiplied."""
    scales = np.array(mean.scales)
    red, green, blue = (float(gain) for gain in np.array(first.balance) / scales)
    sensor = first.sensor_of_xyz * scales[:, np.newaxis]
    return replace(first, balance=(red, green, blue), sensor_of_xyz=sensor)


def _sentences(frames: Sequence[FrameStory], mean: Mean) -> Iterator[str]:
    each_s = [one.believed_open_s or 0.0 for one in frames]
    open_s = sum(each_s)
    less = sqrt(mean.frames)
    yield (
        f"{mean.frames} frames of {words.measured_time(each_s[0])}: as bright as one of them, with 1/{less:.1f} of its "
        f"noise; the water of {words.measured_time(open_s)} of light."
    )
    whole_s = _whole_s(frames, each_s)
    if whole_s is not None:
        gap_s = (whole_s - open_s) / (len(frames) - 1)
        if gap_s > 0:
            yield f"It was spread over {words.span(whole_s)}, with gaps of {gap_s:.2f} s between frames on average."
    if mean.darks:
        yield f"The mean of {mean.darks} dark frames was taken off."
    if mean.hot:
        yield f"{mean.hot} pixels that stood alone were filled from those beside them."


def _whole_s(frames: Sequence[FrameStory], each_s: Sequence[float]) -> float | None:
    """Return the time from the first opening to the last close [s]; None where that is not known.

    Nor is it where the wall clock was set back meanwhile.
    """
    first, last = frames[0].opened_utc, frames[-1].opened_utc
    if first is None or last is None:
        return None
    whole_s = (datetime.fromisoformat(last) - datetime.fromisoformat(first)).total_seconds() + each_s[-1]
    return whole_s if whole_s >= sum(each_s) else None


def _write(outing: Path, frames: Sequence[FrameStory], mean: Mean, header: RawHeader, to: Path) -> None:
    first = outing / (file_of(frames[0]) or "")
    each_s = [one.believed_open_s or 0.0 for one in frames]
    facts = replace(
        facts_of(outing, frames[0]),
        time_s=sum(each_s),
        description=f"Mean of {mean.frames} frames of {words.measured_time(each_s[0])}",
    )
    write_dng(
        to,
        mean.frame.mosaic,
        shot=facts,
        sensor=SensorLevels(
            black=BLACK,
            white=WHITE,
            cfa=mean.frame.pattern,  # type: ignore[arg-type]
            as_shot_neutral=_neutral(header),
            color_matrix=_matrix(header),
        ),
        preview=_preview(mean.frame, header),
        orientation=_ORIENTATIONS[header.left_turns],
        fields=_composite(each_s, frames) | ({} if facts.taken_at else _local_time(first)),
    )


def _neutral(header: RawHeader) -> tuple[float, float, float]:
    red, green, blue = (1 / gain for gain in header.balance)
    most = max(red, green, blue)
    return red / most, green / most, blue / most


def _matrix(header: RawHeader) -> Matrix:
    rows = [tuple(float(value) for value in row) for row in header.sensor_of_xyz]
    return (rows[0], rows[1], rows[2]) if header.sensor_of_xyz.any() else SRGB_SENSOR  # type: ignore[return-value]


def _preview(frame: RawFrame, header: RawHeader) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    height, width = (side - side % 2 for side in frame.mosaic.shape)
    step = 2
    while max(height, width) // step > _PREVIEW_PX:
        step *= 2
    look = Look(gains=(1.0, 1.0, 1.0), balance=header.balance, to_srgb=header.to_srgb)
    return shown(frame, look, Box(left=0, top=0, right=width, bottom=height), step)


def _local_time(first: Path) -> dict[str, str]:
    """Return what Exif says of when a frame was taken, as its own file does: in a time zone that nobody knows."""
    begun = read_exif(first).taken_at
    return {} if begun is None else {"Exif.Photo.DateTimeOriginal": f"{begun:%Y:%m:%d %H:%M:%S}"}


def _composite(each_s: Sequence[float], frames: Sequence[FrameStory]) -> dict[str, str]:
    """Return what Exif says of an image made of several: how many, and their exposure times (CIPA DC-008)."""
    found = {
        "Exif.Photo.CompositeImage": _COMPOSITE,
        "Exif.Photo.SourceImageNumberOfCompositeImage": f"{len(frames)} {len(frames)}",
    }
    whole_s = _whole_s(frames, each_s)
    if whole_s is None:
        return found
    totals = (whole_s, sum(each_s), sum(each_s), max(each_s), max(each_s), min(each_s), min(each_s))
    data = b"".join(_rational(one) for one in totals) + struct.pack("<HH", 1, len(each_s))
    data += b"".join(_rational(one) for one in each_s)
    return found | {"Exif.Photo.SourceExposureTimesOfCompositeImage": " ".join(str(byte) for byte in data)}


def _rational(value: float) -> bytes:
    numerator, denominator = Fraction(value).limit_denominator(100_000).as_integer_ratio()
    return struct.pack("<II", numerator, denominator)


def _answered(outing: Path, ladder: int, rung: int, to: Path) -> AverageAnswer:
    try:
        story = read_outing(outing).ladder(ladder)
    except TetherError as error:
        return AverageAnswer(problem=str(error))
    if story is None:
        return AverageAnswer(problem=f"Ladder {ladder} is not in the journal.")
    return averaged(outing, story, rung, to)


if __name__ == "__main__":
    faulthandler.enable()
    os.nice(_POLITE)
    answer = _answered(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), Path(sys.argv[4]))
    sys.stdout.write(json.dumps(asdict(answer)))
