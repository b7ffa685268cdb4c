"""``tether base``: find the base exposure with the camera, from raw frames, and put it into the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

import click
import tomlkit

from tether.body.connection import SIMULATED as IN_PROCESS
from tether.body.connection import Connection
from tether.body.dialects import Dialect
from tether.body.simulated.world import load_world
from tether.capture.base_search import BaseFound, Looked, find_base, in_words
from tether.capture.session import look_for, shooting
from tether.checks.checks import names_of, parse_despite
from tether.command.common import print_json, say
from tether.editor.base_edit import base_values, write_base
from tether.errors import PlanError
from tether.exposure.labels import parse_time
from tether.exposure.marks import Mark
from tether.frames.levels import finite
from tether.outing.camera import reach_of_run, spoken_by
from tether.outing.prepare import Prepared, prepare
from tether.outing.world import world_of
from tether.plan.file import SCALES, Plan
from tether.wording import SIMULATED

BASE_SCHEMA = "tether-base/1"


def find_base_of(
    plan: Path,
    start: str | None,
    headroom_stops: float,
    frames: int,
    span_s: float,
    write: bool,
    leave_set: bool,
    keep: Path | None,
    simulated: bool,
    world: Path | None,
    dialect: Dialect | None,
    port: str,
    despite: tuple[str, ...],
    as_json: bool,
) -> None:
    """Find the base exposure of a plan with the camera, show it, and write it where that is wanted."""
    ready, again = prepare(plan), f"tether base {plan}"
    first = _time(start, ready.plan) if start else None
    reach = _reach(ready, simulated=simulated or world is not None, dialect=dialect, port=port)
    if write and reach.way != "camera" and not ready.abilities.simulated:
        raise PlanError(f"--write: {plan} is for a camera, and what is simulated says nothing about its light.")
    reasons = parse_despite(despite, names_of(spoken_by(reach, ready))) if despite else {}
    truth = world_of(ready.plan, load_world(world) if world else None)
    if reach.way != "camera":
        say(SIMULATED)
    look_for(reach, again)
    with shooting(reach, ready, truth, keep=keep, leave_set=leave_set) as session:
        session.require_ready(again, reasons)
        found = find_base(
            session,
            ready.plan,
            start=first,
            wanted_stops=headroom_stops,
            frames=frames,
            span_s=span_s,
            tell=lambda looked: say(looked.sentence),
        )
        if leave_set:
            session.set(found.shot)
    say(*session.remarks, *found.why)
    off = f"{found.headroom_stops:.2f} stops of headroom, give or take {found.uncertainty_stops:.2f}"
    say(f"Base: {in_words(found.shot)}, with {off} as the water moves.")
    is_simulated = reach.way != "camera"
    if not as_json:
        click.echo(_as_table(found, ready.plan, simulated=is_simulated), nl=False)
    if write:
        write_base(found.shot, ready.plan, found.headroom_stops)
        say(f"It is in {plan}.")
    else:
        say(f"Put it into {plan} in place of what [base] says, or have it done with --write.")
    if as_json:
        print_json(_as_data(found, session.remarks, str(plan), simulated=is_simulated, written=write))


def _reach(ready: Prepared, *, simulated: bool, dialect: Dialect | None, port: str) -> Connection:
    if dialect:
        return Connection(way="wire", dialect=dialect)
    return IN_PROCESS if simulated else reach_of_run(ready, port)


def _time(text: str, plan: Plan) -> Mark:
    try:
        return parse_time(text, SCALES[plan.top.scale])
    except PlanError as error:
        raise PlanError(f"--start: {error}") from error


def _as_data(
    found: BaseFound, remarks: Sequence[str], plan: str, *, simulated: bool, written: bool
) -> dict[str, object]:
    """Return what was found as plain data, valid by ``base.schema.json``."""
    return {
        "schema": BASE_SCHEMA,
        "plan": plan,
        "simulated": simulated,
        "base": asdict(found.shot.applied),
        "headroom_stops": found.headroom_stops,
        "uncertainty_stops": found.uncertainty_stops,
        "frames": [_frame(one) for one in found.looked],
        "remarks": [*remarks, *found.why],
        "written": written,
    }


def _frame(looked: Looked) -> dict[str, object]:
    return {
        **asdict(looked.shot.applied),
        "headroom_stops": finite(looked.seen.levels.headroom_stops),
        "clipped_share": looked.seen.levels.clipped_share,
        "counts": looked.counts,
        "differs": list(looked.differs),
    }


def _as_table(found: BaseFound, plan: Plan, *, simulated: bool) -> str:
    table = tomlkit.table()
    for name, value in base_values(found.shot, SCALES[plan.top.scale], found.headroom_stops).items():
        table[name] = value
    document = tomlkit.document()
    where = "in simulated light" if simulated else "measured"
    off = f"{found.headroom_stops:.2f} stops of headroom, give or take {found.uncertainty_stops:.2f}"
    document.add(tomlkit.comment(f"{off}, {where}"))
    document["base"] = table
    return tomlkit.dumps(document)
