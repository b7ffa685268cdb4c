"""Each question of the protocol goes to the body by its own name, with its values in order, and is answered."""

from __future__ import annotations

import inspect
from pathlib import Path
from typing import Any

import pytest

from tether.body.handle import QUESTIONS, Handle
from tether.body.protocol import Camera

#: What is no question: it is answered by events, or ends the session.
WORDS = {"begin", "change", "close_now", "leave"}


class Asked(Handle):
    """A handle that notes what it is asked, and answers with the name of the question."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, tuple[Any, ...]]] = []

    def _ask(self, question: str, *values: Any) -> Any:
        self.asked.append((question, values))
        return f"answer to {question}"

    def begin(self, order: object) -> None: ...
    def change(self, by_s: float) -> None: ...
    def close_now(self) -> None: ...
    def leave(self) -> None: ...
    def reach_again(self) -> None: ...


def test_all_that_a_camera_can_be_asked_is_a_question_and_nothing_else() -> None:
    offered = {name for name, _ in inspect.getmembers(Camera, inspect.isfunction) if not name.startswith("_")}
    assert sorted(QUESTIONS) == sorted(offered - WORDS)


@pytest.mark.parametrize("question", sorted(set(QUESTIONS) - {"reach_again"}))
def test_it_is_asked_by_its_name_with_its_values_and_gives_back_the_answer(question: str) -> None:
    handle = Asked()
    count = len(inspect.signature(getattr(Camera, question)).parameters) - 1
    values = tuple(range(count))
    assert getattr(handle, question)(*values) == f"answer to {question}"
    assert handle.asked == [(question, values)]


def test_values_may_be_named() -> None:
    handle = Asked()
    handle.live(Path("x"), at=(0.5, 0.25))
    handle.new_files(expected=1, allow_s=2.5)
    assert handle.asked == [("live", (Path("x"), (0.5, 0.25))), ("new_files", (1, 2.5))]
