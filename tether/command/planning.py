"""Plans: a new one written, and the ladder that one makes shown."""

from __future__ import annotations

import sys
from pathlib import Path

import click
from click.core import ParameterSource

from tether.command.common import echo, out, print_json, talk
from tether.command.places import FORM, read_place
from tether.command.plans import plans_by_name
from tether.errors import PlanError
from tether.light.spot import Spot
from tether.outing.prepare import prepare
from tether.plan.as_json import ladder_json, planned_of
from tether.validation import read_toml

PLANS_SCHEMA = "tether-plans/1"
_QUESTIONS = {
    "title": "What is the outing called",
    "base_time": "Time of the base exposure",
    "base_aperture": "Its aperture",
    "base_iso": "Its ISO",
    "focal_mm": "Focal length in mm",
    "shortest": "Shortest rung",
    "longest": "Longest rung",
}


def write_plan(
    file: Path, like: Path | None, filters: tuple[str, ...], place: str | None = None, **answers: object
) -> None:
    """Write a new plan to `file`, from options and what is asked, or as an earlier outing had it."""
    from tether.plan.new import Answers, filter_of, new_plan  # what writes plans, which showing one does without

    if file.exists():
        raise PlanError(f"{file}: this file is there already and is left as it is; give another name.")
    if not like and sys.stdin.isatty():
        answers, filters = _asked(click.get_current_context(), answers, filters)
    taken = None
    if like:
        from tether.outing.strengths import plan_like  # what reads outings, which a new plan does without

        taken = plan_like(like)
        text = taken.text
    else:
        on_hand = [filter_of(one) for one in filters]
        text = new_plan(Answers(filters=on_hand, spot=_spot(place), **answers))  # type: ignore[arg-type]
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise PlanError(f"{file}: cannot be written: {(error.strerror or 'unknown reason').lower()}.") from error
    for sentence in taken.sentences if taken else ():
        talk().print(sentence, soft_wrap=True)
    talk().print(f"{file} is written. See its ladder with:  tether ladder {file} --why")


def _spot(place: str | None) -> Spot | None:
    if place is None:
        return None
    spot = read_place(place)
    if spot is None:
        raise PlanError(f"--place {place}: this is not a place; write {FORM}.")
    return spot


def _asked(
    context: click.Context, answers: dict[str, object], filters: tuple[str, ...]
) -> tuple[dict[str, object], tuple[str, ...]]:
    """Ask for what was not given as an option; an empty answer keeps the default."""

    def given(name: str) -> bool:
        return context.get_parameter_source(name) is not ParameterSource.DEFAULT

    asked = {
        name: click.prompt(question, default=answers[name], err=True)
        for name, question in _QUESTIONS.items()
        if not given(name)
    }
    if given("filters"):
        return answers | asked, filters
    words = click.prompt('Filters on hand, such as "Calder 6=6, Calder 10=10" (none: press return)', "", err=True)
    return answers | asked, tuple(one.strip() for one in str(words).split(",") if one.strip())


def show_plans(as_json: bool) -> None:
    """Show the plans that a name stands for: the user's own, and those that come with the program."""
    plans = [_named(name, path) for name, path in sorted(plans_by_name().items())]
    if as_json:
        print_json({"schema": PLANS_SCHEMA, "plans": plans})
        return
    width = max((len(str(one["name"])) for one in plans), default=0)
    for one in plans:
        echo(f"{one['name']:<{width}}  {one['title'] or one['problem']}  ({one['file']})")


def _named(name: str, path: Path) -> dict[str, str | None]:
    """Return a plan as plain data, valid by ``plans.schema.json``: its title, or why it can't be read."""
    try:
        title = read_toml(path.read_text(encoding="utf-8-sig"), path.name).get("title")
    except PlanError as error:
        return {"name": name, "file": str(path), "title": None, "problem": str(error)}
    except (OSError, UnicodeDecodeError):
        return {"name": name, "file": str(path), "title": None, "problem": "This file cannot be read as text."}
    return {"name": name, "file": str(path), "title": None if title is None else str(title), "problem": None}


def show_ladder(plan: Path, why: bool, others: int, as_json: bool, picture: Path | None) -> None:
    """Show the ladder that a plan makes."""
    planned = planned_of(prepare(plan, others=max(others, int(why))).ladder)
    if picture:
        from tether.report.ladder_picture import save_ladder_picture

        save_ladder_picture(planned, picture)
    if as_json:
        print_json(ladder_json(planned))
    else:
        from tether.report.ladder_view import LadderView

        out().print(LadderView(planned, why=why, others=bool(others)))
