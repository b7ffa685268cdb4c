"""What a view prints in a terminal of some width, for tests."""

from __future__ import annotations

import io
from typing import Any

from rich.console import Console, RenderableType


def printed(view: RenderableType, width: int, **more: Any) -> str:
    page = io.StringIO()
    Console(file=page, width=width, **more).print(view)
    return page.getvalue()
