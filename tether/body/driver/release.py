"""Holding the shutter open: which of the ways in the body file this body has, and how its close is made sure of."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Sequence
from statistics import median

from tether.body.driver.errors import REFUSED, LibraryError
from tether.body.driver.profile import ConfigWrite, Release
from tether.body.driver.sending import Sendings
from tether.body.driver.session import Session

Write = Callable[[], None]

#: A close whose call took longer than this was waited for by the library, and tells nothing of the next.
_LONGEST_CLOSE_NS = 20_000_000
#: An opening whose call took longer than this was acted on late, and does not tell where in it the command went out;
#: the slowest families over a network take some 100 ms.
_LONGEST_OPEN_NS = 250_000_000
#: From this share of its call on a command goes out late in it.
_LATE = 0.5
#: So many calls of each kind tell how long they usually take.
_REMEMBERED = 9
_OPENING = "open its shutter"
_CLOSING = "close its shutter"


def usable(session: Session, ways: Sequence[Release]) -> Release | None:
    """Return the first way whose entries are there and offer what it needs; None where there is none.

    Raises LibraryError where that can't be told now: the body is busy or gone.
    """
    return next((way for way in ways if all(_is_there(session, need) for need in way.needs)), None)


def _is_there(session: Session, need: ConfigWrite | str) -> bool:
    entry = session.first_of((need if isinstance(need, str) else need.entry,))
    return entry is not None and (isinstance(need, str) or need.value in entry.choices)


class HeldRelease:
    """One way to hold the shutter, with its writes made ready.

    Parameters
    ----------
    session
        The session.
    way
        The way.
    tell
        Is handed sentences for the log.
    sendings
        Tells when the library sent what opens and closes.
    now_ns
        The monotonic clock.
    """

    def __init__(
        self,
        session: Session,
        way: Release,
        tell: Callable[[str], None],
        sendings: Sendings,
        now_ns: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        self._session = session
        self._tell = tell
        self._sendings = sendings
        self._now_ns = now_ns
        self.way = way
        self._open_called_ns = 0
        self._open: list[Write] | None = None
        self._close: list[Write] | None = None
        self._opens_ns: deque[int] = deque(maxlen=_REMEMBERED)
        self._closes_ns: deque[float] = deque(maxlen=_REMEMBERED)

    def close_later_ns(self, open_took_ns: int) -> int:
        """Return by how much later the close is to be called: how late the opening went out, less what a close takes.

        When the library sent the opening is known by its log, when it will send the close is what it usually takes (the
        median of the closes before). Where the log does not tell, both are reckoned from how long calls took.
        """
        took_ns = min(open_took_ns, _LONGEST_OPEN_NS)
        self._opens_ns.append(took_ns)
        sent_ns = self._sendings.sent_ns(self.way.opens_with)
        opened_ns = self._reckoned_ns(took_ns) if sent_ns is None else sent_ns - self._open_called_ns
        return round(opened_ns - self._close_goes_out_ns())

    def _reckoned_ns(self, took_ns: int) -> float:
        """Return when in its call an opening went out, as far as the length of calls tells [ns].

        On a busy machine a call may take three times as long as it usually does. A command that goes out early in its
        call has then gone out when it usually does, one that goes out late so much before the end as it usually does
        (measured on the wire): the usual is the median of the calls before.
        """
        usual_ns = median(self._opens_ns)
        early = self.way.opens_at < _LATE
        return self.way.opens_at * usual_ns if early else took_ns - (1 - self.way.opens_at) * usual_ns

    def _close_goes_out_ns(self) -> float:
        """Return how long after its call a close usually goes out [ns]."""
        if self._closes_ns:
            return median(self._closes_ns)
        return self.way.closes_at * min(median(self._opens_ns), _LONGEST_CLOSE_NS)

    def prepare(self) -> None:
        """Make the writes ready. Raises LibraryError."""
        self._open = self._writes(self.way.open, _OPENING)
        self._close = self._writes(self.way.close, _CLOSING)
        self._sendings.listen()

    def _writes(self, commands: Sequence[ConfigWrite], doing: str) -> list[Write]:
        return [self._session.prepared(one.entry, one.value, doing) for one in commands]

    def open(self) -> None:
        """Open the shutter. Raises LibraryError."""
        self._open_called_ns = self._now_ns()
        try:
            for write in self._open or self._writes(self.way.open, _OPENING):
                write()
        except LibraryError:
            self._sendings.stop()
            raise

    def close(self, *, opened: bool = True) -> None:
        """Close the shutter; where that fails, by the other ways of the body file.

        `opened` says whether it was opened by us. One that was not, and refuses every way, is shut.

        Raises
        ------
        LibraryError
            No way succeeded: the first one's error.
        """
        writes, self._open, self._close = self._close, None, None
        called_ns = self._now_ns()
        try:
            for write in writes or self._writes(self.way.close, _CLOSING):
                write()
            if writes:
                self._closes_ns.append(self._went_out_ns(called_ns))
        except LibraryError as error:
            self._close_otherwise(error, opened)
        finally:
            self._sendings.stop()

    def _went_out_ns(self, called_ns: int) -> float:
        """Return how long after its call the close that was just made went out [ns]."""
        sent_ns = self._sendings.sent_ns(self.way.closes_with)
        if sent_ns is None:
            return self.way.closes_at * min(self._now_ns() - called_ns, _LONGEST_CLOSE_NS)
        return min(sent_ns - called_ns, _LONGEST_CLOSE_NS)

    def _close_otherwise(self, error: LibraryError, opened: bool) -> None:
        """Close by the other ways, one by one. Raises LibraryError: none was taken, and it may still be open."""
        if error.gone:
            raise error
        errors = [error]
        for commands in self.way.else_close:
            try:
                for write in self._writes(commands, _CLOSING):
                    write()
            except LibraryError as again:
                if again.gone:
                    raise
                errors.append(again)
                continue
            if opened:
                reason = error.said or "no reason given"
                self._tell(f"The close command failed ({reason}); another release command was taken.")
            return
        if opened:
            raise error
        if unsure := [one for one in errors if one.code not in REFUSED]:
            raise unsure[0]
