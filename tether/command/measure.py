"""``tether measure``: what filters and the shutter really do, by light."""

from __future__ import annotations

import json
import sys
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import click

from tether.body.bodyfile import load_body_file
from tether.body.connected import connected, is_of_one_body, the_one
from tether.body.connection import SIMULATED as IN_PROCESS
from tether.body.connection import Connection, wire_name
from tether.body.dialects import Dialect
from tether.body.ownfile import is_path, measured, own_path
from tether.body.simulated.world import Base, SceneTruth, SensorTruth, World, load_world
from tether.capture.measuring import (
    FilterMeasured,
    Measuring,
    as_stored,
    hold_values,
    measure_hold,
    narrower,
    store_filters,
)
from tether.capture.session import CaptureSession, look_for, shooting
from tether.clock import SteppedClock
from tether.command.common import out, print_json, say, talk
from tether.command.options import FIRST_DIALECT
from tether.errors import PlanError
from tether.exposure.filters import Filter
from tether.frames.strength import excess
from tether.outing.camera import reach_of_run, spoken_by
from tether.outing.prepare import Prepared, filters_path, prepare
from tether.outing.world import world_of
from tether.plan.file import Plan, plan_from_text
from tether.report.measured_view import (
    excess_line,
    measured_json,
    opening_json,
    opening_lines,
    strength_json,
    strength_lines,
)

_STRONG_STOPS = 6.0
_SMALL = SensorTruth(window_px=(600, 400))
_NOBODY = "nobody can be asked here, and a person has to be at the tripod; run it at a terminal."
#: A plan for a body alone: the rest of it is not used.
_ALONE = """
title = "Measuring"
[body]
file = {file}
[lens]
focal_mm = 50
widest = "f/2.8"
narrowest = "f/22"
[base]
time = "2"
aperture = "f/2.8"
iso = 100
[rungs]
times = ["2"]
"""


def measure_filters(
    names: tuple[str, ...],
    plan: Path,
    stacked: bool,
    longer: bool,
    simulated: bool,
    world: Path | None,
    as_json: bool,
    port: str,
) -> None:
    """Measure filters of a plan, by name."""
    ready = prepare(plan)
    filters = [_filter_of(ready.plan, name) for name in names]
    if stacked and len(filters) < 2:
        raise PlanError("--stacked needs at least two filters.")
    reach = IN_PROCESS if simulated or world else reach_of_run(ready, port)
    look_for(reach, "tether measure filter")
    if sum(one.stops for one in filters) >= _STRONG_STOPS:
        talk().print(
            "A photographic filter is no solar viewer: never look at the Sun through it or through the viewfinder."
        )
    given = load_world(world) if world else World(sensor=_SMALL)
    with _session(reach, ready, world_of(ready.plan, given)) as session:
        session.require_ready("tether measure filter")
        always_on = [one for one in ready.plan.filters if one.kind == "always on"]
        base = ready.plan.base
        measuring = Measuring(session, base.aperture, base.iso, base.time.exact, always_on, say)
        found = [measuring.filter((one,)) for one in filters]
        if longer:
            narrow = narrower(ready.abilities, base.aperture)
            again = Measuring(session, narrow, base.iso, 4 * base.time.exact, always_on, say)
            found = [replace(one, longer=again.filter(one.filters).strength) for one in found]
        together = measuring.filter(tuple(filters)) if stacked else None
        simulated, body = session.simulated, session.seen.identity.model or ready.abilities.name
    day = _today()
    # What is simulated says nothing about a filter, so a plan for a camera never gets to see it.
    rehearsed = simulated and not ready.abilities.simulated
    stored = [one for one in found if one.good and not rehearsed]
    if stored:
        store_filters(filters_path(), [as_stored(one, day, with_body=body, simulated=simulated) for one in stored])
    _show_filters(found, together, stored, as_json=as_json, simulated=simulated, day=day)
    for one in found:
        why_not = "is not stored: this was a rehearsal" if rehearsed else "is not stored"
        say(f"{one.name} {f'is in {filters_path()}' if one in stored else why_not}.")
    sys.exit(0 if all(one.good for one in found) else 1)


