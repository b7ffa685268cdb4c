"""How sharp a live picture is, as one number that grows while its focus gets better and nothing else changes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: Differences are taken over so many pixels: less of a small picture's noise and of JPEG's blocks than between
#: neighbours.
_OVER_PX = 2
#: A picture that is darker than this on average says nothing [0 to 255].
_DARK = 2.0


def sharpness_of(picture: NDArray[np.uint8]) -> float | None:
    """Return the contrast of a picture's finest detail: the root of the mean square difference, by its mean level.

    The square difference over two pixels is the measure of Brenner et al., "An automated microscope for cytologic
    research", J. Histochem. Cytochem. 24 (1976) 100; taken across and down, and by the level, so that a change of the
    light does not count. It compares pictures of the same part only: moving water and noise are in it too.

    Parameters
    ----------
    picture
        Height, width, three colours.

    Returns
    -------
    float or None
        A share of the mean level; None where the picture is dark, or too small.
    """
    grey = picture.mean(axis=2, dtype=np.float32)
    level = float(grey.mean()) if grey.size else 0.0
    if level < _DARK or min(grey.shape) <= _OVER_PX:
        return None
    across = grey[:, _OVER_PX:] - grey[:, :-_OVER_PX]
    down = grey[_OVER_PX:] - grey[:-_OVER_PX]
    return float(np.sqrt(np.square(across).mean() + np.square(down).mean())) / level
