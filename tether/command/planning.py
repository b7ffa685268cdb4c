"""Plans: a new one written, and the ladder that one makes shown."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path

import click

from tether.command.common import out, print_json, talk
from tether.command.places import FORM, read_place
from tether.errors import PlanError
from tether.light.spot import Spot
from tether.outing.prepare import prepare
from tether.plan.as_json import planned_of


def write_plan(
    file: Path, like: Path | None, filters: tuple[str, ...], place: str | None = None, **answers: object
) -> None:
    """Write a new plan to `file`, from options and what is asked, or as an earlier outing had it."""
    from tether.command.asking import answered  # what writes plans, which showing one does without
    from tether.plan.new import Answers, new_plan

    if file.exists():
        raise PlanError(f"{file}: this file is there already and is left as it is; give another name.")
    if like:
        text = _plan_of(like)
    else:
        spot = _spot(place)
        said, on_hand = answered(click.get_current_context(), answers, filters, asking=sys.stdin.isatty())
        text = new_plan(Answers(filters=on_hand, spot=spot, **said))  # type: ignore[arg-type]
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise PlanError(f"{file}: cannot be written: {(error.strerror or 'unknown reason').lower()}.") from error
    talk().print(f"{file} is written. See its ladder with:  tether ladder {file} --why")


def _spot(place: str | None) -> Spot | None:
    if place is None:
        return None
    spot = read_place(place)
    if spot is None:
        raise PlanError(f"--place {place}: this is not a place; write {FORM}.")
    return spot


def _plan_of(outing: Path) -> str:
    from tether.journal.telling import read_outing

    ladders = read_outing(outing).ladders
    if not ladders or not ladders[-1].plan_text:
        raise PlanError(f"{outing}: this outing has no ladder whose plan could be taken.")
    return ladders[-1].plan_text


def show_ladder(plan: Path, why: bool, others: int, as_json: bool, picture: Path | None) -> None:
    """Show the ladder that a plan makes."""
    planned = planned_of(prepare(plan, others=max(others, int(why))).ladder)
    if picture:
        from tether.report.ladder_picture import save_ladder_picture

        save_ladder_picture(planned, picture)
    if as_json:
        print_json(asdict(planned))
    else:
        from tether.report.ladder_view import LadderView

        out().print(LadderView(planned, why=why, others=bool(others)))
