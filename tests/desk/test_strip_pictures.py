"""The strip's pictures at the desk: what is asked for, in which order, once each; and what can't be had is left out."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.report.test_strip_picture import candidates
from tether.desk.pictures import Picture
from tether.desk.strip_pictures import StripPictures, crop_for, nearest_first
from tether.files.errors import UnreadableFileError
from tether.files.tiles import jpeg
from tether.report.crops_asked import Crop, Shown, Survey

OUTING = Path("outings/weir")


def shown(name: str) -> Shown:
    return Shown(frame=name, base="base", gains=(1.0, 1.0, 1.0))


class Played:
    """What gives parts of frames: grey ones; of "gone" none."""

    def __init__(self, water: tuple[float, float] | None = (0.25, 0.5)) -> None:
        self.asked: list[str] = []
        self.prepared: list[str] = []
        self.surveyed = 0
        self.water = water

    async def crop(self, outing: Path, asked: Crop) -> bytes:
        self.asked.append(asked.of.frame)
        if asked.of.frame == "gone":
            raise UnreadableFileError(f"{outing / 'gone'} is gone.")
        return jpeg(np.full((asked.size[1], asked.size[0], 3), 100, dtype=np.uint8))

    async def survey(self, outing: Path, asked: Survey) -> dict[str, Any]:
        self.surveyed += 1
        return {"size": [6000, 4000], "middles": {"w": self.water}}

    async def prepare(self, outing: Path, frames: Sequence[Shown]) -> None:
        self.prepared += [one.frame for one in frames]

    async def close(self) -> None: ...


@pytest.mark.parametrize(
    ("size", "zoom", "dots", "step", "asked"),
    [
        # 0.45 of 4000 px are 1800; for 12 dots every 64th would do, but a 32nd is the coarsest.
        ((6000, 4000), 1, (8, 12), 32, (37, 56)),
        # 24 dots: 1800 / 32 = 56, twice as many as there are dots, and a little more.
        ((6000, 4000), 1, (8, 24), 32, (19, 56)),
        ((6000, 4000), 8, (8, 24), 4, (19, 56)),
        ((1200, 800), 1, (8, 16), 8, (22, 45)),
        # Never less than a pixel of the sensor for a dot.
        ((60, 40), 8, (8, 24), 1, (8, 24)),
    ],
)
def test_a_crop_has_the_shape_of_its_place_and_pixels_enough(
    size: tuple[int, int], zoom: int, dots: tuple[int, int], step: int, asked: tuple[int, int]
) -> None:
    crop = crop_for(shown("one"), size, (0.25, 0.5), zoom, dots)
    assert (crop.step, crop.centre) == (step, (0.25, 0.5))
    assert crop.size == pytest.approx(asked, abs=1)
    assert crop.size[0] / crop.size[1] == pytest.approx(dots[0] / dots[1], rel=0.05)


def test_what_is_looked_at_comes_first_and_each_picture_once() -> None:
    played = Played()
    seen: list[list[int]] = []

    def show(there: dict[int, Picture]) -> None:
        seen.append(sorted(there))

    async def do() -> None:
        pictures = StripPictures(played)
        assert await pictures.survey(OUTING, [shown("a")], ()) == (6000, 4000)
        assert await pictures.survey(OUTING, [shown("a")], ()) == (6000, 4000)
        assert pictures.water == (0.25, 0.5)
        asked = [
            (number, crop_for(shown(name), (6000, 4000), (0.5, 0.5), 1, (8, 12)))
            for number, name in ((1, "a"), (2, "gone"), (3, "b"))
        ]
        await pictures.make(asked, show, until=lambda: False)
        await pictures.make(asked, show, until=lambda: False)

    asyncio.run(do())
    assert (played.surveyed, played.prepared, played.asked) == (1, ["a"], ["a", "gone", "b"])
    assert seen == [[], [1], [1], [1, 3], [1, 3]]


def test_frames_that_have_come_since_are_prepared_too() -> None:
    played = Played()

    async def do() -> None:
        pictures = StripPictures(played)
        for names in ("a", "a", "ab", "ba"):
            await pictures.survey(OUTING, [shown(name) for name in names], ())

    asyncio.run(do())
    assert (played.surveyed, played.prepared) == (1, ["a", "a", "b"])


def test_where_others_are_wanted_by_now_no_more_of_these_are_asked_for() -> None:
    played = Played()
    asked = [(number, crop_for(shown(str(number)), (60, 40), (0.5, 0.5), 1, (8, 12))) for number in range(5)]

    async def do() -> None:
        pictures = StripPictures(played)
        await pictures.survey(OUTING, [shown("a")], ())
        await pictures.make(asked, lambda _: None, until=lambda: len(played.asked) == 2)

    asyncio.run(do())
    assert played.asked == ["0", "1"]


def test_a_frame_that_says_nothing_of_itself_has_no_strip() -> None:
    class Deaf(Played):
        async def survey(self, outing: Path, asked: Survey) -> dict[str, Any]:
            raise UnreadableFileError("It is damaged.")

    pictures = StripPictures(Deaf())
    assert asyncio.run(pictures.survey(OUTING, [shown("a")], ())) is None


def test_frames_are_wanted_from_the_one_that_is_looked_at_outwards() -> None:
    frames = candidates([0.0, 1.0, 2.0, 3.0])  # numbered from 10
    assert [one.frame for one in nearest_first(frames, 12)] == [12, 11, 13, 10]
    assert [one.frame for one in nearest_first(frames, None)] == [10, 11, 12, 13]
