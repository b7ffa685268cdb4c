"""Serves the page: where it may be reached, its links, and the process that keeps all of it going."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import ipaddress
import socket
import ssl
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import uvicorn

from tether.control.attachment import Attachment, RunView, WordReply
from tether.errors import BusyError, PlanError
from tether.page.app import make_app
from tether.page.choosing import Choosing
from tether.page.crowd import Crowd, Peer
from tether.page.doors import Doors
from tether.page.evening import Evening, Places, later
from tether.page.feed import Feed
from tether.page.plots import Plots

Address = ipaddress.IPv4Address | ipaddress.IPv6Address

LOOPBACK = ipaddress.IPv4Address("127.0.0.1")
#: Connections that may be open at one time: of browsers that came in by a link, which keep a few each, and of others.
_MOST_CONNECTIONS, MOST_STRANGERS = 128, 64
#: Connections that may wait to be taken, how many are in one turn of the loop, and how many turns one that was ended
#: takes at most until it is gone. Were all taken at once, those would still be counted when who holds a link asks.
_MAY_WAIT, _TAKEN_AT_ONCE, _TURNS_TO_GO = 2048, 32, 8
#: How long a connection may last on which nobody has shown the secret of a link [s].
STRANGER_S = 10.0
#: How long what is asked for may still take once the page ends, and how long all is waited for then [s].
_WORKS_ON_S, _LEAVES_WITHIN_S = 1.0, 2
#: A phone that has not acknowledged what was sent for so long has gone to sleep, and is dropped [ms].
_UNHEARD_MS = 20_000


def address_of(text: str) -> Address:
    """Return the address of this machine that is named.

    Raises
    ------
    PlanError
        If it is none, or stands for all or many.
    """
    try:
        address = ipaddress.ip_address(text)
    except ValueError:
        raise PlanError(
            f'--network "{text}": this is not an address. Name one of this machine, such as 192.168.1.20; '
            "they are listed by: ip -brief address"
        ) from None
    if _all_of(address).is_unspecified:
        raise PlanError(
            f"--network {text}: this stands for every network that this machine is in. Name the one address that your "
            "phone reaches; they are listed by: ip -brief address"
        )
    if address.is_multicast or "%" in text:
        raise PlanError(f"--network {text}: a browser can't open a page at such an address; name another.")
    return address


def _all_of(address: Address) -> Address:
    return getattr(address, "ipv4_mapped", None) or address


class Listening(socket.socket):
    """A socket that tells of each connection when it is taken: where that is encrypted, nothing was said on it yet."""

    came: Callable[[Peer, Callable[[], None]], None]

    def listen(self, _taken_at_once: int = 0, /) -> None:
        """Listen. More may wait than the loop takes at once, for which it names one number."""
        super().listen(_MAY_WAIT)

    def accept(self) -> tuple[socket.socket, Any]:
        """Take a connection, and tell who it is of and how it is ended."""
        end, address = super().accept()
        self.came(address[:2], partial(_end, end))
        return end, address


def _end(end: socket.socket) -> None:
    with contextlib.suppress(OSError):
        end.shutdown(socket.SHUT_RDWR)


@dataclass(frozen=True, kw_only=True)
class Serving:
    """Where the page is served: a socket that listens, and what browsers may call it, the name for links first.

    `tls` is what it is encrypted by; None: it is not.
    """

    listening: Listening
    hosts: tuple[str, ...]
    on_network: bool
    is_public: bool
    tls: ssl.SSLContext | None = None

    @property
    def scheme(self) -> str:
        """What addresses of it begin with."""
        return "http" if self.tls is None else "https"

    @property
    def port(self) -> int:
        """The port."""
        return int(self.listening.getsockname()[1])

    def link(self, token: str) -> str:
        """Return a link that opens the page once."""
        return f"{self.scheme}://{self.hosts[0]}/#{token}"


def open_place(address: Address | None, port: int, tls: ssl.SSLContext | None = None) -> Serving:
    """Open the place for the page: at an address of this machine, or (None) for this machine only; port 0: any.

    `tls` is what it is encrypted by, if anything.

    Raises
    ------
    PlanError
        If the address is not this machine's.
    BusyError
        If the port is taken.
    """
    at = address or LOOPBACK
    listening = Listening(socket.AF_INET6 if at.version == 6 else socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, _UNHEARD_MS)
        listening.bind((str(at), port))
        listening.listen()
    except OSError as error:
        listening.close()
        if error.errno == errno.EADDRINUSE:
            raise BusyError(
                f"Port {port} of {at} is taken, perhaps by another page; give --page-port another."
            ) from error
        raise PlanError(
            f"--network {at}: this is not an address of this machine that can be used. They are listed by: "
            "ip -brief address"
        ) from error
    port = listening.getsockname()[1]
    name = f"[{at}]:{port}" if at.version == 6 else f"{at}:{port}"
    hosts = (name,) if address else (name, f"localhost:{port}")
    on_network = not _all_of(at).is_loopback
    is_public = _all_of(at).is_global
    return Serving(listening=listening, hosts=hosts, on_network=on_network, is_public=is_public, tls=tls)


class PageServer:
    """The page of an outing's run (None: of whichever runs) at a place.

    `serve` does it all; `stop` may be called from any thread. With `plans`, evenings are planned and begun on it.
    """

    def __init__(self, outing: Path | None, place: Serving, doors: Doors, plans: Places | None = None) -> None:
        self._place = place
        self._attachment = Attachment(outing, self._tell, stays=False)
        self._feed = Feed(lambda: time.monotonic() - self._attachment.heard_s)
        self._outing = outing
        self._loop: asyncio.AbstractEventLoop | None = None
        self._crowd = Crowd(MOST_STRANGERS)
        place.listening.came = self._stranger_came
        self._choosing = Choosing(self._outing_now)
        self._evening = None if plans is None else Evening(plans, self._attachment.turn_to, self._outing_now)
        app = make_app(
            self._feed,
            doors,
            self._attachment.say_now,
            hosts=place.hosts,
            cookie=f"tether-{place.port}",
            on_network=place.on_network,
            plots=Plots(self._outing_now, lambda: self._feed.sight),
            crowd=self._crowd,
            choosing=self._choosing,
            evening=self._evening,
        )
        config = uvicorn.Config(
            app,
            access_log=False,
            date_header=False,
            backlog=_TAKEN_AT_ONCE,
            http="h11",
            lifespan="off",
            limit_concurrency=_MOST_CONNECTIONS + MOST_STRANGERS + _TAKEN_AT_ONCE * _TURNS_TO_GO,
            log_level="error",
            proxy_headers=False,
            server_header=False,
            timeout_graceful_shutdown=_LEAVES_WITHIN_S,
            ws="none",
        )
        config.load()
        config.ssl = place.tls
        self._server = _Server(config, self._feed.close)

    def serve(self) -> None:
        """Serve until stopped."""
        asyncio.run(self._serve())

    def _outing_now(self) -> Path | None:
        return self._feed.sight.outing or self._outing

    def stop(self) -> None:
        """End serving."""
        self._server.should_exit = True

    async def _serve(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._attachment.start()
        try:
            await self._server.serve(sockets=[self._place.listening])
        finally:
            await self._choosing.cropper.close()
            if self._evening is not None:
                self._evening.close()
            self._attachment.close()
            self._place.listening.close()

    def _stranger_came(self, peer: Peer, end: Callable[[], None]) -> None:
        self._crowd.came(peer, end)
        asyncio.get_running_loop().call_later(STRANGER_S, self._crowd.drop, peer)

    def _tell(self, news: RunView | WordReply) -> None:
        """Hand on what the run says to the server's loop; nothing once that has ended."""
        if self._loop is not None and isinstance(news, RunView):
            later(self._loop, self._feed.publish, news)


class _Server(uvicorn.Server):
    """Lets those go who listen before it waits for connections to end, and calls off what takes longer."""

    def __init__(self, config: uvicorn.Config, let_go: Callable[[], None]) -> None:
        super().__init__(config)
        self._let_go = let_go

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave signals to whoever serves: what comes before the loop turns would be lost."""
        yield

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._let_go()
        asyncio.get_running_loop().call_later(_WORKS_ON_S, self._call_off)
        await super().shutdown(sockets)

    def _call_off(self) -> None:
        for task in self.server_state.tasks:
            task.cancel()
