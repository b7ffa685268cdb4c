"""Filters as measured, by themselves or by the frames of outings: which is known best, and a plan that has it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from tether.errors import PlanError
from tether.journal.story import LadderStory
from tether.journal.telling import read_outing
from tether.outing.prepare import measured_filters, prepare
from tether.plan.file import plan_from_text
from tether.plan.like import Like, with_strengths
from tether.report.filters_told import Strength, filters_told

#: How a filter was measured that stands in the user's own file.
BY_ITSELF = "by tether measure"


def strengths(told: Iterable[tuple[str, LadderStory]]) -> dict[tuple[str, bool], Strength]:
    """Return what is known best of filters, by name and whether it is of the simulated body; of two alike the newer.

    Parameters
    ----------
    told
        Ladders whose frames may tell of filters, each with the name of its outing.

    Raises
    ------
    PlanError
        If the user's own file of filters can't be read.
    """
    found = [Strength(found=one, how=BY_ITSELF) for one in measured_filters()]
    found += [Strength(found=one, how=f"in {name}") for name, ladder in told for one in filters_told(ladder)]
    ordered = sorted(found, key=lambda one: (-one.found.uncertainty_stops, one.found.measured_on))
    return {(one.found.name, one.found.simulated): one for one in ordered}


def plan_like(outing: Path) -> Like:
    """Return the plan of an outing's last ladder, with strengths of filters as they were measured in it or since.

    Raises
    ------
    PlanError
        If the outing has no ladder, or the user's own file of filters can't be read.
    LostError
        If its journal is damaged.
    """
    told = read_outing(outing)
    if not told.ladders or not told.ladders[-1].plan_text:
        raise PlanError(f"{outing}: this outing has no ladder whose plan could be taken.")
    text = told.ladders[-1].plan_text
    try:
        simulated = prepare(plan_from_text(text), filters=()).abilities.simulated
    except PlanError as error:
        return Like(text=text, sentences=("The plan is taken as it was; it has mistakes now:", *error.sentences))
    known = strengths((told.name, ladder) for ladder in told.ladders)
    of_body = {name: (one.found, one.how) for (name, is_simulated), one in known.items() if is_simulated == simulated}
    return with_strengths(text, of_body)
