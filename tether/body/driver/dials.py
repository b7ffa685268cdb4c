"""The three values of an exposure on a real body: the texts of its lists, and which of our labels they stand for."""

from __future__ import annotations

from collections.abc import Sequence

from tether.body.driver.profile import DialReading, Profile
from tether.body.driver.reading import Offered, exact_of, matches, nearest_of, offered, step_of
from tether.body.driver.session import Session
from tether.body.protocol import BULB
from tether.errors import CameraError
from tether.exposure.abilities import Abilities, Dial
from tether.exposure.labels import time_label
from tether.exposure.marks import Mark, some_of

_WORDS: dict[Dial, str] = {"time": "time", "aperture": "aperture", "iso": "ISO"}


class OneDial:
    """One of them: its entry, its list, and our marks for it.

    Parameters
    ----------
    session
        The session; the entry is looked for in it.
    dial
        Which of the three.
    reading
        How its texts are to be understood.
    marks
        Our marks, by which values are named.
    """

    def __init__(self, session: Session, dial: Dial, reading: DialReading, marks: Sequence[Mark]) -> None:
        self._session = session
        self._dial = dial
        self._reading = reading
        self._marks = {mark.label: mark for mark in marks}
        self._entry: str | None = None
        self._choices: tuple[str, ...] = ()
        self._values: tuple[Offered, ...] = ()

    @property
    def entry(self) -> str | None:
        """Its entry; None where the body has none. One that could not be read for a moment is looked for again."""
        if self._entry is None and (first := self._session.first_of(self._reading.entries)):
            self._entry = first.name
        return self._entry

    def values(self) -> tuple[Offered, ...]:
        """Return the body's list as it is now. A list that says nothing but bulb is not believed."""
        if self.entry is not None:
            self._learn(self._session.read(self.entry).choices or self._reading.texts)
        return self._values

    def _learn(self, choices: tuple[str, ...]) -> None:
        if choices == self._choices:
            return
        values = offered(choices, self._dial, self._reading)
        if self._values and not any(one.exact is not None for one in values):
            return
        self._choices, self._values = choices, values

    def labels(self) -> tuple[str, ...]:
        """Return our labels of the values that the body offers now, in our order."""
        values = self.values()
        return tuple(mark.label for mark in self._marks.values() if nearest_of(values, mark.exact, self._dial))

    def bulb_text(self) -> str | None:
        """Return the text to be written for bulb, if the body offers it now."""
        bulbs = {one.text for one in self.values() if one.exact is None}
        best = next((one for way in self._reading.bulb for one in sorted(bulbs) if matches(one, (way,))), None)
        return best and (self._reading.bulb_as or best)

    def write(self, label: str) -> None:
        """Set a value by our label. One that can't be set from here is left to the person; the frame's Exif tells.

        Raises
        ------
        CameraError
            The body does not offer it.
        LibraryError
            The library could not write it.
        """
        if self.entry is None:
            return
        text = self._text_of(label)
        self._session.write(self.entry, text, f"set the {_WORDS[self._dial]} to {label}")

    def _text_of(self, label: str) -> str:
        if label == BULB and self._dial == "time":
            text = self.bulb_text()
            if text is None:
                raise CameraError("The camera does not offer bulb with its dial where it is: turn it to M, or to B.")
            return text
        mark = self._marks.get(label)
        value = None if mark is None else nearest_of(self.values(), mark.exact, self._dial)
        if value is None:
            raise CameraError(
                f"The camera does not offer {_WORDS[self._dial]} {label} with its present settings; {self._some()}."
            )
        return value.text

    def _some(self) -> str:
        labels = self.labels()
        if not labels:
            return "it offers nothing to set; look at its dial (M)"
        return f"among those it offers are {some_of(labels)}"

    def read(self) -> tuple[str, float | None]:
        """Return our label for what the body says is in force, and its exact number (None: bulb, or not told)."""
        if self.entry is None:
            return "", None
        now = self._session.read(self.entry)
        self._learn(now.choices or self._reading.texts)
        if self._dial == "time" and matches(now.text, self._reading.bulb):
            return BULB, None
        exact = next((one.exact for one in self._values if one.text == now.text), None)
        if exact is None:
            step = step_of(self._choices, self._dial, self._reading)
            exact = exact_of(now.text, self._dial, self._reading, step)
        return (now.text, None) if exact is None else self._named(exact)

    def _named(self, exact: float) -> tuple[str, float]:
        marks = [Offered(text=mark.label, exact=mark.exact) for mark in self._marks.values()]
        mark = nearest_of(marks, exact, self._dial)
        if mark is not None and mark.exact is not None:
            return mark.text, mark.exact
        return (time_label(exact) if self._dial == "time" else f"{exact:g}"), exact


def dials_of(session: Session, profile: Profile, abilities: Abilities) -> dict[Dial, OneDial]:
    """Return the three dials of a body in a session."""
    return {
        "time": OneDial(session, "time", profile.time, abilities.times),
        "aperture": OneDial(session, "aperture", profile.aperture, abilities.apertures),
        "iso": OneDial(session, "iso", profile.iso, abilities.isos),
    }