def _show_filters(
    found: list[FilterMeasured],
    together: FilterMeasured | None,
    stored: list[FilterMeasured],
    *,
    as_json: bool,
    simulated: bool,
    day: date,
) -> None:
    everything = [*found, together] if together else found
    beyond = excess(together.strength, [one.strength for one in found]) if together else None
    if as_json:
        data = [strength_json(one.name, one.strength, one.warnings, stored=one in stored) for one in everything]
        print_json(measured_json(data, beyond, day, simulated=simulated))
        return
    if simulated:
        out().print("SIMULATED: nothing here says anything about a filter that can be bought.")
    for one in everything:
        out().print("\n".join(strength_lines(one.name, one.strength, one.warnings)), soft_wrap=True)
    if beyond:
        out().print(excess_line(beyond))


def _filter_of(plan: Plan, name: str) -> Filter:
    found = next((one for one in plan.filters if one.name == name), None)
    if found is None or found.kind != "nd":
        known = ", ".join(one.name for one in plan.filters if one.kind == "nd") or "none"
        raise PlanError(f"{plan.path.name} has no ND filter “{name}”; it has {known}.")
    return found


def measure_opening(
    plan: Path | None,
    body: str | None,
    simulated: bool,
    dialect: Dialect | None,
    times_s: tuple[float, ...],
    repeats: int,
    yes: bool,
    as_json: bool,
    port: str,
) -> None:
    """Measure how long the shutter is really open when it is held."""
    dialect = dialect or (FIRST_DIALECT if simulated else None)
    ready = _ready(plan, body, dialect)
    reach = Connection(way="wire", dialect=dialect) if dialect else reach_of_run(ready, port)
    look_for(reach, "tether measure hold")
    _advise(yes=yes or reach.way != "camera")
    file_name = wire_name(dialect) if dialect else ready.plan.body.file
    still = SceneTruth(fall_m_s=0, run_m_s=0, pool_m_s=0, leaves_m=0)
    base = Base(time_s=max(times_s), aperture=ready.abilities.apertures[0].exact, iso=ready.abilities.base_iso)
    if reach.way == "camera":
        _refuse_family(ready, port)
    with _session(reach, ready, World(sensor=_SMALL, scene=still, base=base, base_level_stops=-5.0)) as session:
        session.require_ready("tether measure hold")
        found = measure_hold(session, times_s, repeats, say)
        simulated = session.simulated
    path = own_path(file_name)
    if as_json:
        print_json(opening_json(found.opening, found.flickers, body_file=str(path), simulated=simulated))
    else:
        out().print("\n".join(opening_lines(found.opening, found.flickers, simulated=simulated)), soft_wrap=True)
    values = hold_values(found.opening, spoken_by(reach, ready))
    measured(path, values, f"by light, {_today()}{', simulated' if simulated else ''}")
    load_body_file(file_name)
    say(f"What was measured is in {path}.")
    sys.exit(0)


def _ready(plan: Path | None, body: str | None, dialect: Dialect | None) -> Prepared:
    given = [one for one in (plan, body, dialect) if one]
    if len(given) != 1:
        raise PlanError("tether measure hold: give one of --plan, --body, --simulated and --through-driver.")
    if plan:
        return prepare(plan)
    name = body or wire_name(dialect or FIRST_DIALECT)
    return prepare(plan_from_text(_ALONE.format(file=json.dumps(name, ensure_ascii=False)), Path("measure")))


def _refuse_family(ready: Prepared, port: str) -> None:
    """Raise PlanError where what is measured on one camera would go into the file of its whole family."""
    name, model = ready.plan.body.file, the_one(connected(), port).model
    if not (is_path(name) or is_of_one_body(ready.body_file, model)):
        raise PlanError(
            f"{name} is the file of a family, and what is measured holds for {model} alone: begin a file of its own"
            " with: tether body try  and name that one."
        )


def _advise(*, yes: bool) -> None:
    talk().print(
        "Lens wide open at something evenly lit by a steady lamp (no daylight; mains lamps often flicker), focus and"
        " stabiliser off, viewfinder covered."
    )
    if yes:
        return
    if not sys.stdin.isatty():
        raise PlanError("tether measure hold: nobody can be asked here; say --yes if it may begin.")
    click.prompt("Press return when it is set up", default="", show_default=False, err=True)


def _session(reach: Connection, ready: Prepared, world: World) -> AbstractContextManager[CaptureSession]:
    clock = SteppedClock() if reach.way == "simulated" else None
    return shooting(reach, ready, world, clock=clock, ask=_ask)


def _ask(what: str) -> None:
    if not sys.stdin.isatty():
        raise PlanError(f"{what} But {_NOBODY}")
    click.prompt(f"{what} Then press return", default="", show_default=False, err=True)


def _today() -> date:
    return datetime.now().astimezone().date()
