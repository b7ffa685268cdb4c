"""Shutting the computer down: what the login manager may say, and never while a run goes on."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from jeepney import Message, new_method_return  # type: ignore[import-untyped]

from tests.checks.test_sleep import HANDSHAKE, StandIn
from tether.errors import BusyError, LostError
from tether.page.power import Power, ask_logind


class Logind:
    """Stands in for the login manager: says what it is told to, and remembers what it was asked."""

    def __init__(self, says: str | Exception, off: Exception | None = None) -> None:
        self._says = says
        self._off = off
        self.asked: list[tuple[str, tuple[Any, ...]]] = []

    def __call__(self, method: str, _signature: str, values: tuple[Any, ...]) -> tuple[Any, ...]:
        self.asked.append((method, values))
        answer = self._off if method == "PowerOff" else self._says
        if isinstance(answer, Exception):
            raise answer
        return (answer,)


def test_where_the_system_says_yes_it_is_shut_down_without_a_question_at_the_computer() -> None:
    logind = Logind("yes")
    power = Power(lambda: False, logind)
    assert power.may().allowed
    power.shut_down()
    assert logind.asked[-1] == ("PowerOff", (False,))


@pytest.mark.parametrize(
    ("says", "sentence"),
    [
        ("challenge", "asks for a password"),
        ("no", "does not let this user"),
        ("na", "can’t be shut down"),
        ("perhaps", r"does not allow it \(perhaps\)"),
        (FileNotFoundError("no bus"), "No login manager"),
    ],
)
def test_anything_but_yes_is_no_and_nothing_is_asked_for(says: str | Exception, sentence: str) -> None:
    logind = Logind(says)
    power = Power(lambda: False, logind)
    assert not power.may().allowed
    with pytest.raises(LostError, match=sentence):
        power.shut_down()
    assert "PowerOff" not in [method for method, _ in logind.asked]


def test_while_a_run_goes_on_the_system_is_not_even_asked() -> None:
    logind = Logind("yes")
    power = Power(lambda: True, logind)
    assert not power.may().allowed
    with pytest.raises(BusyError, match="A run is active"):
        power.shut_down()
    assert logind.asked == []


def test_a_system_that_refuses_after_all_is_told() -> None:
    with pytest.raises(LostError, match="it stays on"):
        Power(lambda: False, Logind("yes", RuntimeError("refused"))).shut_down()


def test_it_is_asked_for_as_the_login_managers_interface_has_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Names and signatures: org.freedesktop.login1(5). A stand-in answers, one connection for each question."""
    asked: list[Any] = []
    for number, (method, signature, values) in enumerate((("CanPowerOff", "", ()), ("PowerOff", "b", (False,)))):
        path = tmp_path / f"bus-{number}"
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={path}")
        with closing(StandIn(path, says_yes, handshake=HANDSHAKE[:1])) as logind:
            assert ask_logind(method, signature, values) == ("yes",)
        asked += logind.asked
    manager = ("/org/freedesktop/login1", "org.freedesktop.login1.Manager")
    assert asked == [(*manager, "CanPowerOff", ()), (*manager, "PowerOff", (False,))]


def says_yes(asked: Message, _descriptor: int) -> Message:
    return new_method_return(asked, "s", ("yes",))


def test_without_a_bus_it_is_not_shut_down(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path / 'none'}")
    may = Power(lambda: False, ask_logind).may()
    assert not may.allowed
    assert "No login manager" in may.sentence
