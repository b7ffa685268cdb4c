"""Light and glass as a test has them: what is foretold, known and told."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import Any

from tether.light.state import LightEstimate


@dataclass
class Followed:
    """What is known of light and glass, given outright; it remembers what it was shown."""

    off_stops: float | None = 0.0
    doubt_stops: float = 0.01
    sure: bool = True
    tells: bool = True
    agreed_stops: float = inf
    at_most_stops: float = inf
    light_stops: float = 0.0
    unseen: float = 0.0
    glass: float = 0.0
    isos: tuple[float, ...] = ()
    known: bool = True
    told: tuple[str, ...] = ()
    seen: list[Any] = field(default_factory=list)

    def foretold(self, *_: object) -> LightEstimate | None:
        return None if self.off_stops is None else LightEstimate(stops=self.off_stops, doubt_stops=self.doubt_stops)

    def light(self, _at_s: float) -> LightEstimate | None:
        return LightEstimate(stops=self.light_stops, doubt_stops=self.doubt_stops)

    def unseen_stops(self, _at_s: float) -> float:
        return self.unseen

    def goes_stops_per_min(self, _at_s: float) -> float | None:
        return None

    def goes_by_sun(self, _at_s: float) -> bool:
        return False

    def glass_stops(self, _filters: object) -> float:
        return self.glass

    def known_isos(self) -> frozenset[float]:
        return frozenset(self.isos)

    def knows(self, _filters: object) -> bool:
        return self.known

    def saw(self, *shown: object) -> None:
        self.seen.append(shown)

    def news(self, *_: object) -> list[str]:
        return list(self.told)
