"""Keeping the machine awake while a run goes on.

systemd's login manager (logind) lets a program hold off sleep, idling and the lid switch for as long as it holds a file
descriptor that it is given; the kernel closes that with the process, so nothing is left behind by a crash. Interface:
``org.freedesktop.login1.Manager.Inhibit`` (org.freedesktop.login1(5)), asked for over the system D-Bus.
"""

from __future__ import annotations

import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass

from jeepney import DBusAddress, DBusErrorResponse, new_method_call  # type: ignore[import-untyped]
from jeepney.bus import get_bus  # type: ignore[import-untyped]
from jeepney.fds import FileDescriptor  # type: ignore[import-untyped]
from jeepney.io.blocking import DBusConnection, prep_socket  # type: ignore[import-untyped]
from jeepney.wrappers import unwrap_msg  # type: ignore[import-untyped]

#: What is held off.
WHAT = "sleep:idle:handle-lid-switch"
#: The bus and logind are waited for no longer than this, in all [s].
LIMIT_S = 2.0

_MANAGER = DBusAddress(
    "/org/freedesktop/login1", bus_name="org.freedesktop.login1", interface="org.freedesktop.login1.Manager"
)
_HELD = "The machine is kept from sleeping, also with its lid closed, until the run has finished."
_REMEDY = "Switch off automatic sleep in the system's power settings and leave the lid open until the run has finished."
_REFUSALS = ("AccessDenied", "InteractiveAuthorizationRequired", "PermissionDenied")
_ABSENCES = ("ServiceUnknown", "NameHasNoOwner", "UnknownMethod", "UnknownInterface", "UnknownObject")


@dataclass(frozen=True, kw_only=True)
class Inhibition:
    """Whether the machine is kept awake, and that in a sentence; where it is not, also why not and what to do."""

    held: bool
    sentence: str


@contextmanager
def kept_awake(why: str) -> Iterator[Inhibition]:
    """Keep the machine from sleeping while the context is open, as far as the system offers it.

    Never raises by itself and takes at most `LIMIT_S`: a machine that cannot be kept awake can still make a run.

    Parameters
    ----------
    why
        What is being done, for the person who asks the system what keeps it awake.
    """
    with ExitStack() as stack:
        try:
            stack.enter_context(_inhibitor(why))
            inhibition = Inhibition(held=True, sentence=_HELD)
        except Exception as error:  # whatever a bus may do, it must not end a run
            inhibition = Inhibition(held=False, sentence=f"{_why_not(error)} {_REMEDY}")
        yield inhibition


def _inhibitor(why: str) -> FileDescriptor:
    """Return the descriptor that keeps the machine awake until it is closed."""
    until_s = time.monotonic() + LIMIT_S
    line = prep_socket(get_bus("SYSTEM"), enable_fds=True, timeout=LIMIT_S)
    with line, _cut_off_at(until_s, line), DBusConnection(line, enable_fds=True) as bus:
        ask = new_method_call(_MANAGER, "Inhibit", "ssss", (WHAT, "tether", why, "block"))
        answer = unwrap_msg(bus.send_and_get_reply(ask))
    descriptor = answer[0]
    if not isinstance(descriptor, FileDescriptor):
        raise TypeError("the answer holds no file descriptor")
    # A process started meanwhile must not keep the machine awake after this one.
    os.set_inheritable(descriptor.fileno(), False)
    return descriptor


@contextmanager
def _cut_off_at(until_s: float, line: socket.socket) -> Iterator[None]:
    """Shut a line down at a moment of the monotonic clock, so that nothing waits on it longer; TimeoutError then."""

    def cut_off() -> None:
        with suppress(OSError):  # closed meanwhile
            line.shutdown(socket.SHUT_RDWR)

    timer = threading.Timer(max(until_s - time.monotonic(), 0), cut_off)
    timer.daemon = True
    timer.start()
    try:
        yield
    except OSError as error:
        if time.monotonic() >= until_s:
            raise TimeoutError from error
        raise
    finally:
        timer.cancel()


def _why_not(error: Exception) -> str:
    cannot = "The machine cannot be kept awake"
    if isinstance(error, TimeoutError):
        return f"{cannot}: the system bus (D-Bus) did not answer within {LIMIT_S:.0f} s."
    if isinstance(error, FileNotFoundError | ConnectionRefusedError):
        return f"{cannot}: there is no system bus (D-Bus) on this machine."
    if isinstance(error, DBusErrorResponse):
        kind = error.name.rpartition(".")[2]
        if kind in _REFUSALS:
            return f"{cannot}: the system refused it, as it often does to a login over the network."
        if kind in _ABSENCES or ".Spawn." in error.name:
            return f"{cannot}: the login manager (logind) does not run on this machine."
        return f"{cannot}: the login manager (logind) answered with an error ({kind})."
    return f"{cannot}: the system bus (D-Bus) did not answer as it should ({str(error) or type(error).__name__})."
