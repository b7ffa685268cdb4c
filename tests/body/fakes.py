"""A body that records what it is told and when, and fails as told; and a person who speaks at given moments."""

from __future__ import annotations

from tether.body.hold import Word
from tether.clock import SteppedClock, to_ns
from tether.errors import TetherError


class RecordingShutter:
    """The shutter of a body on a stepped clock.

    Parameters
    ----------
    accept_s
        How long each command takes [s].
    open_error, close_errors
        What the open command, and the first close commands, fail with.
    """

    def __init__(
        self,
        clock: SteppedClock,
        *,
        accept_s: float = 0.0,
        take_s: float = 0.0,
        open_error: TetherError | None = None,
        close_errors: tuple[TetherError, ...] = (),
        take_error: TetherError | None = None,
        says_open_s: float | None = None,
        prepare_error: TetherError | None = None,
        later_s: float = 0.0,
    ) -> None:
        self.prepared = 0
        self._says_open_s = says_open_s
        self._prepare_error = prepare_error
        self._later_ns = to_ns(later_s)
        self.calls: list[tuple[str, int]] = []
        self._clock = clock
        self._accept_s = accept_s
        self._take_s = take_s
        self._open_error = open_error
        self._close_errors = list(close_errors)
        self._take_error = take_error

    def prepare(self) -> None:
        self.prepared += 1
        if self._prepare_error is not None:
            raise self._prepare_error

    def attend(self, free_until_ns: int | None) -> None:
        self._called("attend", 0.0, None)

    def close_later_ns(self, open_took_ns: int) -> int:
        return self._later_ns

    def said_open_s(self) -> float | None:
        return self._says_open_s

    def open_shutter(self) -> None:
        self._called("open", self._accept_s, self._open_error)

    def close_shutter(self) -> None:
        self._called("close", self._accept_s, self._close_errors.pop(0) if self._close_errors else None)

    def take(self) -> None:
        self._called("take", self._take_s, self._take_error)

    def _called(self, what: str, takes_s: float, error: TetherError | None) -> None:
        self.calls.append((what, self._clock.now_ns()))
        self._clock.wait_until(self._clock.now_ns() + to_ns(takes_s))
        if error is not None:
            raise error

    def moments_ns(self, what: str) -> list[int]:
        """Return when one command was called."""
        return [at_ns for called, at_ns in self.calls if called == what]


class Person:
    """Says words at moments of the clock: what a hold hears."""

    def __init__(self, clock: SteppedClock, *says: tuple[float, Word]) -> None:
        self._clock = clock
        self._says = [(to_ns(at_s), word) for at_s, word in says]

    def hear(self, until_ns: int) -> Word | None:
        """Wait until the next word, or the moment."""
        if self._says and self._says[0][0] < until_ns:
            at_ns, word = self._says.pop(0)
            self._clock.wait_until(at_ns)
            return word
        self._clock.wait_until(until_ns)
        return None
