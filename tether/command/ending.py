"""The end of an outing: what is missing, and what is to be done before going."""

from __future__ import annotations

import sys
from pathlib import Path

from tether.command.common import say, show
from tether.command.talk import line_of
from tether.journal.records import Record
from tether.journal.snapshot import Snapshot
from tether.report.checks_view import AFTER, ChecksView, finish_json
from tether.service.finish import finish, read_ended


def finish_outing(outing: Path, fetch: bool, copy_to: Path | None, port: str, as_json: bool) -> None:
    """Say what is missing at the end of an outing; fetch and copy what is wanted."""

    def tell_line(record: Record) -> None:
        if line := line_of(record, Snapshot()):
            say(line)

    found = finish(read_ended(outing), fetch=fetch, copy_to=copy_to, port=port, show=tell_line)
    show(finish_json(found, str(outing)), ChecksView(found, AFTER), as_json=as_json)
    sys.exit(1 if any(one.verdict == "stop" for one in found) else 0)
