"""Options and arguments that several commands share: each name means one thing, wherever it stands.

Only click and the standard library are loaded here; what completes a word is loaded when Tab is pressed.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar, get_args

import click
from click.shell_completion import CompletionItem

from tether.body.dialects import Dialect
from tether.command.plans import plan_named
from tether.errors import PlanError

Decorated = TypeVar("Decorated", bound=Callable[..., Any] | click.Command)

#: Where outings are made, unless another folder is given.
OUTINGS = Path("outings")
#: The pace that is as fast as it goes.
MAX: Final = "max"
#: The dialect that is spoken where none is named.
FIRST_DIALECT: Dialect = "eos"


class _Named(click.Path):
    """A file or folder, some of which have names that Tab knows."""

    def __init__(self, called: str, *kinds: str, path_type: type[Path | str] = Path) -> None:
        super().__init__(path_type=path_type)
        self.name = called
        self._kinds = kinds

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """Return what is called so; where nothing is, any file may be meant."""
        from tether.command.completing import named

        found = named(self._kinds, incomplete)
        return [CompletionItem(one) for one in found] or super().shell_complete(ctx, param, incomplete)


class _Plan(_Named):
    """A plan, or an outing where that is allowed: a file or folder, or a plan's name."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        return plan_named(Path(str(super().convert(value, param, ctx))))


class _Words(click.types.StringParamType):
    """A word to a run, one of several that may make up what is said."""

    name = "words"

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """Return the words that may follow those that are there."""
        from tether.command.completing import words_after

        before = ctx.params.get(param.name or "") or ()
        return [CompletionItem(one) for one in words_after(before, incomplete)]


FILE = click.Path(path_type=Path)
PLAN = _Plan("plan", "plans")
PLAN_OR_OUTING = _Plan("plan", "plans", "outings")
#: An outing by its folder, or one that runs by its title.
OUTING = _Named("outing", "outings")
#: A body file by its name, or a path.
BODY = _Named("body", "bodies", path_type=str)
WORDS = _Words()

JSON = click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
PORT = click.option("--port", default="", help="Where the camera is, as “tether body list” has it; else the only one.")
MODEL = click.option(
    "--model", default="", help="What the camera is, as the camera library calls it; with a --port on a network."
)
DESPITE = click.option(
    "--despite",
    multiple=True,
    metavar="CHECK=REASON",
    help="A check that is not to stop it, and why, for the log; may be repeated.",
)
SIMULATED = click.option("--simulated", is_flag=True, help="Rehearse it on the simulated body, without a camera.")
WORLD = click.option(
    "--world", type=FILE, help="A file that says what the simulated world really does; without a camera."
)
THROUGH_DRIVER = click.option(
    "--through-driver",
    "dialect",
    type=click.Choice(get_args(Dialect)),
    is_flag=False,
    flag_value=FIRST_DIALECT,
    help="Speak to the simulated body by the driver for real ones, in real time; in which dialect, eos if left out.",
)
DETACH = click.option("--detach", is_flag=True, help="Start it and leave it to itself.")
UNDER = click.option("--under", type=FILE, default=OUTINGS, show_default=True, help="The folder of new outings.")
OF_OUTING = click.option("--outing", type=OUTING, help="Which outing, by its folder.")
#: Where the system's settings name a command that rings, for all that shows a run.
RING_SETTING = "TETHER_RING_BY"
RING_BY = click.option(
    "--ring-by",
    metavar="COMMAND",
    envvar=RING_SETTING,
    show_envvar=True,
    help="Ring by this command, too, when it is your turn, such as: aplay bell.wav",
)
UNTIL = click.option("--until", help="The end: a time of day such as 21:30, or a date and time.")
YES = click.option("--yes", is_flag=True, help="Expose without asking, for scripts.")


def body_option(default: str | None) -> Callable[[Decorated], Decorated]:
    """Return the option of which body file is meant."""
    shown = default is not None
    return click.option(
        "--body", type=BODY, default=default, show_default=shown, help="The body file, by name or path."
    )


def plan_option(*, required: bool = False) -> Callable[[Decorated], Decorated]:
    """Return the option of which plan has what a measurement needs."""
    return click.option("--plan", type=PLAN, required=required, help="The plan that has body, lens and filters.")


def ladder_option(name: str) -> Callable[[Decorated], Decorated]:
    """Return the option of which ladder of an outing is meant, as a parameter of a name."""
    return click.option(
        "--ladder", name, type=click.IntRange(1), help="The ladder of the outing, by its number; the last if left out."
    )


def to_option(name: str, metavar: str, *, needed: bool = True) -> Callable[[Decorated], Decorated]:
    """Return the option of where something is written, as a parameter of a name."""
    return click.option("--to", name, type=FILE, metavar=metavar, required=needed, help="Where it is written.")


def pace_option(default: str | None) -> Callable[[Decorated], Decorated]:
    """Return the option of how fast a rehearsal goes."""
    return click.option(
        "--pace",
        callback=_pace,
        default=default,
        show_default=default is not None,
        help='Seconds of the rehearsal in a second: 1 is real time, 60 is faster, "max" is as fast as it goes.',
    )


def _pace(_context: click.Context, _option: click.Parameter, value: str | None) -> float | str | None:
    if value in (None, MAX):
        return value
    try:
        pace = float(value or "")
    except ValueError:
        pace = 0.0
    if not 0.1 <= pace <= 1000:
        raise PlanError(f'--pace "{value}": write 1 for real time, a number up to 1000 to be faster, or "max".')
    return pace
