"""A widget that is drawn by itself: of a given size, in a given look, in no application."""

from __future__ import annotations

from typing import Any

from rich.style import Style
from textual.geometry import Size


class Alone:
    """Put before a widget's class: what the widget asks of its application, it answers."""

    given: Size
    theme: str = "plain"

    @property
    def size(self) -> Size:
        return self.given

    @property
    def app(self) -> Any:
        return self

    @property
    def rich_style(self) -> Style:
        return Style()

    def refresh(self, *_: Any, **__: Any) -> Any:
        return self
