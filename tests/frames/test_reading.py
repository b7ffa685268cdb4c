"""What is asked of frames and answered: which parts are worked out beside a base, and what is said of the others."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from tether.files.errors import UnreadableFileError
from tether.files.raw import RawFrame
from tether.frames import reading
from tether.frames.against import Against
from tether.frames.asked import BaseAsked, FrameAsked, PictureAsked
from tether.frames.mosaic import Region
from tether.frames.reading import answer
from tether.frames.regions import given
from tether.journal.readings import Sharpness, Stillness, StreakSaid

BLACK, WHITE = 512, 16383
SHAPE = (192, 288)
WATER, ROCK = ("water", 0.0, 0.0, 0.5, 1.0), ("rock", 0.5, 0.0, 1.0, 1.0)
STILL = Stillness(
    right_px=0.5,
    down_px=0.0,
    turned_px=0.0,
    grown_px=0.0,
    most_px=0.5,
    uncertainty_px=0.01,
    sharpness=None,
    squares=40,
)


def soft(lost: float) -> Stillness:
    sharpness = Sharpness(lost=lost, uncertainty=0.01, along_px2=1, across_px2=1, along_deg=0, lower=lost, upper=lost)
    return replace(STILL, sharpness=sharpness)


def frame(brightness: float = 1.0, seed: int = 1, shape: tuple[int, int] = SHAPE) -> RawFrame:
    """Return a frame of detail that stays to the right, and of another each time to the left."""
    detail = np.random.default_rng(9).uniform(0.5, 1.5, shape)
    detail[:, : shape[1] // 2] = np.random.default_rng(seed).uniform(0.2, 1.8, (shape[0], shape[1] // 2))
    noise = np.random.default_rng([2, seed]).normal(0, 3, shape)
    light: NDArray[np.float64] = BLACK + 2000 * brightness * detail + noise
    return RawFrame(
        mosaic=np.clip(light, 0, WHITE).astype(np.uint16), pattern="RGGB", black=(float(BLACK),) * 4, white=WHITE
    )


@pytest.fixture
def files(monkeypatch: pytest.MonkeyPatch) -> dict[str, RawFrame]:
    """The frames that there are, by their names."""
    there = {"one": frame(), "two": frame(seed=2), "later": frame(0.5, seed=3)}

    def read(path: Path) -> RawFrame:
        if path.name not in there:
            raise UnreadableFileError(f"{path} is gone.")
        return there[path.name]

    monkeypatch.setattr(reading, "read_raw", read)
    return there


@pytest.fixture
def asked(tmp_path: Path) -> BaseAsked:
    return BaseAsked(
        paths=(Path("one"), Path("two")),
        keep=tmp_path / "kept.npz",
        aperture=8.0,
        pitch_um=4.35,
        time_s=0.01,
        rectangles=(WATER, ROCK),
    )


def later(asked: BaseAsked, **more: Any) -> FrameAsked:
    return FrameAsked(path=Path("later"), against=asked.keep, **more)


# Alone


def test_a_frame_alone_is_its_levels(files: dict[str, RawFrame]) -> None:
    said = answer(FrameAsked(path=Path("one")))
    assert said.problem is None
    assert said.frame is not None
    assert said.frame.channels["G"].mean == pytest.approx(2000 / (WHITE - BLACK), rel=0.02)
    beside = (said.frame.water, said.frame.rock, said.frame.still, said.frame.definition, said.frame.streak)
    assert beside == (None,) * 5


def test_its_histogram_is_of_the_whole_picture_alone_and_of_the_water_beside_a_base(
    files: dict[str, RawFrame], asked: BaseAsked
) -> None:
    """Half a base of 2000 above black, so that water is some four stops below clipping; none of it clips."""
    alone = answer(FrameAsked(path=Path("one"))).histogram
    assert alone is not None
    assert alone.of == "whole picture"
    answer(asked)
    found = answer(later(asked)).histogram
    assert found is not None
    assert (found.of, found.stops) == ("water", 9)
    green = found.shares["G"]
    assert sum(green) == pytest.approx(1.0, abs=1e-4)
    middle = sum((number + 0.5) / 3 * share for number, share in enumerate(green)) - found.stops
    assert middle == pytest.approx(-4, abs=0.4)
    assert set(found.clipped.values()) == {0.0}


def test_what_can_not_be_read_is_said_as_it_is(files: dict[str, RawFrame]) -> None:
    assert answer(FrameAsked(path=Path("gone"))).problem == "gone is gone."


def test_a_picture_that_can_not_be_drawn_is_said_as_it_is(tmp_path: Path) -> None:
    cells = given([Region(kind="water", left=0, top=0, right=1, bottom=1)]).cells
    drawn = answer(PictureAsked(path=tmp_path / "none.dng", cells=cells, into=tmp_path / "regions.jpg"))
    assert drawn.problem == f"{tmp_path / 'none.dng'} can't be read (no such file or directory)."
    assert not (tmp_path / "regions.jpg").exists()


@pytest.mark.parametrize("error", [ZeroDivisionError("by nothing"), np.linalg.LinAlgError("by nothing")])
def test_numbers_that_come_to_nothing_are_a_sentence(
    files: dict[str, RawFrame], monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    def fails(*_: object) -> None:
        raise error

    monkeypatch.setattr(reading, "histograms", fails)
    said = answer(FrameAsked(path=Path("one")))
    assert said.problem == "The numbers of it come to nothing: by nothing."
    assert said.frame is None


# A base


def test_given_regions_are_taken_as_they_are(files: dict[str, RawFrame], asked: BaseAsked) -> None:
    said = answer(asked)
    assert said.problem is None
    assert said.base is not None
    assert (said.base.water_share, said.base.rock_share) == (0.5, 0.5)
    assert said.base.first.water is not None
    assert said.base.first.water.channels["G"].mean == pytest.approx(2000 / (WHITE - BLACK), rel=0.05)
    assert asked.keep.exists()


def test_the_kind_that_is_not_given_is_proposed_from_what_moves(files: dict[str, RawFrame], asked: BaseAsked) -> None:
    said = answer(asked.model_copy(update={"rectangles": (WATER,)}))
    assert said.base is not None
    assert said.base.water_share == 0.5
    assert 0.3 < said.base.rock_share <= 0.5
    assert not any("r" in row[:34] for row in said.base.cells)


def test_a_single_frame_proposes_nothing_and_that_is_no_problem(files: dict[str, RawFrame], asked: BaseAsked) -> None:
    said = answer(asked.model_copy(update={"paths": (Path("one"),), "rectangles": ()}))
    assert said.base is not None
    assert (said.base.water_share, said.base.rock_share, said.base.first.water) == (0.0, 0.0, None)
    assert said.problem is None


def test_two_frames_too_dark_for_rock_say_so(files: dict[str, RawFrame], asked: BaseAsked) -> None:
    files |= {"one": frame(0.001), "two": frame(0.001, seed=2)}
    said = answer(asked.model_copy(update={"rectangles": (WATER,)}))
    assert said.base is not None
    assert said.base.rock_share == 0
    assert "dark" in (said.problem or "")


def test_a_picture_with_fewer_pixels_than_cells_is_refused(files: dict[str, RawFrame], asked: BaseAsked) -> None:
    files["one"] = frame(shape=(94, 288))
    assert answer(asked).problem == "one is too small a picture for 72 × 48 cells."


# Beside a base


def test_beside_a_base_the_water_and_the_still_parts_are_read(files: dict[str, RawFrame], asked: BaseAsked) -> None:
    answer(asked)
    said = answer(later(asked))
    assert said.problem is None
    assert said.frame is not None
    assert said.frame.water is not None
    assert said.frame.water.channels["G"].mean == pytest.approx(1000 / (WHITE - BLACK), rel=0.05)
    assert said.frame.rock is not None
    assert said.frame.rock.brighter_stops["G"] == pytest.approx(-1, abs=0.01)


def test_a_part_that_comes_to_nothing_is_named_and_the_others_stand(
    files: dict[str, RawFrame], asked: BaseAsked, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise ValueError("no light")

    answer(asked)
    monkeypatch.setattr(reading, "compared", fails)
    said = answer(later(asked))
    assert said.problem == "The level of the rock can't be worked out (no light)."
    assert said.frame is not None
    assert said.frame.rock is None
    assert said.frame.water is not None


def test_a_number_that_is_not_finite_is_none(
    files: dict[str, RawFrame], asked: BaseAsked, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer(asked)
    right = answer(later(asked)).frame
    assert right is not None
    assert right.rock is not None
    wrong = replace(right.rock, lifted_share=float("nan"))
    monkeypatch.setattr(reading, "compared", lambda *_: wrong)
    said = answer(later(asked))
    assert said.problem == "The level of the rock can't be worked out (a number is not finite)."
    assert said.frame is not None
    assert said.frame.rock is None


@pytest.mark.parametrize(
    ("found", "aperture", "expected"),
    [
        (soft(0.10), 16.0, True),
        (soft(0.02), 16.0, False),  # nothing that has to be accounted for
        (soft(0.10), 8.1, False),  # 0.036 of half a stop's scale: the same aperture
        (soft(0.10), None, False),
        (STILL, 16.0, False),
    ],
)
def test_diffraction_is_worked_out_where_it_may_be_the_cause(
    files: dict[str, RawFrame],
    asked: BaseAsked,
    monkeypatch: pytest.MonkeyPatch,
    found: Stillness,
    aperture: float | None,
    expected: bool,
) -> None:
    answer(asked)
    taken = soft(0.08).sharpness
    given: list[tuple[float, float, float]] = []

    def diffraction(_still: object, *between: float) -> Sharpness | None:
        given.append((between[0], between[1], between[2]))
        return taken

    monkeypatch.setattr(reading, "_stillness", lambda *_: found)
    monkeypatch.setattr(reading, "diffraction", diffraction)
    # A base in which the rocks had something to hold on to.
    against = Against.load(asked.keep)
    still: Any = object()
    standing = reading._still(found, replace(against, still=still), aperture)
    assert standing is not None
    assert (standing.expected is taken) is expected
    assert given == ([(8.0, 16.0, 4.35)] if expected else [])


@pytest.mark.parametrize(("time_s", "told"), [(None, False), (0.019, False), (0.02, True), (5.0, True)])
def test_a_streak_is_told_of_a_frame_at_least_twice_as_long_as_the_base(
    files: dict[str, RawFrame],
    asked: BaseAsked,
    monkeypatch: pytest.MonkeyPatch,
    time_s: float | None,
    told: bool,
) -> None:
    answer(asked)
    given: list[tuple[float, tuple[float, float]]] = []

    def streak(_water: object, _frame: RawFrame, *, base_share: float, moved_px: tuple[float, float]) -> StreakSaid:
        given.append((base_share, moved_px))
        return StreakSaid(length_px=3.0)

    monkeypatch.setattr(reading, "streak", streak)
    water: Any = object()
    against = replace(Against.load(asked.keep), water=water)
    for still, moved_px in ((STILL, (0.5, 0.0)), (None, (0.0, 0.0))):
        found = reading._streak(files["later"], against, still, time_s)
        assert found == (StreakSaid(length_px=3.0) if told else None)
        if time_s is not None and told:
            share, lies_px = given.pop()
            assert share == pytest.approx(0.01 / time_s)
            assert lies_px == moved_px
    assert given == []
