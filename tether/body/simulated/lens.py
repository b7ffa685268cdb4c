"""The lens of the simulated body: perfect but for diffraction, and moved with the tripod when that is knocked."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tether.body.simulated.moving import Field, field_of, frequencies, shift_phase, spectrum_of
from tether.body.simulated.scene import Picture

#: Wavelengths at which red, green and blue pixels see [µm]. Own choice within the bands of Bayer sensors.
WAVELENGTHS_UM = (0.61, 0.54, 0.46)


def diffraction_mtf(cycles_per_um: NDArray[np.float64], aperture: float, wavelength_um: float) -> NDArray[np.float64]:
    """Return the contrast that a perfect lens with a round aperture keeps in incoherent light.

    Parameters
    ----------
    cycles_per_um
        Spatial frequency on the sensor [1/µm], ≥ 0.
    aperture
        f-number.
    wavelength_um
        Wavelength [µm].

    Returns
    -------
    From 1 at 0 down to 0 at the cut-off 1/(λN): (2/π)(arccos s - s √(1 - s²)), s the share of the cut-off.
    (J. W. Goodman, Introduction to Fourier Optics, chapter 6; from memory.)
    """
    share = np.minimum(cycles_per_um * wavelength_um * aperture, 1.0)
    return np.asarray(2 / np.pi * (np.arccos(share) - share * np.sqrt(1 - share**2)))


def seen_through(
    picture: Picture, aperture: float, pitch_um: float, knock_px: tuple[float, float], soft_px: float = 0.0
) -> Picture:
    """Return the picture as the lens draws it on the sensor.

    Parameters
    ----------
    picture
        Shape (3, height, width): red, green, blue.
    aperture, pitch_um
        f-number and pixel pitch [µm].
    knock_px
        How far the picture is moved, right and down [px].
    soft_px
        Standard deviation of a blur beside diffraction [px].
    """
    shape = picture.shape[1], picture.shape[2]
    right, down = knock_px
    moved = shift_phase(shape, down, right)

    def drawn(channel: Field, kept: Field) -> Field:
        return np.maximum(field_of(spectrum_of(channel) * kept * moved, shape), 0)

    kept = _kept(shape, aperture, pitch_um, soft_px)
    return np.stack([drawn(channel, of_channel) for channel, of_channel in zip(picture, kept, strict=True)])


@lru_cache(maxsize=1)
def _kept(shape: tuple[int, int], aperture: float, pitch_um: float, soft_px: float) -> tuple[Field, ...]:
    """Return the contrast that red, green and blue keep at every frequency; frames that follow mostly ask the same."""
    cycles_per_px = np.hypot(*frequencies(shape))
    softened = np.exp(-2 * (np.pi * soft_px * cycles_per_px) ** 2).astype(np.float32)
    return tuple(
        diffraction_mtf(cycles_per_px / pitch_um, aperture, wavelength_um).astype(np.float32) * softened
        for wavelength_um in WAVELENGTHS_UM
    )
