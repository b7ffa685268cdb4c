"""A frame that was exposed, and what its file is held against."""

from __future__ import annotations

from dataclasses import dataclass

from tether.exposure.agreement import times_agree
from tether.journal.records import Applied, FrameKind
from tether.shot.comparison import AskedFrame


@dataclass(frozen=True, kw_only=True)
class Made:
    """A frame that was exposed, or may have been, and whose file is awaited or on the card: what that is held against.

    `opened_s` is when it was opened, by the run's clock [s], which nobody can set; None: not known.
    `answered_s` is how long the body took to answer the command that opens [s]. `exif_tells` says whether its Exif
    tells how long it was open, finer than a second, `as_asked` whether it agrees with what was asked.
    """

    frame: int
    kind: FrameKind
    rung: int | None
    wanted: AskedFrame
    filters: tuple[str, ...]
    filter_stops: float
    opened_s: float | None
    answered_s: float = 0.0
    exif_tells: bool = True
    as_asked: bool = True

    @property
    def open_s(self) -> float:
        """How long it gathered light, as far as our commands tell [s]."""
        return self.wanted.open_s if self.wanted.commands_s is None else self.wanted.commands_s

    @property
    def as_commanded(self) -> bool:
        """Whether our own commands were as they should be."""
        return self.wanted.commands_s is None or times_agree(self.wanted.commands_s, self.wanted.open_s)

    @property
    def asked(self) -> Applied:
        """The settings that were sent."""
        return self.wanted.asked
