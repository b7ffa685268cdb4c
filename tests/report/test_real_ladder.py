"""The views draw what the planner really gives, not only the ladder written for their tests."""

from __future__ import annotations

import io
from pathlib import Path

from rich.console import Console

from tether.body.bodyfile import load_body_file
from tether.plan.as_json import planned_of
from tether.plan.file import read_plan
from tether.plan.planner import make_ladder
from tether.report.ladder_picture import ladder_picture
from tether.report.ladder_view import LadderView

PLAN = Path(__file__).parents[2] / "profiles" / "plans" / "weir.toml"


def test_the_shipped_plan_can_be_shown_and_drawn() -> None:
    abilities = load_body_file("simulated").abilities(2.8, 22.0)
    planned = planned_of(make_ladder(read_plan(PLAN), abilities, 1))
    page = io.StringIO()
    Console(file=page, width=80).print(LadderView(planned, why=True))
    shown, drawn = page.getvalue(), ladder_picture(planned)
    assert len(planned.rungs) >= 10
    for rung in planned.rungs:
        assert f"rung {rung.rung} " in shown
        assert f">{rung.rung}</text>" in drawn
    for turn in planned.turns:
        assert turn.what in drawn
