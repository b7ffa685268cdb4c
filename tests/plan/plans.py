"""Plans and abilities that the tests of planning share; scenes, filters and lenses are invented."""

from __future__ import annotations

import math
from dataclasses import replace

from tether.body.bodyfile import load_body_file
from tether.exposure.abilities import Abilities
from tether.exposure.labels import parse_aperture, parse_iso
from tether.exposure.stops import ev100
from tether.plan.file import Plan, plan_from_text
from tether.plan.ladder import Choice, Ladder
from tether.plan.paying import Cost
from tether.plan.planner import make_ladder

HEAD = """
title = "A test"
darker_by = "nothing"
[body]
file = "simulated"
[lens]
focal_mm = 24
widest = "f/2.8"
narrowest = "f/22"
"""

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
THREE, SIX, TEN = (
    f'[[filter]]\nname = "Calder {stops}"\nstops = {stops}\nmeasured_stops = {stops}.0\n' for stops in (3, 6, 10)
)
MIRROR = 'scale = "half"\n' + HEAD.replace('"simulated"', '"simulated-mirror"')


def plan_of(text: str, head: str = HEAD) -> Plan:
    """Return the plan that a text makes after the usual head."""
    return plan_from_text(head + text)


def abilities_of(plan: Plan) -> Abilities:
    """Return what the plan's body can do with its lens."""
    return load_body_file(plan.body.file).abilities(plan.lens.widest.exact, plan.lens.narrowest.exact)


def ladder_of(text: str, head: str = HEAD, others: int = 0) -> Ladder:
    """Return the ladder that a text makes after the usual head."""
    plan = plan_of(text, head)
    return make_ladder(plan, abilities_of(plan), others=others)


def settings(ladder: Ladder) -> list[tuple[str, str, str, str, str, int]]:
    """Return each rung as (wanted, time sent, aperture, ISO, filters, frames)."""
    return [
        (
            rung.wanted.label,
            rung.choice.time_label,
            rung.choice.aperture.label,
            rung.choice.iso.label,
            " + ".join(one.name for one in rung.fitted),
            rung.frames,
        )
        for rung in ladder.rungs
    ]


def relative_brightness(ladder: Ladder) -> list[float]:
    """Return how much brighter each rung is than the base, from exact values and the filters' strengths [stops]."""
    base = ladder.base
    dim = ev100(base.time.exact, base.aperture.exact, base.iso.exact)
    return [
        dim
        - ev100(rung.choice.time_s, rung.choice.aperture.exact, rung.choice.iso.exact)
        - math.fsum(one.stops for one in rung.choice.stack)
        for rung in ladder.rungs
    ]


def a_choice(**changes: object) -> Choice:
    """Return 1/125 s at f/8 and ISO 100 without a filter, changed as told; it costs nothing."""
    plain = Choice(
        way="timed",
        time_s=2**-7,
        time_label="1/125",
        aperture=parse_aperture("f/8"),
        iso=parse_iso("100"),
        stack=(),
        filter_stops=0.0,
        darker_by_stops=0.0,
        error_stops=0.0,
        time_off_stops=0.0,
        frames=1,
        paid=Cost(noise_stops=0.0, sharp_stops=0.0, dark_stops=0.0, headroom_stops=0.0, tint_stops=0.0),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


#: A plan with remarks and lines of its own, which an edit must leave as they are.
COMMENTED = """\
# What is written here stays.
title = "At the weir"
darker_by = "nothing"
[body]
file = "simulated"
[lens]
focal_mm = 35
widest = "f/2.8"
narrowest = "f/22"

[base]                     # metered
time = "1/125"             # a guess
aperture = "f/8"
iso = 100
[rungs]
times = ["1/125"]
frames = 1
"""
