"""What the commands share: the two consoles. Standard output is data, standard error is talk."""

from __future__ import annotations

from collections.abc import Iterable

import click
from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

from tether.report.harmless import json_text, plain
from tether.report.printed import plain_segments


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
