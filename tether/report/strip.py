"""The strip: the same part of every rung, alike in brightness and colour, to be laid along an axis of open time.

Frames are decoded by the process that makes crops, at the lowest priority; see :mod:`tether.report.crops`.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from tether.errors import LostError, PlanError
from tether.files.errors import UnreadableFileError
from tether.report.choosing import Candidate
from tether.report.cropper import Cropper
from tether.report.crops_asked import Crop, Survey

Place = tuple[float, float]
"""Shares of width and height, from the left upper corner."""
Part = str | Place

WATER, ROCK = "water", "rock"
_LETTERS = {WATER: "w", ROCK: "r"}
_PLACE = re.compile(r"\s*([01](?:\.\d+)?|\.\d+)\s*,\s*([01](?:\.\d+)?|\.\d+)\s*", re.ASCII)
#: A picture shows at least this share of the frame's width, as far as the steps allow: else nobody knows what it is.
_LEAST_SHARE = 1 / 12
#: Pixels of the sensor in one of the picture, along each side.
_STEPS = (1, 2, 4)
#: Which of several frames of a rung stands for it.
_RANKS = {"keep": 3, "maybe": 2, None: 1, "no": 0}


@dataclass(frozen=True, kw_only=True)
class Pictures:
    """Pictures of the same part of frames, JPEGs by the frames' numbers; which part it is, in words; empty: none."""

    jpegs: Mapping[int, bytes]
    words: str


def one_per_rung(candidates: Iterable[Candidate], ladder: int, rungs: Collection[int] | None = None) -> list[Candidate]:
    """Return the frame that stands for each rung of a ladder: what is kept before what is not, then the last."""
    chosen: dict[int, Candidate] = {}
    for one in candidates:
        if one.ladder == ladder and (rungs is None or one.rung in rungs):
            before = chosen.get(one.rung)
            if before is None or _rank(one) >= _rank(before):
                chosen[one.rung] = one
    return sorted(chosen.values(), key=lambda one: (one.at_stops, one.frame))


def _rank(one: Candidate) -> tuple[int, int]:
    return _RANKS[one.choice.verdict], one.frame


def part_of(text: str) -> Part:
    """Read which part is meant: ``water``, ``rock``, or a place such as ``0.4,0.6``. Raises PlanError."""
    word, match = text.strip().lower(), _PLACE.fullmatch(text)
    if word in _LETTERS:
        return word
    if match and (place := (float(match[1]), float(match[2]))) <= (1.0, 1.0) and place[1] <= 1.0:
        return place
    raise PlanError(
        f"“{text}”: write water, rock, or a place such as 0.4,0.6: shares of width and height, "
        "from the left upper corner."
    )


def place_of(part: Part | None, middles: Mapping[str, Place | None]) -> tuple[Place, str]:
    """Return where a part is, and its words; `middles`: of the regions, by their letters. Raises PlanError."""
    if isinstance(part, tuple):
        return part, "the same part"
    if part is None:
        water = middles.get(_LETTERS[WATER])
        return (water, "the water") if water else ((0.5, 0.5), "the middle")
    middle = middles.get(_LETTERS[part])
    if middle is None:
        raise PlanError(f"--part {part}: no region of {part} is known in this ladder; name a place such as 0.4,0.6.")
    return middle, f"the {part}"


def step_for(width: int, wide: int) -> int:
    """Return how many pixels of a frame so wide are one of a picture so wide [px]: few, but enough to be seen."""
    return next((step for step in _STEPS if wide * step >= _LEAST_SHARE * width), _STEPS[-1])


def pictures_of(
    outing: Path, candidates: Sequence[Candidate], cells: tuple[str, ...], size: tuple[int, int], part: Part | None
) -> Pictures:
    """Have pictures made of the same part of each frame.

    Parameters
    ----------
    outing
        The outing's folder.
    candidates, cells
        The frames, and the regions; see :class:`tether.report.choosing.ToChoose`.
    size
        Width and height of a picture [px].
    part
        Which part; None: the water where it is known, else the middle.

    Raises
    ------
    PlanError
        The part is a region that is not known.
    LostError
        The process that makes them ended.
    """
    there = [one for one in candidates if (outing / one.shown.frame).is_file()]
    return asyncio.run(_made(outing, there, cells, size, part)) if there else Pictures(jpegs={}, words="")


async def _made(
    outing: Path, there: Sequence[Candidate], cells: tuple[str, ...], size: tuple[int, int], part: Part | None
) -> Pictures:
    cropper, words = Cropper("sheet"), ""
    jpegs: dict[int, bytes] = {}
    try:
        seen = await cropper.survey(outing, Survey(frame=there[0].shown.base, cells=cells, letters="wr"))
        centre, words = place_of(part, seen["middles"])
        step = step_for(seen["size"][0], size[0])
        words = f"{words}, 1:{step}"
        for one in there:
            with suppress(UnreadableFileError):
                asked = Crop(of=one.shown, centre=(centre[0], centre[1]), size=size, step=step)
                jpegs[one.frame] = await cropper.crop(outing, asked)
    except UnreadableFileError:  # nobody knows how large the frames are
        pass
    except LostError as error:
        said = f"; what it said last is in {cropper.words}" if cropper.words else ""
        raise LostError(f"The process that makes pictures of frames has ended{said}.") from error
    finally:
        await cropper.close()
    return Pictures(jpegs=jpegs, words=words)
