"""The three dials of a body: which labels they have, and what these stand for."""

from __future__ import annotations

from tether.body.protocol import BULB, ReadBack, Settings
from tether.errors import CameraError
from tether.exposure.abilities import DIALS, Abilities, Dial
from tether.exposure.marks import some_of


class Dials:
    """The lists of marks of one body, by dial."""

    def __init__(self, abilities: Abilities) -> None:
        self._marks = {dial: {mark.label: mark for mark in abilities.marks(dial)} for dial in DIALS}
        self._bulb = bool(abilities.can_hold)

    def first(self) -> Settings:
        """Return the settings of a body fresh from its box: the first mark of each list."""
        time, aperture, iso = (next(iter(self._marks[dial])) for dial in DIALS)
        return Settings(time=time, aperture=aperture, iso=iso)

    def offers(self, dial: Dial, label: str) -> bool:
        """Return whether a dial can be set to a label."""
        return label in self._marks[dial] or (dial == "time" and label == BULB and self._bulb)

    def refusal(self, dial: Dial, label: str) -> CameraError:
        """Return the error for a label that is not taken; it names some that would be."""
        labels = [*self._marks[dial], *([BULB] if dial == "time" and self._bulb else [])]
        return CameraError(f'The simulated body refuses {dial} "{label}"; among those it takes are {some_of(labels)}.')

    def exact(self, dial: Dial, label: str) -> float:
        """Return what a label stands for. Raises CameraError where the body has no such label."""
        if label not in self._marks[dial]:
            raise self.refusal(dial, label)
        return self._marks[dial][label].exact

    def beside(self, dial: Dial, label: str) -> str:
        """Return the next label of a list, or at its end the one before; bulb has no neighbour."""
        labels = list(self._marks[dial])
        if label not in labels:
            return label
        place = labels.index(label)
        return labels[place + 1] if place + 1 < len(labels) else labels[place - 1]

    def read_back(self, shown: Settings) -> ReadBack:
        """Return labels together with what they stand for."""
        return ReadBack(
            settings=shown,
            time_s=None if shown.time == BULB else self.exact("time", shown.time),
            aperture=self.exact("aperture", shown.aperture),
            iso=self.exact("iso", shown.iso),
        )
