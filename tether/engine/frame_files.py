"""The file of each frame, from the shutter to the disk: which is still to come, which is on the card, which is home."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from tether.body.protocol import CardFile
from tether.shot.comparison import Difference
from tether.shot.made import Made


@dataclass(frozen=True, kw_only=True)
class FrameFile:
    """One frame's file.

    Attributes
    ----------
    made
        What it is held against.
    stands
        "awaited" where it must come, "perhaps" where it may: then a file that fits is its; "home" where it came.
    path
        Where it lies, once it is home.
    differs
        What in it is not as asked.
    """

    made: Made
    stands: Literal["awaited", "perhaps", "home"]
    path: Path | None = None
    differs: tuple[Difference, ...] = ()


@dataclass
class FrameFiles:
    """What is known of the files of a run.

    Attributes
    ----------
    known
        Places on the card (folder, name) of what is no new frame: there before, or fetched or queued already.
    queued
        Files that are on the card and still to be fetched.
    left_on_card
        Whether one could not be fetched.
    on_card_only
        Frames whose file that is: it is waited for no longer.
    void
        Frames that do not count: what they were made through was not what was thought.
    """

    known: set[tuple[str, str]] = field(default_factory=set)
    queued: deque[CardFile] = field(default_factory=deque)
    left_on_card: bool = False
    on_card_only: set[int] = field(default_factory=set)
    void: set[int] = field(default_factory=set)
    _of: dict[int, FrameFile] = field(default_factory=dict)

    @property
    def awaited(self) -> list[Made]:
        """Frames that were made and whose file must come, in the order they were taken."""
        return [one.made for one in self._of.values() if one.stands == "awaited"]

    @property
    def waited_for(self) -> list[Made]:
        """Those of them whose file is not known to be on the card."""
        return [made for made in self.awaited if made.frame not in self.on_card_only]

    @property
    def to_come(self) -> list[Made]:
        """Frames whose file must come or may, by number."""
        return sorted((one.made for one in self._of.values() if one.stands != "home"), key=lambda made: made.frame)

    @property
    def incomplete(self) -> bool:
        """Whether the file of a frame that was made, and counts, is not home."""
        owed = any(made.frame not in self.void for made in self.awaited)
        return bool(owed or self.queued or self.left_on_card)

    def is_known(self, file: CardFile) -> bool:
        """Say whether a file on the card is no new frame."""
        return (file.folder, file.name) in self.known

    def owe(self, made: Made) -> None:
        """Note a frame whose file must come."""
        self._of[made.frame] = FrameFile(made=made, stands="awaited")

    def expect_perhaps(self, frames: Iterable[Made]) -> None:
        """Note frames whose file may come, or may not come any more."""
        for made in frames:
            self._of[made.frame] = FrameFile(made=made, stands="perhaps")

    def came(self, made: Made, path: Path, differs: Sequence[Difference] = ()) -> Made:
        """Note that a frame's file is home, and return the frame with whether that agrees with what was asked."""
        made = replace(made, as_asked=not differs and made.frame not in self.void)
        self._of[made.frame] = FrameFile(made=made, stands="home", path=path, differs=tuple(differs))
        return made

    def made(self, frame: int) -> Made | None:
        """Return how a frame was made; None: that is not known."""
        if frame not in self._of:
            return None
        made = self._of[frame].made
        return replace(made, as_asked=False) if frame in self.void else made

    def path(self, frame: int) -> Path | None:
        """Return where a frame's file lies; None: it is not home."""
        return self._of[frame].path if frame in self._of else None

    def differs(self, frame: int) -> tuple[Difference, ...]:
        """Return what in a frame's file is not as asked."""
        return self._of[frame].differs if frame in self._of else ()

    def good(self, frame: int) -> bool:
        """Say whether a frame is home, as asked, and counts."""
        return self.path(frame) is not None and not self.differs(frame) and frame not in self.void
