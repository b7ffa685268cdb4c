"""The picture that is embedded in a raw file, as the product reads it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tether.files.raw import embedded, opened


def read_preview(path: Path) -> NDArray[np.uint8]:
    """Return the embedded picture, shape (h, w, 3), sRGB, in the mosaic's orientation."""
    with opened(path) as raw:
        return embedded(raw, path)
