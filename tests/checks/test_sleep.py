"""Keeping the machine awake: by a stand-in for the login manager, and on buses that refuse, hang or are not there.

The stand-in speaks D-Bus over a socket of its own (handshake and messages: D-Bus Specification). Two tests put a real
bus daemon between.
"""

from __future__ import annotations

import array
import select
import shutil
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from jeepney import (  # type: ignore[import-untyped]
    HeaderFields,
    Message,
    Parser,
    message_bus,
    new_error,
    new_method_return,
)
from jeepney.io.blocking import DBusConnection, Proxy, prep_socket  # type: ignore[import-untyped]

from tether.checks import sleep as awake
from tether.checks.sleep import kept_awake

WHY = "A ladder is being exposed"
HANDSHAKE = (b"OK 0123456789abcdef0123456789abcdef\r\n", b"AGREE_UNIX_FD\r\n")
#: Makes the answer to Inhibit out of the message and the descriptor to be held; None is no answer.
Answer = Callable[[Message, int], Message | None]


def granted(asked: Message, descriptor: int) -> Message:
    return new_method_return(asked, "h", (descriptor,))


def error(kind: str) -> Answer:
    return lambda asked, _descriptor: new_error(asked, kind, "s", ("not for you",))


class Pipe:
    """What the login manager hands out and keeps: its own end comes to an end when nobody holds the other any more."""

    def __init__(self) -> None:
        self._kept, self.handed_out = socket.socketpair()
        self._gone = threading.Event()

    def let_go(self) -> None:
        """Close our copy of the end that was handed out."""
        self.handed_out.close()
        self._gone.set()

    def is_held(self) -> bool:
        """Say whether the one that it was handed to holds it."""
        assert self._gone.wait(30)
        return not select.select([self._kept], [], [], 0)[0]

    def is_given_back(self) -> bool:
        """Wait until nobody holds it any more, in vain if a child does; the kernel and a bus may take a moment."""
        return bool(select.select([self._kept], [], [], 10)[0])

    def close(self) -> None:
        self._kept.close()
        self.handed_out.close()


class StandIn:
    """A bus with a login manager on it, for one caller.

    Parameters
    ----------
    path
        Of the socket.
    answer
        Makes the answer to Inhibit.
    handshake
        What is said to each line of the handshake; after a shorter list it is silent.
    greets
        Whether Hello is answered.
    """

    def __init__(
        self, path: Path, answer: Answer = granted, *, handshake: tuple[bytes, ...] = HANDSHAKE, greets: bool = True
    ) -> None:
        self._answer = answer
        self._handshake = handshake
        self._greets = greets
        self.pipe = Pipe()
        self.asked: list[tuple[str, str, str, tuple[str, ...]]] = []
        self._socket = socket.socket(socket.AF_UNIX)
        self._socket.bind(str(path))
        self._socket.listen()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        with suppress(OSError):
            line, _ = self._socket.accept()
            with line:
                self._shake_hands(line)
                self._talk(line)

    def _shake_hands(self, line: socket.socket) -> None:
        with line.makefile("rb", buffering=0) as reader:
            reader.read(1)
            for word in self._handshake:
                reader.readline()
                line.sendall(word)
            reader.readline()

    def _talk(self, line: socket.socket) -> None:
        parser = Parser()
        while data := line.recv(4096):
            for message in parser.feed(data):
                reply = self._reply(message)
                if reply:
                    self._send(line, reply)

    def _reply(self, message: Message) -> Message | None:
        fields = message.header.fields
        if fields[HeaderFields.member] == "Hello":
            return new_method_return(message, "s", (":1.7",)) if self._greets else None
        self.asked.append(
            (fields[HeaderFields.path], fields[HeaderFields.interface], fields[HeaderFields.member], message.body)
        )
        return self._answer(message, self.pipe.handed_out.fileno())

    def _send(self, line: socket.socket, reply: Message) -> None:
        descriptors = array.array("i")
        data = reply.serialise(serial=9, fds=descriptors)
        line.sendmsg([data], [(socket.SOL_SOCKET, socket.SCM_RIGHTS, descriptors)] if descriptors else [])
        if descriptors:
            self.pipe.let_go()

    def close(self) -> None:
        with suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        self._thread.join(10)
        assert not self._thread.is_alive()
        self._socket.close()
        self.pipe.close()


@pytest.fixture
def bus_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return where the system bus is looked for; nothing is there yet."""
    path = tmp_path / "bus"
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={path}")
    return path


@pytest.fixture
def soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wait for a silent bus for a shorter time."""
    monkeypatch.setattr(awake, "LIMIT_S", 0.2)


def why_not(path: Path, *args: Any, **kwargs: Any) -> str:
    """Ask a stand-in that will not do it, and return the sentence."""
    with closing(StandIn(path, *args, **kwargs)), kept_awake(WHY) as inhibition:
        assert not inhibition.held
        assert "leave the lid open" in inhibition.sentence
        return inhibition.sentence


def test_sleep_idling_and_the_lid_are_held_off_until_the_end_and_no_longer(bus_path: Path) -> None:
    with closing(StandIn(bus_path)) as logind:
        with kept_awake(WHY) as inhibition:
            assert inhibition.held
            assert "kept from sleeping" in inhibition.sentence
            assert logind.pipe.is_held()
        assert logind.pipe.is_given_back()
    # Signature and meaning of Inhibit: org.freedesktop.login1(5).
    assert logind.asked == [
        (
            "/org/freedesktop/login1",
            "org.freedesktop.login1.Manager",
            "Inhibit",
            ("sleep:idle:handle-lid-switch", "tether", WHY, "block"),
        )
    ]


