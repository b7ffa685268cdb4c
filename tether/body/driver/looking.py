"""Looking whether a body stands as a run needs it, by the looks of its body file."""

from __future__ import annotations

import contextlib
from datetime import UTC, datetime

from tether.body.driver.errors import LibraryError
from tether.body.driver.profile import Look, Profile
from tether.body.driver.reading import matches
from tether.body.driver.session import Session
from tether.body.protocol import NOT_TOLD, Finding

#: A camera's clock that is off by less than this is right [s].
CLOCK_SAME_S = 2.0
_HOUR_S = 3600.0
_QUARTER_S = 900.0


def findings(session: Session, profile: Profile) -> tuple[Finding, ...]:
    """Return what was found of everything that the body file says to look at, and of the body's clock."""
    found = [_finding(session, what, look) for what, look in profile.look.items()]
    return (*found, clock_finding(session, profile, datetime.now(UTC).timestamp()))


def set_up(session: Session, profile: Profile) -> dict[str, str]:
    """Set what the body file says to set, where the body takes it; return what was found there, by entry."""
    before: dict[str, str] = {}
    for what, look in profile.look.items():
        entry = session.first_of(look.entries) if look.set_to else None
        if entry is None:
            continue
        wanted = next((text for text in look.set_to if text in entry.choices), None)
        if matches(entry.text, look.good) or wanted is None or not entry.writable:
            continue
        before[entry.name] = entry.text
        with contextlib.suppress(LibraryError):  # what it then reads is found out by looking
            session.write(entry.name, wanted, f"set its {what}")
    return before


def _finding(session: Session, what: str, look: Look) -> Finding:
    entry = session.first_of(look.entries)
    if entry is None:
        return Finding(what=what, verdict="note", sentence=f"{NOT_TOLD} {look.remedy}")
    if matches(entry.text, look.good):
        return Finding(what=what, verdict="ok", sentence=f"It says {entry.text}.", says=entry.text)
    said = f"It says {entry.text or 'nothing'}."
    return Finding(what=what, verdict=look.otherwise, sentence=f"{said} {look.remedy}", says=entry.text)


def clock_finding(session: Session, profile: Profile, now_s: float) -> Finding:
    """Return how far the body's clock is from `now_s` (seconds since 1970, UTC); a time zone is no difference."""
    entry = session.first_of(profile.tell.clock)
    value = entry.value if entry else None
    if not isinstance(value, (int, float)) or not value:
        return Finding(what="camera's clock", verdict="note", sentence="The camera does not tell its time.")
    off_s = value - now_s
    off_s -= round(off_s / _QUARTER_S) * _QUARTER_S if abs(off_s) < 15 * _HOUR_S else 0.0
    if abs(off_s) < CLOCK_SAME_S:
        return Finding(what="camera's clock", verdict="ok", sentence="It is right, but for a time zone perhaps.")
    way = "ahead" if off_s > 0 else "behind"
    sentence = f"It is {_long(abs(off_s))} {way} of this machine's; Exif times will be off by as much."
    return Finding(what="camera's clock", verdict="note", sentence=sentence)


def _long(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 48 * _HOUR_S else f"{seconds / 86_400:.0f} days"
