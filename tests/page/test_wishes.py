"""What a browser may wish of a draft, and what is nothing but nonsense."""

from __future__ import annotations

from typing import Any

import pytest

from tether.editor.messages import EditorRequest, Expose, FromCamera, Nudge, SetRegion, ShowLive
from tether.page.wishes import wish_of

BOX = [0.25, 0.5, 0.75, 1]


@pytest.mark.parametrize(
    ("sent", "wish"),
    [
        ({"wish": "expose"}, Expose()),
        ({"wish": "from camera"}, FromCamera()),
        ({"wish": "region", "what": "water", "box": BOX}, SetRegion(what="water", box=(0.25, 0.5, 0.75, 1.0))),
        ({"wish": "region", "what": "rock", "box": None}, SetRegion(what="rock", box=None)),
        ({"wish": "live", "at": None}, ShowLive()),
        ({"wish": "live", "at": [0, 0.5]}, ShowLive(at=(0.0, 0.5))),
        ({"wish": "nudge", "steps": -5}, Nudge(steps=-5)),
    ],
)
def test_what_the_page_sends_is_that_wish(sent: dict[str, Any], wish: EditorRequest) -> None:
    assert wish_of(sent) == wish


@pytest.mark.parametrize(
    "box",
    [
        [],
        [0.1, 0.1, 0.5],
        [0.1, 0.1, 0.5, 0.5, 0.5],
        [0.5, 0.1, 0.1, 0.5],
        [0.1, 0.1, 0.12, 0.5],
        [-0.1, 0.1, 0.5, 0.5],
        [0.1, 0.1, 1.5, 0.5],
        [0.1, 0.1, float("nan"), 0.5],
        [0.1, 0.1, "0.5", 0.5],
        [False, 0.1, True, 0.5],
        {"left": 0.1},
        "water",
    ],
)
def test_what_is_no_rectangle_in_the_picture_is_no_wish(box: object) -> None:
    assert wish_of({"wish": "region", "what": "water", "box": box}) is None


@pytest.mark.parametrize(
    "sent",
    [
        {"wish": "region", "what": "sky", "box": BOX},
        {"wish": "region", "what": ["water"], "box": BOX},
        {"wish": "live", "at": [0.5]},
        {"wish": "live", "at": [0.5, 2]},
        {"wish": "live", "at": 0},
        {"wish": "nudge", "steps": 1000},
        {"wish": "nudge", "steps": True},
        {"wish": "nudge"},
        {"wish": "begin"},
        {"wish": None},
        {},
    ],
)
def test_nonsense_is_no_wish(sent: dict[str, Any]) -> None:
    assert wish_of(sent) is None
