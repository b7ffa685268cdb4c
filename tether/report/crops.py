"""Gives parts of an outing's frames as pictures, all alike: a process of low priority beside a face that decodes none.

``python -m tether.report.crops OUTING`` reads a request a line and answers a line each, both JSON. While nothing is
asked it prepares tiles of the frames that it was told of, in their order, so that the next request is answered at once;
it looks for a new request after each band of a frame.
"""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import sys
from collections import OrderedDict, deque
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from scipy.ndimage import distance_transform_edt

from tether.errors import TetherError
from tether.files.raw import RawFrame, RawHeader, read_with_header
from tether.files.tiles import SMALLER, TILE_PX, TILES_END, About, Picture, about, jpeg, part, whole, write_tiles
from tether.frames.developing import Box, Look, bands, shown, upright
from tether.report.crops_asked import Crop, Shown, Survey, asked_of

#: Of twenty steps of politeness: behind everything else.
_POLITE = 19
#: Frames whose numbers are kept in memory where their tiles are not there yet: the two that are compared.
_KEPT = 2
#: Tiles are not written where the disk has no more than this left [bytes].
LEAST_FREE = 2_000_000_000


class Crops:
    """Parts of an outing's frames; keeps the numbers of those that were asked for last."""

    def __init__(self, outing: Path) -> None:
        self._outing = outing
        self._read: OrderedDict[str, RawFrame] = OrderedDict()
        self._headers: dict[str, RawHeader] = {}

    def tiles(self, of: Shown) -> Path:
        """Return where the tiles of a frame lie, or would."""
        return self._outing / "previews" / f"{Path(of.frame).stem}{TILES_END}"

    def crop(self, asked: Crop) -> Picture:
        """Return a part of a frame. Raises UnreadableFileError where it can't be read."""
        path = self.tiles(asked.of)
        ready = about(path)
        if ready is not None and ready.look == _look_text(asked.of):
            return self._of_tiles(path, ready, asked)
        raw = self._raw(asked.of.frame)
        height, width = raw.mosaic.shape
        step = asked.step or _step_for(width, height, asked.size)
        return shown(raw, self._look(asked.of), _box(width, height, asked, step), step)

    def prepare(self, of: Shown) -> Iterator[None]:
        """Make the tiles of a frame, a band at a time; nothing where they are there, or the disk is nearly full."""
        path = self.tiles(of)
        ready = about(path)
        if (ready is not None and ready.look == _look_text(of)) or shutil.disk_usage(self._outing).free < LEAST_FREE:
            return
        raw = self._raw(of.frame)
        made = []
        for band in bands(raw, self._look(of), TILE_PX):
            made.append(band)
            yield
        write_tiles(path, made, _look_text(of))

    def survey(self, asked: Survey) -> dict[str, Any]:
        """Return the size of the upright frame [px], and the middle of the largest piece of each region in shares."""
        header = self._header(asked.frame)
        size = (header.width - header.width % 2, header.height - header.height % 2)
        middles = {letter: _middle(asked.cells, letter, header.left_turns) for letter in asked.letters}
        return {"size": size if header.left_turns % 2 == 0 else size[::-1], "middles": middles}

    def _header(self, name: str) -> RawHeader:
        if name not in self._headers:
            self._raw(name)
        return self._headers[name]

    def _of_tiles(self, path: Path, ready: About, asked: Crop) -> Picture:
        step = asked.step or _step_for(ready.width, ready.height, asked.size)
        box = _box(ready.width, ready.height, asked, step)
        if step < SMALLER:
            return _smaller(part(path, box.left, box.top, box.right, box.bottom), step)
        small = whole(path)
        found = small[box.top // SMALLER : box.bottom // SMALLER, box.left // SMALLER : box.right // SMALLER]
        return _smaller(found, step // SMALLER)

    def _raw(self, name: str) -> RawFrame:
        if name not in self._read:
            raw, self._headers[name] = read_with_header(self._outing / name)
            self._read[name] = upright(raw, self._headers[name].left_turns)
            if len(self._read) > _KEPT:
                self._read.popitem(last=False)
        self._read.move_to_end(name)
        return self._read[name]

    def _look(self, of: Shown) -> Look:
        header = self._header(of.base)
        return Look(gains=of.gains, balance=header.balance, to_srgb=header.to_srgb)


def _middle(cells: tuple[str, ...], letter: str, left_turns: int) -> tuple[float, float] | None:
    """Return the place of a region that is farthest from all else, as shares of width and height; None: it has none."""
    where = np.rot90([[cell == letter for cell in row] for row in cells], left_turns) if cells else np.zeros((1, 1))
    if not where.any():
        return None
    deep = distance_transform_edt(np.pad(where, 1))[1:-1, 1:-1]
    row, column = np.unravel_index(int(deep.argmax()), deep.shape)
    return (float(column) + 0.5) / where.shape[1], (float(row) + 0.5) / where.shape[0]


def _look_text(of: Shown) -> str:
    return json.dumps([of.base, *(round(gain, 3) for gain in of.gains)])


def _box(width: int, height: int, asked: Crop, step: int) -> Box:
    """Return the part of the frame that is asked for, moved to where it lies within it."""
    wide, tall = min(asked.size[0] * step, width), min(asked.size[1] * step, height)
    left = min(max(round(asked.centre[0] * width - wide / 2), 0), width - wide)
    top = min(max(round(asked.centre[1] * height - tall / 2), 0), height - tall)
    left, top = left - left % max(step, 2), top - top % max(step, 2)
    return Box(left=left, top=top, right=left + wide, bottom=top + tall)


def _step_for(width: int, height: int, size: tuple[int, int]) -> int:
    """Return the step at which a whole frame fits into a size: 1, or a power of two."""
    step = 1
    while width / step > size[0] or height / step > size[1]:
        step *= 2
    return step


def _smaller(picture: Picture, step: int) -> Picture:
    if step <= 1:
        return picture
    rows, columns = picture.shape[0] // step, picture.shape[1] // step
    squares = picture[: rows * step, : columns * step].reshape(rows, step, columns, step, 3)
    return np.asarray(squares.mean(axis=(1, 3)).round(), dtype=np.uint8)


# The process


class _Process:
    """Answers requests as they come, and prepares frames meanwhile."""

    def __init__(self, crops: Crops, say: Callable[[str], None]) -> None:
        self._crops = crops
        self._say = say
        self._to_do: deque[Shown] = deque()
        self._in_hand: Iterator[None] | None = None

    def hear(self, line: bytes) -> None:
        """Act on a request."""
        number, asked = asked_of(line)
        if isinstance(asked, tuple):
            self._to_do = deque(asked)
            return
        try:
            answer = self._answer(asked)
        except (TetherError, MemoryError) as error:
            answer = {"problem": str(error)}
        self._say(json.dumps({"id": number, **answer}))

    def _answer(self, asked: Crop | Survey) -> dict[str, Any]:
        if isinstance(asked, Survey):
            return self._crops.survey(asked)
        return {"jpeg": base64.b64encode(jpeg(self._crops.crop(asked))).decode()}

    def go_on(self) -> bool:
        """Prepare a little; say whether there is more to do."""
        if self._in_hand is None:
            if not self._to_do:
                return False
            self._in_hand = self._crops.prepare(self._to_do.popleft())
        try:
            next(self._in_hand)
        except (StopIteration, TetherError, MemoryError):  # of what can't be prepared who asks for it is told why
            self._in_hand = None
        return True


def main(outing: Path) -> None:
    """Serve until standard input ends."""
    os.nice(_POLITE)
    process = _Process(Crops(outing), lambda text: print(text, flush=True))  # noqa: T201 - its answers
    lines = sys.stdin.buffer
    os.set_blocking(lines.fileno(), True)
    waiting = b""
    more = False
    while True:
        if more and not select.select([lines.fileno()], [], [], 0)[0]:
            more = process.go_on()
            continue
        read = os.read(lines.fileno(), 65536)
        if not read:
            return
        waiting += read
        *whole_lines, waiting = waiting.split(b"\n")
        for line in whole_lines:
            process.hear(line)
        more = True


if __name__ == "__main__":
    main(Path(sys.argv[1]))
