"""A base exposure put into the text of a plan: read back as it was meant, all else left as it stands."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.plan.plans import COMMENTED as PLAN
from tether.capture.base_search import reachable
from tether.editor.base_edit import base_values, with_base, write_base
from tether.editor.plan_keys import edited
from tether.errors import PlanError
from tether.exposure.labels import parse_aperture, parse_iso, parse_time
from tether.exposure.marks import Mark, Step
from tether.outing.prepare import prepare
from tether.plan.file import plan_from_text, read_plan
from tether.shot.shot import Shot, timed


def test_a_mark_that_the_plans_scale_does_not_know_is_written_as_its_number(plan: Path) -> None:
    plan.write_text('scale = "half"\n' + PLAN)
    ready = prepare(plan)
    (shot,) = [one for one in reachable(ready.plan, ready.abilities) if one.time_label == "1/20"]
    shot = replace(shot, iso=Mark(label="125", exact=100 * 2 ** (1 / 3)))
    write_base(shot, ready.plan)
    written = read_plan(plan).base
    assert written.time.exact == pytest.approx(shot.time_s, rel=1e-5)
    assert written.iso.exact == pytest.approx(shot.iso.exact, rel=1e-5)


def test_a_headroom_that_was_measured_goes_with_its_base(plan: Path) -> None:
    """Another base, by the camera's settings or by hand, leaves as much room as nobody knows."""
    ready = prepare(plan)
    shot = reachable(ready.plan, ready.abilities)[20]
    write_base(shot, ready.plan, 0.5)
    measured = read_plan(plan)
    assert measured.base.headroom_stops == 0.5
    assert edited(measured.text, "base.time", measured.base.time.label) == measured.text
    assert plan_from_text(edited(measured.text, "base.time", "1/8")).base.headroom_stops is None
    write_base(shot, measured)
    assert read_plan(plan).base.headroom_stops is None
    assert read_plan(plan).base.time == measured.base.time


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    return path


def shot(time: str = "1/60", aperture: str = "f/11", iso: str = "200") -> Shot:
    return timed(parse_time(time, Step.THIRD), parse_aperture(aperture), parse_iso(iso))


def test_labels_are_written_where_the_scale_reads_them_rightly_and_else_numbers() -> None:
    """1/20 is 2^(-13/3) s in thirds and 2^-4.5 in halves, so a scale of halves is told the number."""
    assert base_values(shot(), Step.THIRD) == {"time": "1/60", "aperture": "f/11", "iso": 200, "measured": True}
    assert base_values(shot("1/20"), Step.THIRD)["time"] == "1/20"
    assert base_values(shot("1/20"), Step.HALF)["time"] == "0.0496063"


@pytest.mark.parametrize(("headroom_stops", "written"), [(0.834, 0.83), (-0.2, 0.0)])
def test_headroom_is_written_to_a_hundredth_and_never_below_nothing(headroom_stops: float, written: float) -> None:
    assert base_values(shot(), Step.THIRD, headroom_stops)["headroom_stops"] == written


def test_remarks_and_all_other_keys_stay() -> None:
    text = '# mine\n[base]  # by hand\ntime = "1/125" # sure\nheadroom_stops = 1.0\nframes = 0\n[run]\nproof = false\n'
    changed = with_base(text, shot(), Step.THIRD)
    assert '# mine\n[base]  # by hand\ntime = "1/60" # sure\n' in changed
    assert "frames = 0" in changed
    assert "[run]\nproof = false" in changed
    assert "headroom_stops" not in changed, "it was another base's"


@pytest.mark.parametrize("text", ["x = [", "title = 'no base'\n"])
def test_a_text_without_a_base_is_told(text: str) -> None:
    with pytest.raises(PlanError, match=r"has no .base. that could be changed"):
        with_base(text, shot(), Step.THIRD)


def test_a_file_that_was_spoilt_meanwhile_is_left_as_it_is(plan: Path) -> None:
    read = read_plan(plan)
    for spoilt in (b"\xff\xfe", b"title = 'x'\n"):
        plan.write_bytes(spoilt)
        with pytest.raises(PlanError, match="so nothing was put into it"):
            write_base(shot(), read)
        assert plan.read_bytes() == spoilt
