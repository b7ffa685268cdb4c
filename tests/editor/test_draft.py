"""A draft's text: edited, taken back, saved; its rectangles stand upright whatever way the camera was turned."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plan.plans import HEAD
from tether.editor.draft import Box, Draft, turned
from tether.errors import PlanError
from tether.outing import prepare
from tether.plan.file import plan_from_text

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
TEXT = f'# an evening\n{HEAD}{BASE}[rungs]  # short ones\ntimes = ["1/125", "1/60"]\n'
shares = st.integers(0, 100)


@st.composite
def boxes(draw: st.DrawFn) -> Box:
    left, right = sorted(draw(st.lists(shares, min_size=2, max_size=2, unique=True)))
    top, bottom = sorted(draw(st.lists(shares, min_size=2, max_size=2, unique=True)))
    return (left / 100, top / 100, right / 100, bottom / 100)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(TEXT)
    return path


def opened(path: Path) -> Draft:
    return Draft.opened(path, None, simulated=False)


@given(box=boxes(), turns=st.integers(0, 3))
def test_a_rectangle_turned_there_and_back_is_where_it_was(box: Box, turns: int) -> None:
    assert turned(turned(box, turns), -turns) == pytest.approx(box)


def test_the_right_upper_corner_of_a_picture_is_left_above_once_it_is_turned_left() -> None:
    assert turned((0.8, 0.0, 1.0, 0.1), 1) == pytest.approx((0.0, 0.0, 0.1, 0.2))


@pytest.mark.parametrize("turns", range(4))
def test_a_region_is_set_upright_and_kept_as_the_sensor_lies(path: Path, turns: int) -> None:
    box = (0.1, 0.2, 0.4, 0.9)
    draft = opened(path).turned(turns).with_region("water", box)
    (region,) = draft.regions()
    assert region.what == "water"
    assert region.box == pytest.approx(box)
    (kept,) = plan_from_text(draft.text).region
    assert (kept.left, kept.top, kept.right, kept.bottom) == pytest.approx(turned(box, -turns))


def test_there_is_one_rectangle_of_a_kind_and_others_stay(path: Path) -> None:
    draft = opened(path).with_region("water", (0.1, 0.1, 0.2, 0.2)).with_region("rock", (0.5, 0.5, 1.0, 1.0))
    draft = draft.with_region("water", (0.3, 0.3, 0.4, 0.4))
    assert [(one.what, one.box[0]) for one in draft.regions()] == [("rock", 0.5), ("water", 0.3)]
    assert [one.what for one in draft.with_region("water", None).regions()] == ["rock"]
    gone = draft.with_region("water", None).with_region("rock", None)
    assert gone.regions() == ()
    assert plan_from_text(gone.text).region == ()
    assert "# an evening" in gone.text
    assert "# short ones" in gone.text


def test_a_change_that_the_plan_refuses_is_not_taken(path: Path) -> None:
    with pytest.raises(PlanError, match="left must be less than right"):
        opened(path).with_region("water", (0.5, 0.5, 0.5, 0.9))


def test_a_plan_with_mistakes_is_told_with_them_and_mended_one_by_one(path: Path) -> None:
    broken = TEXT.replace('times = ["1/125", "1/60"]', 'times = ["1/125", "soon"]\norder = "my own"')
    draft = Draft.opened(path, broken, simulated=False)
    told = draft.told()
    assert told.ladder is None
    assert len(told.mistakes) == 2
    assert not told.saved
    half = draft.changed("", lambda text: text.replace("soon", "1/60"))
    assert len(half.told().mistakes) == 1
    whole = half.changed("", lambda text: text.replace('order = "my own"\n', ""))
    assert whole.told().mistakes == ()
    assert whole.told().ladder is not None
    with pytest.raises(PlanError, match="order"):
        half.saved()


def test_edits_are_taken_back_one_by_one(path: Path) -> None:
    draft = opened(path)
    edited = draft.with_region("rock", (0.0, 0.0, 0.5, 0.5)).with_region("water", (0.5, 0.5, 1.0, 1.0))
    assert edited.told().edits == 2
    assert edited.undone().undone().text == draft.text
    with pytest.raises(PlanError, match="no edit"):
        draft.undone()
    assert draft.changed("", lambda text: text) is draft


def test_it_is_saved_whole_and_never_over_what_somebody_else_wrote(path: Path) -> None:
    draft = opened(path).with_region("rock", (0.0, 0.0, 0.5, 0.5))
    assert not draft.told().saved
    saved = draft.saved()
    assert saved.told().saved
    assert path.read_text() == saved.text
    path.write_text(TEXT + "# another's\n")
    with pytest.raises(PlanError, match="changed meanwhile"):
        saved.with_region("rock", None).saved()
    assert path.read_text().endswith("# another's\n")


def test_the_ladder_is_that_of_the_text_with_other_ways(path: Path) -> None:
    told = opened(path).told()
    assert told.simulated
    assert told.ladder is not None
    assert [rung.time_label for rung in told.ladder.rungs] == ["1/125", "1/60"]
    assert any(rung.others for rung in told.ladder.rungs)


def test_an_edit_is_planned_once_and_reads_the_body_file_once(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    draft = opened(path)
    draft.told()
    calls: list[str] = []
    for name in ("make_ladder", "load_body_file"):
        monkeypatch.setattr(prepare, name, counted(getattr(prepare, name), calls))
    draft.edited("base.iso", "200").told()
    assert sorted(calls) == ["load_body_file", "make_ladder"]


def counted(act: Callable[..., Any], calls: list[str]) -> Callable[..., Any]:
    """Return a function that notes that it is called."""

    def call(*values: Any, **named: Any) -> Any:
        calls.append(act.__name__)
        return act(*values, **named)

    return call
