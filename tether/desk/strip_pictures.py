"""The pictures of the desk's strip, one for each rung, as they come from the process that makes crops."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from tether.errors import TetherError
from tether.report.choosing import Candidate
from tether.report.crops_asked import Crop, Shown, Survey

if TYPE_CHECKING:
    from tether.desk.pictures import Picture

Place = tuple[float, float]

#: How much of a frame's height a picture of the strip shows where nothing is magnified.
_SHARE = 0.45
#: So many pixels are asked for in one dot of the screen, along each side, at least: their mean is less coarse.
_PER_DOT = 2
_COARSEST = 32
#: Pictures that are kept.
_KEPT = 400


class Crops(Protocol):
    """What gives parts of frames; see :class:`tether.report.cropper.Cropper`."""

    async def crop(self, outing: Path, asked: Crop) -> bytes: ...
    async def survey(self, outing: Path, asked: Survey) -> dict[str, Any]: ...
    async def prepare(self, outing: Path, frames: Sequence[Shown]) -> None: ...
    async def close(self) -> None: ...


def crop_for(of: Shown, size: tuple[int, int], centre: Place, zoom: int, dots: tuple[int, int]) -> Crop:
    """Return what to ask for.

    Parameters
    ----------
    of
        The frame.
    size
        Its width and height [px].
    centre, zoom
        Which part, as shares of width and height; how many times closer than :data:`_SHARE` of the height.
    dots
        Width and height of the picture on the screen [px].
    """
    wide, high = dots
    tall = max(_SHARE * size[1] / zoom, high)
    step = 1
    while step < _COARSEST and tall / (2 * step) >= _PER_DOT * high:
        step *= 2
    down = max(round(tall / step), 1)
    middle = (round(centre[0], 4), round(centre[1], 4))
    return Crop(of=of, centre=middle, size=(max(round(down * wide / high), 1), down), step=step)


class StripPictures:
    """Asks for the pictures of a strip, the nearest to what is looked at first, and keeps them."""

    def __init__(self, crops: Crops) -> None:
        self._crops = crops
        self._outing: Path | None = None
        self._made: dict[Crop, Picture | None] = {}
        self._size: tuple[int, int] | None = None
        self._prepared: frozenset[str] = frozenset()
        self.water: Place | None = None
        """The middle of the water, where it is known."""

    async def survey(self, outing: Path, frames: Sequence[Shown], cells: tuple[str, ...]) -> tuple[int, int] | None:
        """Learn how large frames are [px] and where their water is, and have them prepared; None: it can't be known."""
        if outing != self._outing:
            self._outing, self._size, self.water, self._prepared = outing, None, None, frozenset()
            self._made.clear()
        try:
            if self._size is None:
                seen = await self._crops.survey(outing, Survey(frame=frames[0].base, cells=cells, letters="w"))
                self._size = (seen["size"][0], seen["size"][1])
                water = seen["middles"].get("w")
                self.water = (water[0], water[1]) if water else None
            if self._prepared != (names := frozenset(one.frame for one in frames)):
                await self._crops.prepare(outing, frames)
                self._prepared = names
        except (TetherError, OSError):
            return None
        return self._size

    async def make(
        self,
        asked: Sequence[tuple[int, Crop]],
        show: Callable[[dict[int, Picture]], None],
        until: Callable[[], bool],
    ) -> None:
        """Have pictures made, in their order, and show all that are there after each.

        Parameters
        ----------
        asked
            Frames' numbers and what to ask for.
        show
            Shows pictures by the frames' numbers.
        until
            Says after each whether others are wanted by now.
        """
        from tether.desk.pictures import decoded

        if len(self._made) > _KEPT:
            self._made.clear()
        show(self._there(asked))
        for _, crop in asked:
            if crop in self._made or self._outing is None:
                continue
            try:
                self._made[crop] = decoded(await self._crops.crop(self._outing, crop))
            except (TetherError, OSError):
                self._made[crop] = None
            show(self._there(asked))
            if until():
                return

    def _there(self, asked: Sequence[tuple[int, Crop]]) -> dict[int, Picture]:
        found = ((frame, self._made.get(crop)) for frame, crop in asked)
        return {frame: picture for frame, picture in found if picture is not None}

    async def close(self) -> None:
        """End the process."""
        await self._crops.close()


def nearest_first(frames: Sequence[Candidate], frame: int | None) -> list[Candidate]:
    """Return frames in the order in which they are wanted: what is looked at, then those beside it."""
    at = next((number for number, one in enumerate(frames) if one.frame == frame), 0)
    return [one for _, one in sorted(enumerate(frames), key=lambda each: abs(each[0] - at))]
