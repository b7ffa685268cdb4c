"""APEX values, and how exposures go with the light of a scene and with what falls on the sensor.

Sources: Exif 2.2 (CIPA DC-008, JEITA CP-3451) Annex C for Tv, Av, Sv, Bv and Ev; ISO 2720:1974 for the meter constants
K and C; ISO 12232:2006 for the focal-plane exposure and the speeds. All arguments are exact values and positive.
"""

from __future__ import annotations

import math

#: Meter constant for reflected light, usual value (ISO 2720 allows 10.6 to 13.4; 14 is met too).
K_REFLECTED = 12.5
#: Meter constant for incident light on a flat receptor (ISO 2720 allows 240 to 400; 320 to 540 for a hemisphere).
C_INCIDENT = 250.0
#: Usual lens factor q of ISO 12232 (T 0.9, v 0.98, 10° off the axis).
Q_LENS = 0.65

_ISO_AT_SV_0 = 3.125


def tv(time_s: float) -> float:
    """Return the time value -log2 t of an exposure time [s]: 1/128 s is 7."""
    return -math.log2(time_s)


def av(aperture: float) -> float:
    """Return the aperture value 2 log2 N of an f-number: f/8 is 6."""
    return 2 * math.log2(aperture)


def sv(iso: float) -> float:
    """Return the speed value log2(S / 3.125) of a sensitivity: ISO 100 is 5."""
    return math.log2(iso / _ISO_AT_SV_0)


def ev(time_s: float, aperture: float) -> float:
    """Return the exposure value Av + Tv of settings, whatever the sensitivity: 1/128 s at f/8 is 13."""
    return av(aperture) + tv(time_s)


def bv(time_s: float, aperture: float, iso: float) -> float:
    """Return the brightness value Ev - Sv of the scene that these settings expose as the meter would."""
    return ev(time_s, aperture) - sv(iso)


def ev100(time_s: float, aperture: float, iso: float) -> float:
    """Return the exposure value that the same scene has at ISO 100."""
    return ev(time_s, aperture) - math.log2(iso / 100)


def luminance_cd_m2(ev_value: float, iso: float = 100, k: float = K_REFLECTED) -> float:
    """Return the luminance [cd/m²] that a reflected-light meter reads as `ev_value`: L = K 2^Ev / S (ISO 2720)."""
    return k * math.exp2(ev_value) / iso


def ev_of_luminance(luminance: float, iso: float = 100, k: float = K_REFLECTED) -> float:
    """Return the exposure value for a mean luminance [cd/m²]: log2(L S / K) (ISO 2720)."""
    return math.log2(luminance * iso / k)


def illuminance_lx(ev_value: float, iso: float = 100, c: float = C_INCIDENT) -> float:
    """Return the illuminance [lx] that an incident-light meter reads as `ev_value`: E = C 2^Ev / S (ISO 2720)."""
    return c * math.exp2(ev_value) / iso


def ev_of_illuminance(illuminance: float, iso: float = 100, c: float = C_INCIDENT) -> float:
    """Return the exposure value for an illuminance [lx]: log2(E S / C) (ISO 2720)."""
    return math.log2(illuminance * iso / c)


def q_factor(transmission: float, vignetting: float, off_axis_deg: float) -> float:
    """Return the lens factor q = (pi / 4) T v cos⁴θ (ISO 12232).

    Parameters
    ----------
    transmission, vignetting
        T and v, 0 to 1.
    off_axis_deg
        Angle θ from the optical axis [°].
    """
    return math.pi / 4 * transmission * vignetting * math.cos(math.radians(off_axis_deg)) ** 4


def focal_plane_exposure(luminance: float, aperture: float, time_s: float, q: float = Q_LENS) -> float:
    """Return the exposure of the sensor H = q L t / N² [lx s] (ISO 12232).

    Parameters
    ----------
    luminance
        Of the scene, at a distance [cd/m²].
    aperture
        f-number.
    time_s
        Exposure time [s].
    q
        Lens factor, see :func:`q_factor`.
    """
    return q * luminance * time_s / aperture**2


def saturation_speed(saturation_lx_s: float) -> float:
    """Return the saturation-based speed S = 78 / H of a sensor that clips at H [lx s] (ISO 12232)."""
    return 78 / saturation_lx_s


def saturation_part(exposure_lx_s: float, iso: float) -> float:
    """Return the part of saturation, 1 being clipped, that H [lx s] reaches at a saturation-based speed: H S / 78."""
    return exposure_lx_s / (78 / iso)


def standard_output_speed(exposure_lx_s: float) -> float:
    """Return the standard output sensitivity S = 10 / H, H [lx s] giving the standard output level (ISO 12232)."""
    return 10 / exposure_lx_s
