"""A sound at the computer by a command of the person's own: it waits for nothing, and no ring lasts for ever."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tether.control import ringing
from tether.control.ringing import Ringer, ringer_of
from tether.errors import PlanError


def ringer(program: str) -> Ringer:
    return Ringer((sys.executable, "-S", "-c", program))


def test_it_rings_by_the_command_with_its_words_and_no_shell_reads_them(tmp_path: Path) -> None:
    rung = tmp_path / "rung; $HOME"
    found = ringer_of(f"touch '{rung}'")
    assert found is not None
    found.ring()
    found.wait()
    assert rung.exists()
    assert found.trouble == ""


def test_nothing_waits_for_a_ring_and_one_that_lasts_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ringing, "LONGEST_S", 0.05)
    lasting = ringer("import time; time.sleep(600)")
    lasting.ring()
    lasting.ring()
    lasting.wait()
    assert lasting.trouble == ""


def test_a_command_that_fails_is_told_and_one_that_is_gone_too() -> None:
    failing = ringer("raise SystemExit(3)")
    failing.ring()
    failing.wait()
    assert failing.trouble == f"It may not have rung: {sys.executable} failed."
    gone = Ringer(("/nowhere/bell",))
    gone.ring()
    gone.wait()
    assert gone.trouble == "It does not ring by /nowhere/bell: no such file or directory."


@pytest.mark.parametrize("named", [None, ""])
def test_where_no_command_is_named_nothing_rings(named: str | None) -> None:
    assert ringer_of(named) is None


@pytest.mark.parametrize(
    ("command", "told"),
    [("no-such-bell --loud", "there is no such command"), ("touch 'x", "a quotation mark is open")],
)
def test_a_command_that_can_not_ring_is_refused_before_anything_begins(command: str, told: str) -> None:
    with pytest.raises(PlanError, match=told):
        ringer_of(command)
