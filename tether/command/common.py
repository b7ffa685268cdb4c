"""What the commands share: the two consoles. Standard output is data, standard error is talk."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import click
from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

from tether.report.harmless import json_text, plain
from tether.report.printed import plain_segments
from tether.wording import from_here


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


def say_left(sentence: str, command: str, outing: Path, to: Console) -> None:
    """Say that a face was left while its run goes on; commands stand on lines of their own, to be copied whole."""
    path = from_here(outing)
    for line in (sentence, f"  tether {command} {path}", "Stop it:", f"  tether stop {path}"):
        to.print(line, soft_wrap=True)


def echo(text: str) -> None:
    """Print a line of data as it is, not wrapped."""
    click.echo(plain(text))


def say(*sentences: str) -> None:
    """Say sentences to the person; a long one is wrapped by the terminal."""
    for sentence in sentences:
        talk().print(sentence, soft_wrap=True)


def show(data: object, view: RenderableType, *, as_json: bool) -> None:
    """Show something: its data as JSON, or a view of it for people."""
    if as_json:
        print_json(data)
    else:
        out().print(view)


def print_json(data: object) -> None:
    """Print data as JSON."""
    click.echo(json_text(data, indent=2))
