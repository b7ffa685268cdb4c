"""Whether a frame is to be taken again: from readings of its still rocks, with the evidence in words."""

from __future__ import annotations

from typing import Any

import pytest

from tether.frames.verdict import moved_px, verdict
from tether.journal.readings import Sharpness, Stillness

AT_REST = Stillness(
    right_px=0.0,
    down_px=0.0,
    turned_px=0.0,
    grown_px=0.0,
    most_px=0.0,
    uncertainty_px=0.05,
    sharpness=None,
    squares=30,
)


def lies(right_px: float = 0.0, down_px: float = 0.0, **other: Any) -> Stillness:
    """Return readings of rocks that lie somewhere; the farthest of them as far as all of them, if not told."""
    most_px = (right_px**2 + down_px**2) ** 0.5
    return Stillness(**{**vars(AT_REST), "right_px": right_px, "down_px": down_px, "most_px": most_px, **other})


def blur(lost: float, along_px2: float = 1.0, across_px2: float = 1.0, **other: Any) -> Sharpness:
    whole = {
        "lost": lost,
        "uncertainty": 0.02,
        "along_px2": along_px2,
        "across_px2": across_px2,
        "along_deg": 30.0,
        "lower": lost,
        "upper": lost,
        **other,
    }
    return Sharpness(**whole)


def soft(*given: float, **other: Any) -> Stillness:
    return lies(sharpness=blur(*given, **other))


def cause(found: Stillness, **beside: Any) -> str | None:
    said = verdict(found, **beside)
    return None if said is None else said.cause


def test_where_nothing_moved_and_nothing_is_soft_nothing_is_said() -> None:
    assert verdict(AT_REST) is None
    assert verdict(soft(0.0)) is None


@pytest.mark.parametrize(("right_px", "again"), [(1.05, False), (1.11, True), (-1.11, True)])
def test_a_move_counts_from_a_pixel_on_by_two_standard_errors(right_px: float, again: bool) -> None:
    assert (verdict(lies(right_px)) is not None) is again


def test_what_may_be_can_be_told() -> None:
    assert cause(lies(2.0), moved_may_be_px=3.0) is None
    assert cause(soft(0.3), lost_may_be=0.5) is None
    assert cause(lies(0.5), moved_may_be_px=0.3) == "knock"


@pytest.mark.parametrize(("lost", "again"), [(0.18, False), (0.20, True)])
def test_a_loss_counts_from_fifteen_percent_on_by_two_standard_errors(lost: float, again: bool) -> None:
    assert (verdict(soft(lost)) is not None) is again


def test_what_the_aperture_takes_is_no_loss() -> None:
    # Of the 0.8 that diffraction leaves 0.56 are left: 0.3 of it is lost.
    assert cause(soft(0.2), expected=blur(0.2)) is None
    said = verdict(soft(0.44), expected=blur(0.2, 0.5, 0.5))
    assert said is not None
    assert "lost 30% beside what the aperture takes of the contrast" in said.sentence


def test_what_moved_once_is_told_once() -> None:
    there = lies(3.0)
    assert cause(there) == "knock"
    assert cause(there, before=there) is None
    assert cause(there, before=lies(3.0, 2.0)) == "knock"


def test_how_far_is_the_shift_or_what_the_farthest_changed() -> None:
    before = lies(1.0, 1.0, most_px=5.0)
    assert moved_px(lies(3.0, 4.0), None) == 5.0
    assert moved_px(lies(4.0, 5.0, most_px=6.0), before) == 5.0
    assert moved_px(lies(1.0, 1.0, most_px=9.0), before) == 4.0


# What likely happened


def test_a_picture_that_grew_tells_of_the_lens_and_another_of_the_tripod() -> None:
    assert cause(lies(0.1, most_px=4.0, grown_px=-3.9)) == "zoom or focus ring"
    assert cause(lies(0.1, most_px=4.0, grown_px=1.9, turned_px=3.5)) == "knock"


def test_softness_along_one_direction_is_a_move_while_open_and_in_all_is_focus() -> None:
    assert cause(soft(0.4, 2.0, 0.7)) == "moved while open"
    assert cause(soft(0.4, 2.0, 0.9)) == "focus or spray"
    assert cause(lies(3.0, sharpness=blur(0.4, 2.0, 0.1))) == "moved while open"
    assert cause(lies(3.0, sharpness=blur(0.4, 2.0, 2.0))) == "knock"


def test_what_diffraction_does_alike_in_all_directions_is_taken_off_before() -> None:
    # 2.0 and 1.45, less 1.0 of the aperture's, are 1.0 and 0.45: hardly one way.
    assert cause(soft(0.5, 2.0, 1.45), expected=blur(0.1, 1.0, 1.0)) == "focus or spray"
    assert cause(soft(0.5, 2.0, 1.3), expected=blur(0.1, 1.0, 1.0)) == "moved while open"


# In words


@pytest.mark.parametrize(
    ("right_px", "down_px", "words"),
    [(2.0, -1.5, "2.0 px right and 1.5 px up"), (-2.0, 1.5, "2.0 px left and 1.5 px down")],
)
def test_where_they_lie_is_told_with_its_uncertainty(right_px: float, down_px: float, words: str) -> None:
    said = verdict(lies(right_px, down_px))
    assert said is not None
    assert said.sentence == (
        f"The still rocks lie {words} of where the base frame has them (± 0.05 px)."
        " The tripod was likely knocked, or sank, before this frame."
    )


def test_what_turned_is_told_by_the_farthest() -> None:
    said = verdict(lies(1.0, 0.0, most_px=4.0, uncertainty_px=0.001))
    assert said is not None
    assert "1.0 px right and 0.0 px down of where the base frame has them, and up to 4.0 px off (± 0.01 px)." in (
        said.sentence
    )


@pytest.mark.parametrize(
    ("sharpness", "words"),
    [
        (blur(0.4, 2.0, 0.1), "most of it along one direction (30° clockwise from level)."),
        (blur(0.4), "alike in all directions and all over the picture."),
        (blur(0.4, lower=0.1, upper=0.6), "alike in all directions, some parts of the picture much more than others."),
    ],
)
def test_how_it_is_soft_is_told(sharpness: Sharpness, words: str) -> None:
    said = verdict(lies(sharpness=sharpness))
    assert said is not None
    assert said.sentence.startswith(f"The still rocks lost 40% of the contrast of their fine texture (± 2%), {words} ")


def test_both_kinds_of_evidence_are_told() -> None:
    said = verdict(lies(3.0, sharpness=blur(0.4)))
    assert said is not None
    assert said.sentence.index("The still rocks lie") < said.sentence.index("The still rocks lost")
