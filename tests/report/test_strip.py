"""The strip's pictures: which frames, which part of them, how large; made of raw frames by the process that decodes."""

from __future__ import annotations

import asyncio
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.page.choosing import HEIGHT, WIDTH, write_evening
from tether.errors import LostError, PlanError
from tether.report.choices import Choice, Verdict
from tether.report.choosing import Candidate, to_choose
from tether.report.cropper import Cropper
from tether.report.strip import ROCK, WATER, one_per_rung, part_of, pictures_of, place_of, step_for

CELLS = ("wwrr", "wwrr", "....")


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_evening(tmp_path_factory.mktemp("outing") / "weir")


@pytest.fixture(scope="module")
def candidates(outing: Path) -> tuple[Candidate, ...]:
    return to_choose(outing).candidates


def chosen(candidates: tuple[Candidate, ...], verdicts: dict[int, Verdict]) -> list[int]:
    """Return which frames stand for their rungs, after choices by frame."""
    thought = [replace(one, choice=Choice(verdict=verdicts.get(one.frame))) for one in candidates]
    return [one.frame for one in one_per_rung(thought, 1)]


def test_of_several_frames_of_a_rung_the_one_that_is_kept_stands_in_the_strip(
    candidates: tuple[Candidate, ...],
) -> None:
    """Rung 2 has frames 3 and 4."""
    assert chosen(candidates, {}) == [2, 4, 5, 6, 8, 9]
    assert chosen(candidates, {3: "keep"}) == [2, 3, 5, 6, 8, 9]
    assert chosen(candidates, {3: "maybe", 4: "keep"}) == [2, 4, 5, 6, 8, 9]
    assert chosen(candidates, {4: "no"}) == [2, 3, 5, 6, 8, 9]


def test_only_rungs_of_that_ladder_and_those_asked_for_are_in_it(candidates: tuple[Candidate, ...]) -> None:
    assert one_per_rung(candidates, 2) == []
    assert [one.rung for one in one_per_rung(candidates, 1, {2, 5})] == [2, 5]


@pytest.mark.parametrize(
    ("text", "place"), [("water", WATER), (" Rock ", ROCK), ("0.25,0.5", (0.25, 0.5)), ("0.25, 1", (0.25, 1.0))]
)
def test_a_part_is_water_rock_or_a_place(text: str, place: object) -> None:
    assert part_of(text) == place


@pytest.mark.parametrize("text", ["", "sky", "0.5", "1.5,0.5", "-0.1,0.5", "0,5,0,5", "nan,0"])
def test_what_is_no_part_is_told_with_what_would_do(text: str) -> None:
    with pytest.raises(PlanError, match=r"water, rock, or a place such as 0\.4,0\.6"):
        part_of(text)


def test_where_nothing_is_said_it_is_the_water_and_without_water_the_middle() -> None:
    assert place_of(None, {"w": (0.2, 0.3), "r": (0.8, 0.9)}) == ((0.2, 0.3), "the water")
    assert place_of(None, {"w": None, "r": (0.8, 0.9)}) == ((0.5, 0.5), "the middle")
    assert place_of(ROCK, {"w": (0.2, 0.3), "r": (0.8, 0.9)}) == ((0.8, 0.9), "the rock")
    assert place_of((0.1, 0.2), {"w": None, "r": None}) == ((0.1, 0.2), "the same part")
    with pytest.raises(PlanError, match="no region of rock is known in this ladder"):
        place_of(ROCK, {"w": (0.2, 0.3), "r": None})


@pytest.mark.parametrize(("width", "wide", "step"), [(1200, 178, 1), (6000, 178, 4), (4000, 178, 2), (7000, 640, 1)])
def test_a_picture_shows_enough_of_the_frame_to_be_known_again(width: int, wide: int, step: int) -> None:
    """A twelfth of its width at least, as far as one of four pixels goes: 178 of 6000 are 1/34, of every fourth 1/8."""
    assert step_for(width, wide) == step


def test_pictures_are_of_the_same_part_of_each_frame_and_of_the_size_asked_for(outing: Path) -> None:
    found = to_choose(outing)
    candidates = [*found.candidates[:2], replace(found.candidates[2], shown=replace(
        found.candidates[2].shown, frame="frames/gone.dng"))]  # fmt: skip
    made = pictures_of(outing, candidates, CELLS, (40, 60), part=None)
    assert made.words == "the water, 1:1"
    assert set(made.jpegs) == {one.frame for one in candidates[:2]}
    pictures = [np.asarray(Image.open(io.BytesIO(jpeg)).convert("L"), dtype=float) for jpeg in made.jpegs.values()]
    assert {one.shape for one in pictures} == {(60, 40)}
    # The drawn frames are bright at their right end; the water is at the left: a quarter of the way across.
    right = pictures_of(outing, candidates[:1], CELLS, (40, 60), part=(0.9, 0.5))
    assert right.words == "the same part, 1:1"
    assert np.asarray(Image.open(io.BytesIO(right.jpegs[candidates[0].frame])).convert("L")).mean() > (
        pictures[0].mean() + 40
    )
    assert (WIDTH, HEIGHT) == (180, 120)


def test_of_frames_that_are_not_there_no_process_is_begun(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tether.report.strip.Cropper", None)
    gone = [replace(one, shown=replace(one.shown, frame="no.dng")) for one in to_choose(outing).candidates]
    made = pictures_of(outing, gone, CELLS, (40, 60), part=None)
    assert (made.jpegs, made.words) == ({}, "")


def test_a_process_that_ends_meanwhile_is_missed_and_where_its_last_words_are_is_told(
    outing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started = Cropper._started

    async def killed(cropper: Cropper, folder: Path) -> asyncio.subprocess.Process:
        process = await started(cropper, folder)
        process.kill()
        return process

    monkeypatch.setattr(Cropper, "_started", killed)
    with pytest.raises(LostError, match="The process that makes pictures of frames has ended; what it said last is in"):
        pictures_of(outing, to_choose(outing).candidates, CELLS, (40, 60), part=None)
