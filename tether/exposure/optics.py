"""Optics: diffraction, depth of field, and streaks of moving things.

All arguments are exact values and positive. Light is of 550 nm, where the eye and the green pixels peak.
"""

from __future__ import annotations

import math

#: Middle of the visible light [µm].
GREEN_UM = 0.55


def diffraction_mtf(frequency_per_um: float, aperture: float) -> float:
    """Return the contrast, 0 to 1, that a perfect lens leaves to detail of a frequency [line pairs per µm].

    (2 / pi) (arccos ν - ν sqrt(1 - ν²)), ν being the frequency over the cut-off; 0 past it. Source: J. W. Goodman,
    Introduction to Fourier Optics, circular pupil (from memory).
    """
    part = min(frequency_per_um * GREEN_UM * aperture, 1.0)
    return 2 / math.pi * (math.acos(part) - part * math.sqrt(1 - part**2))


def hyperfocal_mm(focal_mm: float, aperture: float, coc_mm: float) -> float:
    """Return the distance [mm] from which, focused there, all to infinity is sharp: f² / (N c) + f.

    Source: US Army subcourse SS0507, learning event 10, which leaves out the f.

    Parameters
    ----------
    focal_mm
        Focal length [mm].
    aperture
        f-number.
    coc_mm
        Largest blur that still passes as sharp, the circle of confusion [mm].
    """
    return focal_mm**2 / (aperture * coc_mm) + focal_mm


def depth_of_field_mm(focal_mm: float, aperture: float, coc_mm: float, focus_mm: float) -> tuple[float, float]:
    """Return the nearest and farthest sharp distance [mm]; the farthest is infinite from the hyperfocal distance on.

    near = s (H - f) / (H + s - 2 f), far = s (H - f) / (H - s), with H the hyperfocal distance and s the focus.
    Source: A. R. Greenleaf, Photographic Optics, 1950 (title from memory).

    Parameters
    ----------
    focal_mm, aperture, coc_mm
        As for :func:`hyperfocal_mm`.
    focus_mm
        Distance focused on, longer than the focal length [mm]; may be infinite.
    """
    hyperfocal = hyperfocal_mm(focal_mm, aperture, coc_mm)
    if math.isinf(focus_mm):
        return hyperfocal - focal_mm, math.inf
    near = focus_mm * (hyperfocal - focal_mm) / (hyperfocal + focus_mm - 2 * focal_mm)
    if focus_mm >= hyperfocal:
        return near, math.inf
    return near, focus_mm * (hyperfocal - focal_mm) / (hyperfocal - focus_mm)


def aperture_for_range(focal_mm: float, coc_mm: float, near_mm: float, far_mm: float) -> tuple[float, float]:
    """Return the f-number just small enough, and the focus [mm], for all from near to far to be sharp.

    The inverse of :func:`depth_of_field_mm`: 2 / s = 1/near + 1/far, and f² / (N c) = 2 (s - f) / (s (1/near - 1/far)).

    Parameters
    ----------
    focal_mm, coc_mm
        As for :func:`hyperfocal_mm`.
    near_mm, far_mm
        Range wanted [mm], longer than the focal length, near before far; far may be infinite.
    """
    focus = 2 / (1 / near_mm + 1 / far_mm)
    short = 2 * (focus - focal_mm) / (focus * (1 / near_mm - 1 / far_mm))
    return focal_mm**2 / (coc_mm * short), focus


def circle_of_confusion_mm(diagonal_mm: float, divisor: float = 1500) -> float:
    """Return the circle of confusion [mm] as a part of the sensor's diagonal [mm]; common practice, no source."""
    return diagonal_mm / divisor


def object_pixel_m(focal_mm: float, distance_m: float, pitch_um: float) -> float:
    """Return the length [m] in the scene that one pixel covers, for distances far beyond the focal length: p D / f."""
    return pitch_um * 1e-6 * distance_m / (focal_mm * 1e-3)


def streak_px(speed_m_s: float, time_s: float, *, focal_mm: float, distance_m: float, pitch_um: float) -> float:
    """Return how long a streak a moving thing draws on the sensor [px]: v t f / (p D).

    Motion across the view, at a distance far beyond the focal length.

    Parameters
    ----------
    speed_m_s, time_s
        Speed of the thing [m/s] and exposure time [s].
    focal_mm, distance_m, pitch_um
        Focal length [mm], distance of the thing [m], distance between pixel centres [µm].
    """
    return speed_m_s * time_s / object_pixel_m(focal_mm, distance_m, pitch_um)


def time_for_streak_s(streak: float, speed_m_s: float, *, focal_mm: float, distance_m: float, pitch_um: float) -> float:
    """Return the exposure time [s] in which a thing draws a streak of so many pixels; see :func:`streak_px`."""
    return streak * object_pixel_m(focal_mm, distance_m, pitch_um) / speed_m_s