def test_it_is_let_go_when_the_run_fails_and_the_failure_goes_on(bus_path: Path) -> None:
    with closing(StandIn(bus_path)) as logind:
        with pytest.raises(ZeroDivisionError), kept_awake(WHY):
            raise ZeroDivisionError
        assert logind.pipe.is_given_back()


def test_a_process_started_meanwhile_does_not_inherit_it(bus_path: Path) -> None:
    with closing(StandIn(bus_path)) as logind, ExitStack() as awhile:
        with kept_awake(WHY) as inhibition:
            assert inhibition.held
            child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE, close_fds=False)
            awhile.enter_context(child)
            awhile.callback(child.kill)
        assert logind.pipe.is_given_back()


def test_no_bus_at_all(bus_path: Path) -> None:
    with kept_awake(WHY) as inhibition:
        assert not inhibition.held
        assert "there is no system bus" in inhibition.sentence


def test_a_bus_that_nobody_serves_any_more(bus_path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as left_behind:
        left_behind.bind(str(bus_path))
    with kept_awake(WHY) as inhibition:
        assert "there is no system bus" in inhibition.sentence


def test_an_address_that_makes_no_sense(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", "tcp:host=127.0.0.1,port=1")
    with kept_awake(WHY) as inhibition:
        assert not inhibition.held
        assert "did not answer as it should" in inhibition.sentence


# Names of errors: D-Bus Specification, "Standard errors", from memory.
@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("org.freedesktop.DBus.Error.AccessDenied", "the system refused it"),
        ("org.freedesktop.DBus.Error.InteractiveAuthorizationRequired", "the system refused it"),
        ("org.freedesktop.DBus.Error.ServiceUnknown", "does not run on this machine"),
        ("org.freedesktop.DBus.Error.Spawn.ChildExited", "does not run on this machine"),
        ("org.freedesktop.DBus.Error.LimitsExceeded", "answered with an error (LimitsExceeded)"),
    ],
)
def test_an_error_is_told_by_what_it_means(bus_path: Path, kind: str, said: str) -> None:
    assert said in why_not(bus_path, error(kind))


def test_a_bus_that_turns_this_user_away(bus_path: Path) -> None:
    assert "did not answer as it should" in why_not(bus_path, handshake=(b"REJECTED EXTERNAL\r\n",))


def test_a_bus_that_cannot_pass_descriptors(bus_path: Path) -> None:
    handshake = (HANDSHAKE[0], b"ERROR\r\n")
    assert "did not answer as it should" in why_not(bus_path, handshake=handshake)


def test_an_answer_that_is_no_descriptor(bus_path: Path) -> None:
    assert "no file descriptor" in why_not(bus_path, lambda asked, _: new_method_return(asked, "s", ("yes",)))


def test_an_answer_that_is_empty(bus_path: Path) -> None:
    assert "did not answer as it should" in why_not(bus_path, lambda asked, _: new_method_return(asked))


@pytest.mark.usefixtures("soon")
@pytest.mark.parametrize("words", [0, 1])
def test_a_bus_that_hangs_in_the_handshake_is_given_up(bus_path: Path, words: int) -> None:
    assert "did not answer within" in why_not(bus_path, handshake=HANDSHAKE[:words])


@pytest.mark.usefixtures("soon")
def test_a_bus_that_does_not_greet_is_given_up(bus_path: Path) -> None:
    assert "did not answer within" in why_not(bus_path, greets=False)


@pytest.mark.usefixtures("soon")
def test_a_login_manager_that_hangs_is_given_up(bus_path: Path) -> None:
    assert "did not answer within" in why_not(bus_path, lambda _asked, _descriptor: None)


@contextmanager
def bus_daemon(path: Path) -> Iterator[None]:
    """Run a private bus daemon that lets everybody do everything."""
    program = shutil.which("dbus-daemon")
    assert program, "this test needs dbus-daemon (Debian: dbus-daemon)"
    config = path.with_suffix(".conf")
    config.write_text(
        "<!DOCTYPE busconfig PUBLIC '-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN'"
        " 'http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd'>"
        f"<busconfig><type>system</type><listen>unix:path={path}</listen><auth>EXTERNAL</auth>"
        "<policy context='default'><allow own='*'/><allow send_destination='*'/><allow receive_sender='*'/></policy>"
        "</busconfig>"
    )
    command = [program, f"--config-file={config}", "--nofork", "--print-address"]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as daemon:
        assert daemon.stdout is not None
        daemon.stdout.readline()
        try:
            yield
        finally:
            daemon.terminate()


def serve_once(path: Path, pipe: Pipe, ready: threading.Event) -> None:
    """Be the login manager on a bus, for one caller."""
    line = prep_socket(str(path), enable_fds=True)
    with line, DBusConnection(line, enable_fds=True) as bus:
        Proxy(message_bus, bus).RequestName("org.freedesktop.login1")
        ready.set()
        while True:
            message = bus.receive(timeout=30)
            if message.header.fields.get(HeaderFields.member) == "Inhibit":
                break
        bus.send(granted(message, pipe.handed_out.fileno()))
        pipe.let_go()


@pytest.mark.prove
def test_it_is_held_and_let_go_through_a_real_bus(bus_path: Path) -> None:
    ready = threading.Event()
    with bus_daemon(bus_path), closing(Pipe()) as pipe:
        logind = threading.Thread(target=serve_once, args=(bus_path, pipe, ready), daemon=True)
        logind.start()
        assert ready.wait(30)
        with kept_awake(WHY) as inhibition:
            logind.join(30)
            assert inhibition.held
            assert pipe.is_held()
        assert pipe.is_given_back()


@pytest.mark.prove
def test_a_real_bus_without_a_login_manager(bus_path: Path) -> None:
    with bus_daemon(bus_path), kept_awake(WHY) as inhibition:
        assert "does not run on this machine" in inhibition.sentence
