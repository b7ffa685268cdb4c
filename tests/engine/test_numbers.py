"""Numbers that come to nothing cost the reading they belong to, with a sentence, and never the run."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.engine.rig import TEN, Worked, work
from tether.engine import assessment as readings
from tether.engine import base_frames
from tether.engine import judgement as judging
from tether.frames import reading
from tether.frames.asked import is_finite
from tether.journal.readings import RockSaid
from tether.journal.story import FrameStory
from tether.report.audit import audit
from tether.report.log import log_json

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
PLAN = BASE + '[rungs]\ntimes = ["1/125", "4"]\nframes = 1\n' + TEN
READ = '[readings]\nregions = "as proposed"\n'


def singular(*_: Any, **__: Any) -> Any:
    raise np.linalg.LinAlgError("Singular matrix")


def infinite(*_: Any, **__: Any) -> RockSaid:
    inf = float("inf")
    return RockSaid(brighter_stops={"R": inf, "G": inf, "B": 0.0}, uncertainty_stops=0.1, lifted_share=0.0)


def nothing(*_: Any, **__: Any) -> Any:
    raise ZeroDivisionError("float division by zero")


def rungs(worked: Worked) -> list[FrameStory]:
    return [frame for frame in worked.frames if frame.kind == "rung"]


@pytest.mark.parametrize(
    ("where", "name", "fails", "lost", "sentence"),
    [
        (reading, "_stillness", singular, "still", "Where the still parts stand can't be worked out (Singular matrix)"),
        (reading, "compared", infinite, "rock", "The level of the rock can't be worked out (a number is not finite)"),
        (reading, "_definition", nothing, "definition", "How defined the water is can't be worked out"),
        (reading, "_streak", nothing, "streak", "The water's streak can't be worked out"),
    ],
    ids=["still", "rock", "definition", "streak"],
)
def test_what_fails_costs_that_reading_alone(
    where: Any,
    name: str,
    fails: Callable[..., Any],
    lost: str,
    sentence: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(where, name, fails)
    worked = work(tmp_path, PLAN + READ)
    assert worked.outcome == "done"
    assert all(worked.said(frame.frame).headroom_stops is not None for frame in rungs(worked))
    assert [getattr(worked.said(frame.frame), lost) for frame in rungs(worked)] == [None, None]
    assert worked.notes().count(sentence) >= 2
    others = {"water", "rock"} - {lost}
    assert all(getattr(worked.said(frame.frame), other) is not None for frame in rungs(worked) for other in others)


@pytest.mark.parametrize(
    ("where", "name", "sentence"),
    [
        (reading, "levels_of", "Its pixels could not be read: The numbers of it come to nothing: Singular matrix."),
        (judging, "expected_stops", "What it says can't be held against what was expected: Singular matrix."),
        (readings, "follow_ups", "What it says can't be judged: Singular matrix."),
        (base_frames, "follow_ups", "What the base frames say can't be judged: Singular matrix."),
        (reading, "boiled_down", "The base frames could not be read, so later frames are not compared"),
    ],
    ids=["levels", "expected", "verdicts", "verdicts of the base", "base"],
)
def test_whatever_fails_the_ladder_is_done_and_it_is_said(
    where: Any, name: str, sentence: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(where, name, singular)
    worked = work(tmp_path, PLAN + READ)
    assert worked.outcome == "done"
    assert worked.rung_outcomes() == ["done", "done"]
    assert sentence in worked.notes()


def test_a_number_that_is_not_finite_is_found_wherever_it_stands() -> None:
    assert is_finite({"a": [1.0, {"b": None}], "c": "inf", "d": (2, True)})
    assert not is_finite({"a": [1.0, {"b": float("nan")}]})
    assert not is_finite([(float("-inf"),)])


def test_a_frame_of_no_number_is_left_out_of_the_audit_and_null_in_the_log(tmp_path: Path) -> None:
    worked = work(tmp_path, PLAN + READ)
    ladder = worked.ladder
    whole = audit(ladder)
    spoilt = next(frame for frame in ladder.frames if frame.kind == "rung")
    said = worked.said(spoilt.frame)
    assert said.rock is not None
    said = replace(said, rock=replace(said.rock, off_stops=float("inf")))
    frames = tuple(replace(frame, readings=said) if frame is spoilt else frame for frame in ladder.frames)
    told = replace(worked.told, ladders=(replace(ladder, frames=frames),))
    left = audit(told.ladders[0])
    assert [one.frame for one in left] == [one.frame for one in whole if one.frame != spoilt.frame]
    assert is_finite([vars(one) for one in left])
    (ladder_told,) = log_json(told)["ladders"]
    (frame_told,) = (one for one in ladder_told["frames"] if one["frame"] == spoilt.frame)
    assert frame_told["readings"]["rock"]["off_stops"] is None
    json.dumps(ladder_told, allow_nan=False)


def test_what_nothing_tells_apart_is_split_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ladder = work(tmp_path, PLAN + READ).ladder
    whole = audit(ladder)
    monkeypatch.setattr(np.linalg, "inv", singular)
    assert [one.light_stops for one in audit(ladder)] == pytest.approx([one.light_stops for one in whole], abs=1e-6)
