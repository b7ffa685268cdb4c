"""What is printed as a whole, tables and all, made harmless for a terminal; see :mod:`tether.report.harmless`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

from tether.report.harmless import plain


def plain_segments(segments: Iterable[Segment]) -> Iterator[Segment]:
    """Yield what a terminal is sent, its text as :func:`plain` leaves it; what the library says itself stays."""
    for segment in segments:
        yield segment if segment.control else Segment(plain(segment.text), segment.style)


@dataclass(frozen=True)
class Harmless:
    """What is printed, with all text in it as :func:`plain` leaves it: for a terminal that is not ours to set up."""

    what: RenderableType

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Segment]:
        yield from plain_segments(console.render(self.what, options))
