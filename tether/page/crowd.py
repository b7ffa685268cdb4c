"""Connections of strangers: how many there may be at one time, and for how long.

Whoever reaches the port can open connections and say nothing on them, or say it drop by drop. A connection on which
nobody has shown the secret of a link is a stranger's: it lasts so long at most, and where there are too many of them
the oldest goes, of the address that has most. So there is always room for whoever holds a link. One that has ended
counts until its time is over: who comes and goes without end is no better than who stays.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

#: An address and a port.
Peer = tuple[str, int]


class Crowd:
    """The strangers' connections. Used in one thread.

    Parameters
    ----------
    most
        How many there may be.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._drops: dict[Peer, Callable[[], None]] = {}

    def came(self, peer: Peer, drop: Callable[[], None]) -> None:
        """Take in a connection, which `drop` ends; another one goes where there are too many."""
        self._drops[peer] = drop
        if len(self._drops) > self._most:
            self.drop(self._oldest_of_most())

    def is_known(self, peer: Peer) -> None:
        """Note that a connection is of somebody who holds a link: it is no stranger's any more."""
        self._drops.pop(peer, None)

    def drop(self, peer: Peer) -> None:
        """End a connection if it is a stranger's still."""
        if (drop := self._drops.pop(peer, None)) is not None:
            drop()

    def _oldest_of_most(self) -> Peer:
        ((host, _),) = Counter(host for host, _ in self._drops).most_common(1)
        return next(peer for peer in self._drops if peer[0] == host)
