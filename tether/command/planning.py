"""Plans: a new one written, and the ladder that one makes shown."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from tether.command.common import echo, out, print_json, say
from tether.command.plans import plans_by_name
from tether.errors import PlanError, system_reason
from tether.outing.prepare import prepare
from tether.plan.as_json import ladder_json, planned_of
from tether.validation import read_toml

PLANS_SCHEMA = "tether-plans/1"


def write_plan(file: Path, like: Path | None, filters: tuple[str, ...], **answers: object) -> None:
    """Write a new plan to `file`, from options and what is asked, or as an earlier outing had it."""
    from tether.command.asking import answered  # what writes plans, which showing one does without
    from tether.plan.new import Answers, new_plan

    if file.exists():
        raise PlanError(f"{file}: this file is there already and is left as it is; give another name.")
    taken = None
    if like:
        from tether.outing.strengths import plan_like  # what reads outings, which a new plan does without

        taken = plan_like(like)
        text = taken.text
    else:
        said, on_hand = answered(click.get_current_context(), answers, filters, asking=sys.stdin.isatty())
        text = new_plan(Answers(filters=on_hand, **said))  # type: ignore[arg-type]
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise PlanError(f"{file}: cannot be written: {system_reason(error)}.") from error
    say(*(taken.sentences if taken else ()), f"{file} is written. See its ladder with:  tether ladder {file} --why")


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
