"""What frames say, as records: levels, where the still parts stand and how sharp they are, and the water's texture.

Made where frames are read, kept in the journal, shown to faces. None means "not known" throughout.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import hypot
from typing import Literal


@dataclass(frozen=True, kw_only=True)
class Sharpness:
    """How much fine texture is lost against the base frame, and what blur would explain it; lengths of the sensor.

    Attributes
    ----------
    lost, uncertainty
        Contrast that was lost of detail of some 6 to 20 px, relative to that of coarser detail, as a share: 0 nothing,
        1 all, below 0 where the frame is the sharper one. The middle over the squares, and its standard error.
    lower, upper
        The loss of the squares a quarter from the least and a quarter from the greatest.
    along_px2, across_px2
        Variance of the blur along its longest direction and across it [px²], on the low side for strong blurs; below 0
        where the frame is the sharper one.
    along_deg
        That direction [°, 0 to 180, from the right, clockwise].
    """

    lost: float
    uncertainty: float
    lower: float
    upper: float
    along_px2: float
    across_px2: float
    along_deg: float


@dataclass(frozen=True, kw_only=True)
class Stillness:
    """What the still region says of a frame, against the base frame; lengths are pixels of the sensor.

    Attributes
    ----------
    right_px, down_px, uncertainty_px
        How far the picture moved at the middle of the frame, and the standard error of either.
    turned_px, grown_px
        How far the corners of the frame moved by its turning clockwise, and by its growing.
    most_px
        The farthest that any of the squares moved by shift, turn and growth together.
    sharpness
        None where the light does not suffice to tell.
    squares
        How many squares were looked at.
    """

    right_px: float
    down_px: float
    uncertainty_px: float
    turned_px: float
    grown_px: float
    most_px: float
    sharpness: Sharpness | None
    squares: int


def lost_beyond(sharpness: Sharpness | None, expected: Sharpness | None) -> float | None:
    """Return the share of sharpness that was lost beside what was expected."""
    if sharpness is None:
        return None
    return 1 - (1 - sharpness.lost) / (1 - (expected.lost if expected else 0.0))


@dataclass(frozen=True, kw_only=True)
class Standing(Stillness):
    """The same, with what diffraction does to the sharpness at the frame's aperture where that explains some of it."""

    expected: Sharpness | None = None

    @property
    def lost(self) -> float | None:
        """The share of the base's sharpness that is lost beside what diffraction takes."""
        return lost_beyond(self.sharpness, self.expected)


@dataclass(frozen=True, kw_only=True)
class ChannelSaid:
    """One channel: its mean above black as a share of the way to clipping, and as for :class:`LevelsSaid`."""

    mean: float
    clipped_share: float
    headroom_stops: float | None


@dataclass(frozen=True, kw_only=True)
class LevelsSaid:
    """Levels of the worst channel, and of each by its letter.

    `headroom_stops` is how much brighter it could have been until too much clips [stops]: None where that clips
    already, and where nothing is above black; `clipped_share` tells which.
    """

    headroom_stops: float | None
    clipped_share: float
    channels: dict[str, ChannelSaid] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class HistogramSaid:
    """A raw histogram in bars, by channel.

    Attributes
    ----------
    of
        What was counted.
    stops
        How far below clipping the first bar begins [stops]; the last one ends at clipping.
    shares
        The share of the pixels in each bar, in the first with all that is darker.
    clipped
        The share of the pixels that clip.
    """

    of: Literal["water", "whole picture"]
    stops: int
    shares: dict[str, tuple[float, ...]]
    clipped: dict[str, float]


@dataclass(frozen=True, kw_only=True)
class RockSaid:
    """A frame's still parts beside the base's.

    Attributes
    ----------
    brighter_stops
        How much brighter they are, by channel [stops].
    uncertainty_stops
        Standard error of the green one, from the scatter between cells [stops].
    lifted_share
        What is added to all cells alike, as a share of their mean in green: light that came past the filter, or flare.
        0 where there is none to be sure of.
    expected_stops, off_stops
        How much brighter they should be, and how much brighter than that they are [stops].
    """

    brighter_stops: dict[str, float]
    uncertainty_stops: float
    lifted_share: float
    expected_stops: float | None = None
    off_stops: float | None = None


@dataclass(frozen=True, kw_only=True)
class Definition:
    """How defined the water is: the contrast of its texture over that of the rocks, 0 silk, above 1 frozen.

    Attributes
    ----------
    value, uncertainty
        The ratio and its standard error.
    water, rock
        Root mean square contrast of either, noise taken off; detail of some 10 to 50 px of the sensor.
    """

    value: float
    uncertainty: float
    water: float
    rock: float


@dataclass(frozen=True, kw_only=True)
class StreakSaid:
    """How long a streak the water drew, or why that can't be told; lengths are pixels of the sensor.

    Attributes
    ----------
    length_px, uncertainty_px
        The middle over the squares, and its standard error.
    lower_px, upper_px
        The squares a quarter from the shortest and a quarter from the longest; None where longer than can be told.
    along_deg
        Its direction [°, 0 to 180, from the right, clockwise], the middle likewise.
    why
        Why it was not measured, as a sentence; `at_least_px` and `at_most_px` bound it then, where that is known.
    predicted_px
        How long the plan's water should have drawn it.
    """

    length_px: float | None = None
    uncertainty_px: float | None = None
    lower_px: float | None = None
    upper_px: float | None = None
    along_deg: float | None = None
    why: str | None = None
    at_least_px: float | None = None
    at_most_px: float | None = None
    predicted_px: float | None = None


@dataclass(frozen=True, kw_only=True)
class FrameReadings(LevelsSaid):
    """What a frame says: its levels, and what of it can be told beside its base.

    `rock_clipped`: whether most of what stands still is clipped, so that no sum counts its level.
    """

    water: LevelsSaid | None = None
    rock: RockSaid | None = None
    still: Standing | None = None
    definition: Definition | None = None
    streak: StreakSaid | None = None
    rock_clipped: bool | None = None

    @property
    def off_stops(self) -> float | None:
        """How much brighter than expected the rock is [stops]; None where it is clipped, too."""
        return self.rock.off_stops if self.rock and not self.rock_clipped else None

    @property
    def moved_px(self) -> float | None:
        """How far the picture moved from the base's [px]."""
        return hypot(self.still.right_px, self.still.down_px) if self.still else None

    @property
    def sharpness_lost(self) -> float | None:
        """The share of the base's sharpness that is lost."""
        return self.still.lost if self.still else None


@dataclass(frozen=True, kw_only=True)
class BaseReadings:
    """What base frames say: regions by cells, the shares of the picture that are water and rock, the first frame."""

    cells: tuple[str, ...]
    water_share: float
    rock_share: float
    first: FrameReadings
