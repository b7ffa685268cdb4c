"""A session without a library behind it: entries that are set as told, events as told, commands noted and failing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

from tether.body.driver.errors import BAD_PARAMETERS, LibraryError
from tether.body.driver.sending import Sendings
from tether.body.driver.session import ConfigEntry, LibraryEvent, Session, Store


@dataclass
class FakeSession(Session):
    """A session whose entries and events are given.

    `fails` are errors by what is written, one for each time; `written` is everything written, as (entry, value);
    `cards` are those that are in it, None where it does not tell.
    """

    entries: dict[str, ConfigEntry] = field(default_factory=dict)
    events: list[LibraryEvent] = field(default_factory=list)
    card: list[tuple[str, str]] = field(default_factory=list)
    fails: dict[tuple[str, str | int], list[LibraryError]] = field(default_factory=dict)
    written: list[tuple[str, str | int]] = field(default_factory=list)
    cards: list[Store] | None = None

    def names(self) -> frozenset[str]:
        return frozenset(self.entries)

    def read(self, name: str) -> ConfigEntry:
        if name not in self.entries:
            raise LibraryError(BAD_PARAMETERS, f"tell its {name}", "")
        return replace(self.entries[name], name=name)

    def prepared(self, name: str, value: str | int, doing: str) -> Callable[[], None]:
        self.read(name)

        def write() -> None:
            self.written.append((name, value))
            if left := self.fails.get((name, value)):
                raise left.pop(0)
            self.entries[name] = replace(self.entries[name], value=value)

        return write

    def listen(self, slice_s: float) -> LibraryEvent:
        return self.events.pop(0) if self.events else LibraryEvent(kind="nothing")

    def preview(self, into: Path) -> int:
        self.written.append(("picture", ""))
        return into.write_bytes(b"x")

    def files(self, folder: str = "/") -> list[tuple[str, str]]:
        return list(self.card)

    def stores(self) -> list[Store] | None:
        return self.cards

    def size(self, folder: str, name: str) -> int:
        return 1000

    def fetch(self, folder: str, name: str, into: Path) -> int:
        return into.write_bytes(b"x" * 1000)

    def end(self) -> None:
        pass


def listed(value: str, *choices: str, writable: bool = True) -> ConfigEntry:
    """Return an entry with a list of choices."""
    return ConfigEntry(value=value, choices=choices or (value,), writable=writable)


SWITCH = ConfigEntry(value=2, choices=(), writable=True)


def failure(code: int, said: str = "") -> LibraryError:
    """Return an error of the library."""
    return LibraryError(code, "close its shutter", said)


@dataclass
class HeardSendings(Sendings):
    """When operations were sent, as given; nothing unless told."""

    heard: dict[int, int] = field(default_factory=dict)
    listening: bool = False

    def listen(self) -> None:
        self.listening = True

    def stop(self) -> None:
        self.listening = False

    def sent_ns(self, operations: Iterable[int]) -> int | None:
        return max((self.heard[one] for one in operations if one in self.heard), default=None)
