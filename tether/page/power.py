"""Shutting the computer down, as far as the system lets this user: by systemd's login manager (logind).

Interface: ``org.freedesktop.login1.Manager``, methods ``CanPowerOff`` and ``PowerOff`` (org.freedesktop.login1(5)),
asked over the system D-Bus. Only a plain "yes" counts: "challenge" would ask for a password at the computer's
own screen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from jeepney import DBusAddress, new_method_call  # type: ignore[import-untyped]
from jeepney.io.blocking import open_dbus_connection  # type: ignore[import-untyped]
from jeepney.wrappers import unwrap_msg  # type: ignore[import-untyped]

from tether.errors import BusyError, LostError

#: How long the login manager may take to answer [s].
LIMIT_S = 3.0
_MANAGER = DBusAddress(
    "/org/freedesktop/login1", bus_name="org.freedesktop.login1", interface="org.freedesktop.login1.Manager"
)
_RUN_GOES_ON = "A run is active: the computer is not shut down before it is over."
_NOBODY_SAYS = "No login manager (logind) answers on this computer, so it can’t be shut down from here."
_WHY = {
    "challenge": "The system asks for a password before it shuts down, so it can’t be done from here.",
    "no": "The system does not let this user shut it down.",
    "na": "This computer can’t be shut down by its system.",
}
Ask = Callable[[str, str, tuple[Any, ...]], tuple[Any, ...]]


def ask_logind(method: str, signature: str, values: tuple[Any, ...]) -> tuple[Any, ...]:
    """Ask the login manager. Raises Exception of any kind: there may be no bus, or nobody who answers."""
    with open_dbus_connection(bus="SYSTEM") as bus:
        call = new_method_call(_MANAGER, method, signature, values) if signature else new_method_call(_MANAGER, method)
        answer: tuple[Any, ...] = unwrap_msg(bus.send_and_get_reply(call, timeout=LIMIT_S))
    return answer


@dataclass(frozen=True, kw_only=True)
class MayShutDown:
    """Whether the computer can be shut down from here, and that in a sentence."""

    allowed: bool
    sentence: str


class Power:
    """Shuts the computer down.

    Parameters
    ----------
    runs
        Says whether any run goes on.
    ask
        Asks the login manager: method, signature, values; returns its answer.
    """

    def __init__(self, runs: Callable[[], bool], ask: Ask | None = None) -> None:
        self._runs = runs
        self._ask = ask or ask_logind

    def may(self) -> MayShutDown:
        """Say whether it may be shut down now. Takes a few seconds at most."""
        if self._runs():
            return MayShutDown(allowed=False, sentence=_RUN_GOES_ON)
        try:
            says = str(self._ask("CanPowerOff", "", ())[0])
        except Exception:
            return MayShutDown(allowed=False, sentence=_NOBODY_SAYS)
        if says == "yes":
            return MayShutDown(allowed=True, sentence="The system allows it. Everything that is open here is closed.")
        return MayShutDown(allowed=False, sentence=_WHY.get(says, f"The system does not allow it ({says})."))

    def shut_down(self) -> None:
        """Shut the computer down.

        Raises
        ------
        BusyError
            If a run goes on.
        LostError
            If the system does not allow it, or did not answer as it should.
        """
        if self._runs():
            raise BusyError(_RUN_GOES_ON)
        if not (may := self.may()).allowed:
            raise LostError(may.sentence)
        try:
            self._ask("PowerOff", "b", (False,))
        except Exception as error:
            raise LostError("The system was asked to shut down and answered with an error; it stays on.") from error
