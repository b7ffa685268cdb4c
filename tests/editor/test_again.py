"""Same again, new composition: a ladder like the last one, its base found anew, the filters on that are on."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX
from tests.plan.plans import HEAD
from tether.editor.again import same_again
from tether.errors import PlanError
from tether.outing.job import read_job, ready_of
from tether.plan.file import plan_from_text
from tether.service.launch import give_plan
from tether.service.rehearsal import Rehearsal

TEXT = HEAD + BASE.replace('"1/125"', '"1/60"') + '[rungs]\ntimes = ["1/2"]\n[run]\nproof = false\n' + SIX


def test_where_there_was_no_ladder_there_is_none_to_be_like(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="not an outing"):
        same_again(tmp_path, print)


@pytest.mark.prove
def test_a_ladder_like_the_last_one_has_a_new_base_through_the_filter_that_is_on_and_begins_with_it(
    tmp_path: Path,
) -> None:
    plan = tmp_path / "weir.toml"
    plan.write_text(TEXT)
    given = give_plan(plan, pace=60.0, root=tmp_path, outing=tmp_path / "dusk", answer_for_me=True)
    first = read_job(given.outing)
    Rehearsal.of(plan, outing=given.outing).run()
    said: list[str] = []
    again = read_job(same_again(given.outing, said.append).outing)
    assert (again.ladder, again.fitted) == (2, ("Calder 6",))
    before, now = plan_from_text(first.plan_text), plan_from_text(again.plan_text)
    assert now.base.time != before.base.time
    assert now.base.headroom_stops is not None
    assert (now.rungs, now.filter, now.limits) == (before.rungs, before.filter, before.limits)
    assert said[-1].startswith("New base: ")
    assert said[-1].endswith(", through Calder 6.")
    assert ready_of(again).ladder.rungs[0].fitted[0].name == "Calder 6"
