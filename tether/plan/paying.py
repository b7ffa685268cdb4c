"""What a way to make a rung costs, in stops of light lost at the detail that matters.

A way loses log2 NEQ(base) / NEQ(way), and never less than nothing: its contrast by diffraction and defocus, at the
lowest of the plane of focus and both edges of the depth, and its quanta; see `tether/exposure/detail.py`. Beside that
stand the headroom that an extended ISO takes, the tint of filters, and touches of the lens. The pixel's own blur is the
same in base and way, so it cancels.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot

from tether.exposure.abilities import Abilities
from tether.exposure.detail import blur_mm, contrast_stops, detail_per_mm, lowest_contrast, quanta_stops
from tether.exposure.filters import Filter
from tether.exposure.marks import Mark
from tether.exposure.stops import iso_stops
from tether.plan.file import Plan

#: What a glass whose colour was not measured may take from the channel that it holds back most [stops] (own choice).
UNMEASURED_TINT_STOPS = 0.1
#: By more than this below the lowest of a body's own, an ISO is an extended one [stops].
EXTENDED_STOPS = 0.03


@dataclass(frozen=True, kw_only=True)
class Cost:
    """What a way costs, by what it is paid with [stops of light]; touches come on top.

    Attributes
    ----------
    noise_stops
        Quanta that fewer photons leave at the same level; negative: more than the base has.
    sharp_stops
        Contrast lost to diffraction or defocus; negative: more than the base has.
    dark_stops
        What rounding leaves darker than wanted. What it leaves brighter earns nothing.
    headroom_stops
        What an extended ISO takes from the highlights.
    tint_stops
        What the filters take from the channel that they hold back most.
    """

    noise_stops: float
    sharp_stops: float
    dark_stops: float
    headroom_stops: float
    tint_stops: float

    @property
    def light_stops(self) -> float:
        """Noise, contrast and darkness together; negative where the way is better than the base."""
        return self.noise_stops + self.sharp_stops + self.dark_stops

    @property
    def stops(self) -> float:
        """All of it but touches."""
        return max(self.light_stops, 0.0) + self.headroom_stops + self.tint_stops


def sharpness(plan: Plan, abilities: Abilities) -> Callable[[float], float]:
    """Return what tells how many stops an aperture's contrast is worth less than the base's, for a plan on a body.

    That is of the plan's detail, at the edges of its depth.
    """
    diagonal_mm = hypot(*abilities.sensor_mm)
    costs, base = plan.costs, plan.base.aperture.exact
    detail = costs.detail_per_mm or detail_per_mm(diagonal_mm, costs.print_width_cm)
    edges_mm = _edges_mm(plan, blur_mm(diagonal_mm))
    of_base = lowest_contrast(detail, base, edges_mm)
    return lambda aperture: contrast_stops(lowest_contrast(detail, aperture, edges_mm), of_base)


def _edges_mm(plan: Plan, blur: float) -> tuple[float, ...]:
    """Return how far behind or before the sensor the edges of the depth are sharp [mm].

    Written in metres they come of the lens's image distances, 1/v = 1/f - 1/s; else they are those of the base's own
    depth of field, where the blur is as large as it may be.
    """
    if plan.limits.depth_m is None:
        return (blur * plan.base.aperture.exact,)
    focal_mm = plan.lens.focal_mm
    near_mm, far_mm = (metres * 1000 for metres in plan.limits.depth_m)
    focus_mm = 2 / (1 / near_mm + 1 / far_mm) if plan.lens.focus_m is None else plan.lens.focus_m * 1000
    images = [1 / (1 / focal_mm - 1 / distance_mm) for distance_mm in (near_mm, focus_mm, far_mm)]
    return images[0] - images[1], images[1] - images[2]


def noise_stops(plan: Plan, abilities: Abilities, iso: Mark) -> float:
    """Return how many stops of quanta an ISO loses beside the base's at the same level; negative: won.

    An extended low ISO has the gain of the body's base ISO, so it wins no more than that one does.
    """
    real = max(iso.exact, min(abilities.base_iso, plan.base.iso.exact))
    grey_e = abilities.grey_e and abilities.grey_e * abilities.base_iso / plan.base.iso.exact
    return quanta_stops(iso_stops(real, plan.base.iso.exact), grey_e, abilities.read_noise_e)


def headroom_stops(plan: Plan, abilities: Abilities, iso: Mark) -> float:
    """Return how many stops of highlight headroom an ISO takes beyond what the base's takes: it is extended."""
    lost = iso_stops(min(abilities.base_iso, plan.base.iso.exact), iso.exact)
    return lost if lost > EXTENDED_STOPS else 0.0


def tint_stops(stack: tuple[Filter, ...]) -> float:
    """Return what a stack takes from the channel that it holds back most, beyond green [stops]."""
    return sum(UNMEASURED_TINT_STOPS if one.tint_stops is None else one.tint_stops for one in stack)
