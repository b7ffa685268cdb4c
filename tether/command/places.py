"""Places on the earth as a person writes them: ``64.1,-21.9``."""

from __future__ import annotations

import re

from tether.errors import PlanError
from tether.light.spot import Spot

#: How a place is written.
FORM = "latitude,longitude in degrees, such as 64.1,-21.9 (south and west are negative)"
_PLACE = re.compile(r"\s*([+-]?\d{1,3}(?:\.\d+)?)\s*,\s*([+-]?\d{1,3}(?:\.\d+)?)\s*", re.ASCII)


def read_place(text: str) -> Spot | None:
    """Read a place; None where the text is not one. Raises PlanError where it is not on the earth."""
    match = _PLACE.fullmatch(text)
    if match is None:
        return None
    latitude, longitude = map(float, match.groups())
    if abs(latitude) > 90 or abs(longitude) > 180:
        raise PlanError(f"{text}: latitude goes from -90 to 90 degrees and longitude from -180 to 180, in this order.")
    return Spot(latitude=latitude, longitude=longitude)
