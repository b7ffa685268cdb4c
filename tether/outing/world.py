"""Which simulated world a plan is rehearsed in: the one place where that is decided."""

from __future__ import annotations

from tether.body.protocol import Fitted
from tether.body.simulated.world import Base, LensTruth, World
from tether.plan.file import Plan


def world_of(plan: Plan, given: World | None = None) -> World:
    """Return the simulated world for a plan: as given or by default.

    Its light is such that the plan's base exposure is right, unless the world that is given says how it is lit.
    """
    base = Base(
        time_s=plan.base.time.exact,
        aperture=plan.base.aperture.exact,
        iso=plan.base.iso.exact,
        always_on=tuple(
            Fitted(name=one.name, stops=one.nominal_stops) for one in plan.filters if one.kind == "always on"
        ),
    )
    world = given or World()
    update: dict[str, object] = {} if "base" in world.model_fields_set else {"base": base}
    if "lens" not in world.model_fields_set:
        distance_m = plan.water.distance_m if plan.water else LensTruth().distance_m
        update["lens"] = LensTruth(focal_mm=max(plan.lens.focal_mm, 6.0), distance_m=max(distance_m, 0.6))
    if plan.run.dark_frames == "by the body":
        update["dark_frame_by_body"] = True
    return world.model_copy(update=update)
