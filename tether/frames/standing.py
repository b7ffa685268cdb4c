"""Where the still parts of a frame stand against the base's, and how sharp they are: what is measured, as records."""

from __future__ import annotations

from dataclasses import dataclass


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
