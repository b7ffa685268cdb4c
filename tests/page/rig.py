"""A run that tells what the tests say, the page's server beside it, and a plain browser, all on loopback."""

from __future__ import annotations

import http.client
import json
import os
import queue
import ssl
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Self

from tests.journal.planned import a_ladder
from tests.journal.shown import TellingServer
from tether.clock import AffineClock
from tether.control.commands import Verb
from tether.control.messages import Facts
from tether.control.registry import announce, withdraw
from tether.journal.records import Record
from tether.page.doors import Doors
from tether.page.evening import Places
from tether.page.serving import Address, PageServer, Serving, open_place

#: Nothing here takes long; a test that waits so long has failed [s].
SOON_S = 20.0
CLOCK = AffineClock.started_now(60.0)
PLANNED = a_ladder(rungs=[{"rung": 1}, {"rung": 2, "filters": ["Calder 6"]}])


class FakeRun:
    """A run of an outing that can be told what to tell, and be ended and begun again."""

    def __init__(self, outing: Path, *, simulated: bool = True) -> None:
        self.outing = outing
        self.said: queue.SimpleQueue[Verb] = queue.SimpleQueue()
        self._facts = Facts(outing=str(outing), title="Weir", simulated=simulated)
        self.begin()

    def begin(self) -> None:
        """Begin, or come back as a new process would."""
        self.socket = announce(self.outing, "Weir", {"guard": os.getpid()})
        self._server = TellingServer(self.socket, self._facts, CLOCK, self.said.put)
        self._server.start()

    def tell(self, *records: Record) -> None:
        """Tell records to all faces."""
        self._server.tell(*records)

    def close(self) -> None:
        """End, with goodbye."""
        self._server.close()
        withdraw(self.socket)


class Page:
    """The page's server in a thread, with what lets browsers in."""

    def __init__(
        self,
        outing: Path | None,
        address: Address | None = None,
        *,
        port: int = 0,
        plans: Places | None = None,
        tls: ssl.SSLContext | None = None,
    ) -> None:
        self.doors = Doors()
        self.place: Serving = open_place(address, port, tls)
        #: What browsers trust, where it is encrypted.
        self.trusted: ssl.SSLContext | None = None
        self.at: tuple[str, int] = self.place.listening.getsockname()[:2]
        self.server = PageServer(outing, self.place, self.doors, plans)
        self._thread = threading.Thread(target=self.server.serve, name="page")
        self._thread.start()

    @property
    def host(self) -> str:
        """Address and port."""
        return self.place.hosts[0]

    def link(self, *, may_steer: bool = True) -> str:
        """Return a new link."""
        return self.place.link(self.doors.new_link(may_steer=may_steer))

    def wait_for_run(self) -> None:
        """Wait until it is attached to a run: before that its address leads to the plans."""
        until_s = time.monotonic() + SOON_S
        while self.server._feed.sight.state != "attached":
            assert time.monotonic() < until_s
            time.sleep(0.02)

    def close(self) -> None:
        """End the server, and wait for it."""
        self.server.stop()
        self._thread.join(SOON_S)
        assert not self._thread.is_alive()


class Answer:
    """What the server answered: status, headers, text."""

    def __init__(self, response: http.client.HTTPResponse) -> None:
        self.status = response.status
        self.headers = response.headers
        self.text = response.read().decode()


class Browser:
    """Sends requests as a browser does, or as one that lies would."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.host = page.host
        self.cookie: str | None = None
        self.token = ""

    @classmethod
    def let_in(cls, page: Page, *, may_steer: bool = True, attached: bool = True) -> Self:
        """Return a browser that has used a link and read the page's token; once the page is attached to the run."""
        browser = cls(page)
        entered = browser.enter(page.doors.new_link(may_steer=may_steer))
        assert entered.status == 204, entered.text
        browser.cookie = entered.headers["Set-Cookie"].partition(";")[0]
        with browser.events() as events:
            told = next(events)
            browser.token = told["token"]
            while attached and told["link"]["state"] != "attached":
                told = next(events)
        return browser

    def enter(self, token: str) -> Answer:
        """Exchange a link's token."""
        return self.ask("POST", "/enter", json.dumps({"token": token}), self.own())

    def say(self, verb: str, of: str | None = None) -> Answer:
        """Say a word as the page does."""
        return self.post_say({"verb": verb, "of": of}, {**self.own(), "X-Tether-Token": self.token})

    def post_say(self, body: object, headers: dict[str, str]) -> Answer:
        """Post to where words are said."""
        return self.ask("POST", "/say", json.dumps(body), headers)

    def own(self) -> dict[str, str]:
        """Return what a browser sends with a POST of the page itself."""
        return {"Origin": f"{self.page.place.scheme}://{self.page.host}", "Content-Type": "application/json"}

    def ask(self, method: str, path: str, body: str = "", headers: dict[str, str] | None = None) -> Answer:
        """Send a request and return its answer."""
        with closing(self._connection()) as connection:
            return Answer(self._sent(connection, method, path, body, headers or {}))

    def ask_bytes(self, path: str) -> bytes:
        """Ask for what is no text."""
        with closing(self._connection()) as connection:
            return self._sent(connection, "GET", path, "", {}).read()

    @contextmanager
    def events(
        self, path: str = "/events", headers: dict[str, str] | None = None
    ) -> Iterator[Iterator[dict[str, Any]]]:
        """Listen: yields messages with their `event` and `id`; leaves at the end of the with statement."""
        with (
            closing(self._connection()) as connection,
            closing(self._sent(connection, "GET", path, "", headers or {})) as response,
        ):
            assert response.status == 200
            assert response.headers["Content-Type"].startswith("text/event-stream")
            yield _messages(response)

    def _connection(self) -> http.client.HTTPConnection:
        address, port = self.page.at
        if self.page.trusted is not None:
            return http.client.HTTPSConnection(address, port, timeout=SOON_S, context=self.page.trusted)
        return http.client.HTTPConnection(address, port, timeout=SOON_S)

    def _sent(
        self, connection: http.client.HTTPConnection, method: str, path: str, body: str, headers: dict[str, str]
    ) -> http.client.HTTPResponse:
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        whole = {"Host": self.host, "Content-Length": str(len(body.encode())), **headers}
        if self.cookie:
            whole["Cookie"] = self.cookie
        for name, value in whole.items():
            connection.putheader(name, value)
        connection.endheaders(body.encode())
        return connection.getresponse()


def _messages(response: http.client.HTTPResponse) -> Iterator[dict[str, Any]]:
    fields: dict[str, str] = {}
    while line := response.readline().decode():
        if line != "\n":
            name, _, value = line.rstrip("\n").partition(": ")
            fields[name] = value
            continue
        yield {**json.loads(fields["data"]), "event": fields["event"], "id": fields.get("id")}
        fields = {}


def next_change(events: Iterator[dict[str, Any]]) -> dict[str, Any]:
    """Return the next message that is no beat."""
    return next(message for message in events if message["event"] != "beat")
