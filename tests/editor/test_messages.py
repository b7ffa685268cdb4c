"""What face and draft process say to one another: the same at the other end, or refused in a sentence."""

from __future__ import annotations

import pytest

from tether.editor.messages import (
    Begin,
    Begun,
    Checked,
    Doing,
    EditorEvent,
    EditorRequest,
    PictureShown,
    SetRegion,
    ShowLive,
    Start,
    WishAnswer,
    decode_news,
    decode_start,
    decode_wish,
    encode,
)
from tether.errors import LostError
from tether.journal.story import CheckStory


@pytest.mark.parametrize(
    "wish", [ShowLive(at=(0.5, 0.25)), Begin(despite={"power": "a new battery"}), SetRegion(what="rock", box=None)]
)
def test_a_wish_is_the_same_at_the_other_end(wish: EditorRequest) -> None:
    assert decode_wish(encode(wish, 7)) == (wish, 7)


NEWS: list[EditorEvent] = [
    Checked(findings=(CheckStory(what="focus", verdict="stop", text="It says AF."),), at="12:00"),
    Doing(what="A frame is taken."),
    Begun(outing="/outings/weir"),
    PictureShown(picture="/run/live.jpg", times=None),
    WishAnswer(to=3, ok=False, sentence="There is no edit to be taken back."),
]


@pytest.mark.parametrize("news", NEWS, ids=lambda one: type(one).__name__)
def test_news_are_the_same_at_the_other_end(news: EditorEvent) -> None:
    assert decode_news(encode(news)) == news


def test_the_start_is_the_same_at_the_other_end(start: Start) -> None:
    assert decode_start(encode(start)) == start


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"{",
        b"3",
        b'{"name": "Sneeze", "data": {}, "to": 1}',
        b'{"name": "Undo", "data": {}, "to": "soon"}',
        b'{"name": "Doing", "data": {"what": ""}, "to": 0}',
    ],
)
def test_what_is_no_wish_is_refused_with_what_it_was(line: bytes) -> None:
    """News are none either: each side takes only what the other may say."""
    with pytest.raises(LostError, match="This line is not understood"):
        decode_wish(line)


def test_what_is_refused_is_shown_cut_short() -> None:
    with pytest.raises(LostError) as raised:
        decode_news(b"x" * 500)
    assert str(raised.value).endswith(": " + "x" * 80)
