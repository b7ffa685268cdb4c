"""A place on the earth."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A place on the earth: latitude, north positive, and longitude, east positive [degrees]."""

    latitude: float
    longitude: float
