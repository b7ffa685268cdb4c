"""Going on with a ladder from the desk is `tether run`, and what that says where it can't."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

import pytest

from tether.desk import resuming


@pytest.mark.parametrize(
    ("code", "said", "why_not"),
    [
        (0, "The run has begun.\n", ""),
        (3, "The camera does not\nanswer.\n", "The camera does not answer."),
        (1, "", "The ladder was not resumed, and why is not known."),
    ],
)
def test_a_ladder_is_gone_on_with_by_the_command_and_its_last_words_say_why_not(
    monkeypatch: pytest.MonkeyPatch, code: int, said: str, why_not: str
) -> None:
    asked: list[Any] = []

    def run(command: Any, **_: Any) -> subprocess.CompletedProcess[str]:
        asked.append(command)
        return subprocess.CompletedProcess(command, code, stderr=said)

    monkeypatch.setattr(subprocess, "run", run)
    assert resuming.resumed(Path("outings/dusk")) == why_not
    assert asked[0][2:] == ("-m", "tether.command", "run", "outings/dusk", "--detach")
