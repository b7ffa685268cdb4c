"""Serves the page for the phone, and shows the links and the code that open it."""

from __future__ import annotations

import contextlib
import io
import signal
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import click
import segno
from rich.console import Console
from rich.text import Text

from tether.command.common import talk
from tether.control.registry import find, running
from tether.errors import PlanError
from tether.page.certificate import encryption
from tether.page.doors import Doors
from tether.page.evening import Places
from tether.page.serving import PageServer, Serving, address_of, open_place


def serve_page(
    outing: Path | None,
    network: str | None,
    page_port: int,
    under: Path,
    *,
    watchers: bool,
    certificate: Path | None,
    key: Path | None,
) -> None:
    """Serve the page of an outing until interrupted, and show links to it; as `tether page` has its options.

    Raises
    ------
    PlanError, BusyError
        If there is no such outing, the page can't be where it is wanted, or a certificate will not do.
    """
    tls = encryption(certificate, key)
    address = address_of(network) if network is not None else None
    folder = _folder(outing)
    place = open_place(address, page_port, tls)
    doors = Doors()
    links = _Links(place, doors, watchers=watchers)
    with contextlib.suppress(KeyboardInterrupt):
        plans = Places(here=Path.cwd(), under=under) if outing is None else None
        server = PageServer(folder, place, doors, plans)
        _on_signals(lambda *_: _ended(server))
        say_beforehand(place, folder, talk())
        links.show()
        if sys.stdin.isatty():
            threading.Thread(target=links.show_on_enter, daemon=True).start()
        server.serve()
    talk().print("The page is closed; the run is not touched by that.")


def _on_signals(act: Callable[[int, FrameType | None], None]) -> None:
    for one in (signal.SIGINT, signal.SIGTERM):
        signal.signal(one, act)


def _ended(server: PageServer) -> None:
    """End serving; who says it twice does not wait for what is still sent."""
    _on_signals(signal.default_int_handler)
    server.stop()


def _folder(outing: Path | None) -> Path | None:
    """Return the outing: one that runs, or a folder in which a run may begin later; None: whichever begins."""
    if outing is None and not running():
        return None
    if outing is not None and outing.is_dir():
        return outing
    try:
        return find(outing).outing
    except PlanError as error:
        raise PlanError(f"{error} Or name an outing's folder: tether page OUTING") from error


def say_beforehand(place: Serving, folder: Path | None, said: Console) -> None:
    """Say what whoever opens the page should know."""
    whose = f"the run of {folder}" if folder else "whichever run begins; none is running now, so it shows your plans"
    said.print(f"The page shows {whose}. Ctrl-C ends the page, not the run.", soft_wrap=True)
    said.print("A locked phone will not ring: keep the page open and the phone's screen on.")
    if place.tls is not None:
        said.print("It is encrypted by your own certificate: a phone that does not know that warns of it once.")
    if not place.on_network:
        said.print("It is for browsers on this machine; so that a phone reaches it: tether page --network ADDRESS")
    elif place.tls is None:
        said.print("The page is not encrypted: others in this network can read along, and could take a phone's place.")
        said.print("Use it in a network of your own, such as the phone's own hotspot.")
    if place.on_network and place.is_public:
        said.print("This address is not of a private network: it may be reached from the whole internet.")


class _Links:
    """Shows links: data on standard output, and on a terminal a code for the phone's camera."""

    def __init__(self, place: Serving, doors: Doors, *, watchers: bool) -> None:
        self._place = place
        self._doors = doors
        self._watchers = watchers

    def show(self) -> None:
        """Show new links; older ones that were not used are void from now on."""
        self._show("Opens once, to watch and steer:", may_steer=True)
        if self._watchers:
            self._show("Opens once, to watch only:", may_steer=False)
        if sys.stdin.isatty():
            talk().print("Press Enter for a new link.")

    def show_on_enter(self) -> None:
        """Show new links whenever Enter is pressed."""
        for _ in sys.stdin:
            self.show()

    def _show(self, what: str, *, may_steer: bool) -> None:
        link = self._place.link(self._doors.new_link(may_steer=may_steer))
        talk().print(what)
        click.echo(link)
        if self._place.on_network and sys.stderr.isatty():
            talk().print(Text(code_of(link), style="bright_white on black"), soft_wrap=True)


def code_of(link: str) -> str:
    """Return a QR code in half blocks, to be shown light on dark."""
    drawn = io.StringIO()
    segno.make(link, error="l", micro=False).terminal(drawn, compact=True)
    return drawn.getvalue()
