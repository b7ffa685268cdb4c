"""A plan like an earlier one: what was measured since stands in it with its date, and all else is as it was."""

from __future__ import annotations

from datetime import date

import pytest

from tests.plan.plans import HEAD
from tether.errors import PlanError
from tether.plan.file import plan_from_text
from tether.plan.like import with_strengths
from tether.plan.measured import MeasuredFilter

BASE = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1"]\n'
SIX = '[[filter]]\nname = "Calder 6"\nstops = 6     # by its label\n# measured_stops = 6\n\n'
PLAN = HEAD + BASE + SIX + '# What is done with it:\n[readings]\ncorrect = "say"\n'


def measured(stops: float, **more: object) -> MeasuredFilter:
    given = {"name": "Calder 6", "uncertainty_stops": 0.0612, "measured_on": date(2026, 10, 3), "with_body": "A body"}
    return MeasuredFilter.model_validate({**given, "stops": stops, **more})


def test_a_measured_strength_stands_in_its_filter_with_when_and_where() -> None:
    like = with_strengths(PLAN, {"Calder 6": (measured(5.938), "in 2026-10-03_weir"), "Another": (measured(3), "")})
    put_in = "measured_stops = 5.94 # on 2026-10-03, in 2026-10-03_weir\nuncertainty_stops = 0.06\n"
    assert like.text == PLAN.replace("# measured_stops = 6\n", f"# measured_stops = 6\n{put_in}")
    assert like.sentences == ("Calder 6: taken as measured, 5.94 ± 0.06 stop on 2026-10-03, in 2026-10-03_weir.",)
    (found,) = plan_from_text(like.text).filters
    assert (found.stops, found.nominal_stops) == (5.94, 6.0)


def test_a_colour_cast_that_was_measured_comes_with_it() -> None:
    like = with_strengths(PLAN, {"Calder 6": (measured(5.9, cast_stops={"R": -0.02, "B": 0.126}), "by tether measure")})
    assert plan_from_text(like.text).filter[0].tint_stops == 0.13


def test_what_the_plan_says_itself_stays() -> None:
    text = PLAN.replace("# measured_stops = 6", "measured_stops = 6.1")
    like = with_strengths(text, {"Calder 6": (measured(5.9), "in weir")})
    assert like.text == text
    assert "stays 6.1 stop, as the plan has it; measured 5.90 ± 0.06 stop on 2026-10-03, in weir" in like.sentences[0]


def test_one_that_is_far_off_its_label_is_taken_for_another_and_not_put_in() -> None:
    """A third of six stops off, and more than one stop."""
    like = with_strengths(PLAN, {"Calder 6": (measured(9.8), "in weir")})
    assert like.text == PLAN
    assert "stays 6.0 stop, as labelled; this looks like another filter: 9.80" in like.sentences[0]


def test_a_text_that_is_not_a_plan_is_refused() -> None:
    with pytest.raises(PlanError):
        with_strengths("title = 7", {})
