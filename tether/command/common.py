"""What the commands share: options, and the two consoles: standard output is data, standard error is talk."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar, get_args

import click
from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

from tether.body.responder.start import Dialect
from tether.report.harmless import json_text, plain
from tether.report.printed import plain_segments

Decorated = TypeVar("Decorated", bound=Callable[..., Any] | click.Command)

FILE = click.Path(path_type=Path)
DIALECT = click.Choice(get_args(Dialect))
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


def dialect_option(name: str, help_: str) -> Callable[[Decorated], Decorated]:
    """Return an option that has a simulated camera on the wire spoken to, in a dialect that may be named."""
    return click.option(name, "dialect", type=DIALECT, is_flag=False, flag_value="eos", help=help_)


class _Harmless(Console):
    """A console on which text is text: what would steer the terminal is shown as a sign."""

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        """Render as the library does; only what it says itself steers the terminal."""
        return plain_segments(super().render(renderable, options))


def out() -> Console:
    """Return the console for data."""
    return _Harmless(highlight=False, markup=False, soft_wrap=False)


def talk() -> Console:
    """Return the console for talk."""
    return _Harmless(stderr=True, highlight=False, markup=False)


def echo(text: str) -> None:
    """Print a line of data as it is, not wrapped."""
    click.echo(plain(text))


def print_json(data: object) -> None:
    """Print data as JSON."""
    click.echo(json_text(data, indent=2))
