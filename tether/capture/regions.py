"""The regions that a plan gives."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tether.plan.file import Plan

if TYPE_CHECKING:
    from tether.frames.regions import Regions


def regions_of(plan: Plan) -> Regions | None:
    """Return the regions that a plan gives; None where it gives none."""
    if not plan.region:
        return None
    from tether.frames.mosaic import Region
    from tether.frames.regions import given

    return given([Region(**one.model_dump()) for one in plan.region])
