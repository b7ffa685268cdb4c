"""Which simulated world a plan is rehearsed in: the one place where that is decided."""

from __future__ import annotations

from datetime import datetime

from tether.body.protocol import Fitted
from tether.body.simulated.world import Base, Clouds, LensTruth, Sun, World
from tether.light.spot import Spot
from tether.plan.file import Plan

#: What says how the light of a world goes.
_LIGHT = {"stops_per_minute", "sun", "clouds", "light"}
#: What is drawn of haze and hills, which no forecast knows: how late the light is [s], how many stops it changes by for
#: one of a clear sky, how far it wanders [stops], and its slowest wave [s]. Own choice, within measured evenings.
_DRAWN = ((-300.0, 300.0), (0.9, 1.1), (0.03, 0.15), (1200.0, 3600.0))


def world_of(plan: Plan, given: World | None = None, begins: datetime | None = None) -> World:
    """Return the simulated world for a plan: as given or by default.

    Its light is such that the plan's base exposure is right, unless the world that is given says how it is lit. From
    when a ladder `begins` on (None: it is no ladder's world) it follows the sun of the plan's place, where there is one
    and the world that is given does not say how the light goes.
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
    if plan.place.spot and begins and not world.model_fields_set & _LIGHT:
        update |= _by_the_sun(plan.place.spot, begins, world.seed)
    return world.model_copy(update=update)


def _by_the_sun(spot: Spot, begins: datetime, seed: int) -> dict[str, object]:
    """Return the light of an evening or a day at a place, with drawn haze: the same for the same seed."""
    import numpy as np  # only a world with a sun draws here

    rng = np.random.default_rng([seed, 12])
    late_s, pace, stops, wave_s = (round(rng.uniform(*limits), 3) for limits in _DRAWN)
    sun = Sun(latitude=spot.latitude, longitude=spot.longitude, base_utc=begins, late_s=late_s, pace=pace)
    return {"sun": sun, "clouds": Clouds(stops=stops, period_s=wave_s)}
