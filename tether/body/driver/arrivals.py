"""Frames that arrive: events gathered into frames of one or two files, and the card listed where the body is mute."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import PurePosixPath

from tether.body.driver.errors import LibraryError
from tether.body.driver.profile import Profile
from tether.body.driver.session import LibraryEvent, Session
from tether.body.protocol import CardFile
from tether.clock import Clock, to_ns, to_s

_NUMBER = re.compile(r"(\d+)\D*$")
_COUNT = re.compile(r"(\d+(?:\.\d+)?)\s*$")
_JPEG = (".jpg", ".jpeg")
#: A listening that came back sooner than asked is not repeated before this long [s].
_PAUSE_S = 0.005


def frames_of(places: Sequence[tuple[str, str]]) -> list[list[tuple[str, str]]]:
    """Gather files (folder, name) into frames: those with one stem in one folder, the JPEG last."""
    frames: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for folder, name in places:
        frames.setdefault((folder, PurePosixPath(name).stem), []).append((folder, name))
    return [sorted(files, key=lambda place: place[1].lower().endswith(_JPEG)) for files in frames.values()]


def number_of(name: str) -> int | None:
    """Return the body's own running number in a file's name."""
    found = _NUMBER.search(PurePosixPath(name).stem)
    return int(found[1]) if found else None


class Arrivals:
    """What has arrived on the card and was not handed out yet, over all sessions: one that is gone may have told of it.

    Parameters
    ----------
    profile, clock
        The body's profile, and the clock by which is waited.
    """

    def __init__(self, profile: Profile, clock: Clock) -> None:
        self._profile = profile
        self._clock = clock
        self._known: set[tuple[str, str]] = set()
        self._must_list = False
        self._waiting: list[tuple[str, str]] = []
        self._last_ns = clock.now_ns()
        self.each = 1
        self.open_s: float | None = None

    def use(self, session: Session) -> None:
        """Hear through this session from now on. After another one, files may have come that no event tells of."""
        self._session = session
        self._must_list = bool(self._known)
        self.open_s = None

    def listen(self, slice_s: float) -> bool:
        """Take one event in; False if there was none. Raises LibraryError."""
        began_ns = self._clock.now_ns()
        event = self._session.listen(slice_s)
        self._take(event)
        if event.kind == "nothing":
            short_s = min(slice_s, _PAUSE_S) - to_s(self._clock.now_ns() - began_ns)
            if short_s > 0:
                self._clock.wait_until(self._clock.now_ns() + to_ns(short_s))
        return event.kind != "nothing"

    def _take(self, event: LibraryEvent) -> None:
        tells_open = self._profile.events.tells_open
        if event.kind == "file":
            self._add((event.folder, event.name))
        elif event.kind == "text" and tells_open and event.text.startswith(tells_open):
            count = _COUNT.search(event.text)
            self.open_s = float(count[1]) if count else self.open_s

    def _add(self, place: tuple[str, str]) -> None:
        if place not in self._known:
            self._known.add(place)
            self._waiting.append(place)
            self._last_ns = self._clock.now_ns()

    def drain(self, most_s: float) -> None:
        """Take in what there is, until the body has nothing more to tell or `most_s` have passed."""
        until_ns = self._clock.now_ns() + to_ns(most_s)
        while self._clock.now_ns() < until_ns and self.listen(self._profile.events.slice_s):
            pass

    def wait(self, expected: int, until_ns: int) -> None:
        """Take events in until so many frames are whole, or the moment has come."""
        while self.whole() < expected and self._clock.now_ns() < until_ns:
            self.listen(self._profile.events.slice_s)

    def whole(self) -> int:
        """Return how many of the frames that wait are whole: all files there, or quiet for long enough."""
        return len(self._whole())

    def _whole(self) -> list[list[tuple[str, str]]]:
        quiet = self._clock.now_ns() - self._last_ns >= to_ns(self._profile.frames.quiet_s)
        return [files for files in frames_of(self._waiting) if quiet or len(files) >= self.each]

    def gather(self, expected: int, allow_s: float) -> None:
        """Wait until `expected` frames are whole, or `allow_s` has passed; the card is listed where events lack."""
        until_ns = self._clock.now_ns() + to_ns(allow_s)
        if self._must_list or not self._profile.frames.announced:
            self.look_at_card()
        if not expected:
            self.drain(allow_s)
        self.wait(expected, until_ns)
        if self.whole() < expected:
            self.look_at_card()

    def hand_out(self) -> tuple[CardFile, ...]:
        """Return the frames that are whole; they wait on where that fails."""
        whole = self._whole()
        handed_out = tuple(self._card_file(files) for files in whole)
        self._waiting = [place for place in self._waiting if all(place not in files for files in whole)]
        return handed_out

    def look_at_card(self) -> None:
        """List the card and add what no event told of."""
        for place in self._session.files():
            self._add(place)
        self._must_list = False

    def on_card(self) -> tuple[CardFile, ...]:
        """Return every frame on the card, in the card's order; their sizes are not asked. None arrives later."""
        places = self._session.files()
        self._known.update(places)
        return tuple(_card_file(files, {}) for files in frames_of(places))

    def _card_file(self, files: list[tuple[str, str]]) -> CardFile:
        sizes: dict[tuple[str, str], int] = {}
        for place in files:
            try:
                sizes[place] = self._session.size(*place)
            except LibraryError as error:
                if error.gone:
                    raise
        return _card_file(files, sizes)


def _card_file(files: list[tuple[str, str]], sizes: dict[tuple[str, str], int]) -> CardFile:
    first, *others = (
        CardFile(folder=folder, name=name, number=number_of(name), size=sizes.get((folder, name)))
        for folder, name in files
    )
    return CardFile(folder=first.folder, name=first.name, number=first.number, size=first.size, beside=tuple(others))
