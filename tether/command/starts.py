"""Runs that are planned for later, listed; `tether stop` calls one off."""

from __future__ import annotations

import shlex
import sys

from tether.command.common import echo, print_json, say
from tether.service.scheduler import Planned, planned, waiting
from tether.wording import span

STARTS_SCHEMA = "tether-starts/1"


def show_starts(as_json: bool) -> None:
    """Show every start that is planned, the next one first, and say where nothing waits for them."""
    starts = planned()
    waits = waiting() is not None
    if as_json:
        print_json({"schema": STARTS_SCHEMA, "waiting": waits, "starts": [_data(one) for one in starts]})
    else:
        for one in starts:
            echo(f"{_when(one)}  {one.outing}")
    _say(starts, waits=waits)


def _say(starts: tuple[Planned, ...], *, waits: bool) -> None:
    if not starts:
        say("No run is planned for later. Plan one: tether run PLAN --at 05:40")
        return
    say(f"Call one off: tether stop {starts[0].outing}")
    if not waits:
        begin = shlex.join([sys.executable, "-P", "-m", "tether.service.scheduler"])
        say("Nothing waits for these, as after a restart of the machine: none would be made.")
        say(f"Have them waited for now: {begin}   always: tether setup")


def _when(one: Planned) -> str:
    start = f"{one.when_utc.astimezone():%Y-%m-%d %H:%M:%S %Z}"
    if one.every is None or one.until_utc is None:
        return start
    return f"{start}, every {span(one.every.total_seconds())} until {one.until_utc.astimezone():%H:%M}"


def _data(one: Planned) -> dict[str, object]:
    """Return a start as plain data, valid by ``starts.schema.json``."""
    return {
        "outing": str(one.outing),
        "start_utc": one.when_utc.isoformat(),
        "every_s": one.every.total_seconds() if one.every else None,
        "until_utc": one.until_utc.isoformat() if one.until_utc else None,
    }
