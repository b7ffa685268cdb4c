"""What is asked of the process that reads frames, and that every number in an answer is finite."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan
from pathlib import Path
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from tests.journal.shown import readings
from tether.frames.asked import Asked, BaseAsked, FrameAnswer, FrameAsked, is_finite

ASKED: TypeAdapter[Any] = TypeAdapter(Asked)


@pytest.mark.parametrize("wrong", [nan, inf, -inf])
def test_a_number_that_is_not_finite_is_found_wherever_it_stands(wrong: float) -> None:
    whole = readings(water=(0.5, 0.0), off_stops=0.1, moved=(1.0, 2.0), lost=0.1)
    assert is_finite(FrameAnswer(frame=whole))
    assert not is_finite(FrameAnswer(frame=replace(whole, clipped_share=wrong)))
    assert whole.still is not None
    assert not is_finite(FrameAnswer(frame=replace(whole, still=replace(whole.still, most_px=wrong))))
    for data in (wrong, [1.0, wrong], (1, (wrong,)), {"a": {"b": [wrong]}}):
        assert not is_finite(data)


@pytest.mark.parametrize("data", [None, True, 3, "nan", 1.5, [], {}, {"a": [None, "inf"]}])
def test_what_is_no_number_is_not_held_against_it(data: object) -> None:
    assert is_finite(data)


def test_a_request_is_known_by_what_it_asks() -> None:
    frame = FrameAsked(path=Path("/a.dng"), aperture=8.0)
    base = BaseAsked(
        paths=(Path("/a.dng"),),
        keep=Path("/kept.npz"),
        aperture=8.0,
        pitch_um=4.35,
        time_s=0.01,
        rectangles=(("water", 0.0, 0.0, 1.0, 1.0),),
    )
    for one in (frame, base):
        assert ASKED.validate_json(one.model_dump_json()) == one


@pytest.mark.parametrize(
    "text",
    [
        '{"what": "dance"}',
        '{"what": "frame"}',
        '{"what": "frame", "path": "/a", "colour": 1}',
        '{"what": "base", "paths": [], "keep": "/k", "aperture": 8, "pitch_um": 4, "time_s": 1}',
    ],
)
def test_what_is_no_request_is_refused(text: str) -> None:
    with pytest.raises(ValidationError):
        ASKED.validate_json(text)
