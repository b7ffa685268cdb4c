"""The one way in which a run says that something happened: kept first, then shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from tether.clock import AffineClock, Clock, boot_id
from tether.errors import TetherError
from tether.journal.codec import Entry
from tether.journal.records import Begins, Kept, Record, Shown
from tether.journal.store import Journal


class Stream:
    """What a run tells, in one order for journal and faces.

    Parameters
    ----------
    journal, clock
        Where it is kept, and the clock of its moments.
    show
        Given all that faces are shown; must return at once.

    Attributes
    ----------
    unkept
        Why something that happened could not be kept; None: all is kept. Nothing more is begun then.
    """

    def __init__(self, journal: Journal, clock: Clock, show: Callable[[Entry], None]) -> None:
        self.unkept: TetherError | None = None
        self._journal = journal
        self._clock = clock
        self._show = show
        self._shown = 0
        self._boot = (boot_id() or None) if isinstance(clock, AffineClock) else None

    def tell(self, record: Record) -> None:
        """Say that something happened, or is about to; when this returns it is on disk, and faces have been told.

        Faces are told of what happened though it could not be kept.

        Raises
        ------
        TetherError
            If something is about to begin, and that or anything before it could not be kept: it is not to be begun.
        """
        at = Entry(utc=self._clock.utc(), mono_ns=self._clock.now_ns(), boot=self._boot, record=record)
        if isinstance(record, Kept):
            at = replace(at, seq=self._kept(at, record))
        if isinstance(record, Shown):
            self._shown += 1
            self._show(replace(at, stream=self._shown))

    def _kept(self, at: Entry, record: Kept) -> int | None:
        """Keep a record and return its place in the journal; None where what happened could not be kept."""
        begins = isinstance(record, Begins)
        if begins and self.unkept:
            raise self.unkept
        try:
            return self._journal.add(record, utc=at.utc, mono_ns=at.mono_ns, boot=at.boot)
        except TetherError as error:
            if begins:
                raise
            self.unkept = error
            return None
