"""``tether page``: its options; what it needs is loaded when it is called, so that help does without a server."""

from __future__ import annotations

import click

#: Where the page is served if nothing else is said.
PORT = 8437


@click.command()
@click.argument("outing", required=False)
@click.option("--network", metavar="ADDRESS", help="Serve at this address of this machine, so that a phone reaches it.")
@click.option("--port", type=click.IntRange(1024, 65535), default=PORT, show_default=True, help="The port.")
@click.option("--watchers", is_flag=True, help="Show a second link, for a phone that may watch and not steer.")
def page(outing: str | None, network: str | None, port: int, watchers: bool) -> None:
    """Show a run on a phone, and steer it from there; Ctrl-C ends the page, not the run.

    Without --network the page is for browsers on this machine. A link opens it once; press Enter for a new one.
    """
    from tether.command.paging import serve_page

    serve_page(outing, network, port, watchers=watchers)
