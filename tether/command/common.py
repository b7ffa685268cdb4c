"""What the commands share: options, and the two consoles: standard output is data, standard error is talk."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, get_args

import click
from rich.console import Console

from tether.body.responder.start import Dialect

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


def out() -> Console:
    """Return the console for data."""
    return Console(highlight=False, markup=False, soft_wrap=False)


def talk() -> Console:
    """Return the console for talk."""
    return Console(stderr=True, highlight=False, markup=False)


def print_json(data: object) -> None:
    """Print data as JSON."""
    click.echo(json.dumps(data, ensure_ascii=False, indent=2))
