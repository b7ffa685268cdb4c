"""What a trial of a body found, and what of it goes into the user's own body file."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from pathlib import Path

from tether.body.bodyfile import load_body_file
from tether.body.ownfile import Value, draft, extremes, measured, own_path, write_new
from tether.body.protocol import Finding, Identity, Offers, Settings

#: A file that comes later than this share of the time that its frame was open speaks of a dark frame of the body's own.
DARK_SHARE = 0.8
#: Only holds from here on say whether the body takes dark frames [s].
DARK_FROM_S = 10.0
#: A battery that fell by more than this in a trial tells its charge in steps: no rate follows from one.
MOST_FALL = 0.05


@dataclass(frozen=True, kw_only=True)
class FrameTried:
    """One frame that was made on trial.

    Attributes
    ----------
    way, asked_s
        "timed" or "held", and for how long [s].
    held_s, body_said_s, exif_s
        Between our commands, by the body's own count, and by the frame's Exif [s]; None where not known.
    open_call_s, close_call_s
        How long the calls took that opened the shutter (or took the frame) and closed it [s]; None where not known.
    came_s, fetch_s
        From the end of the exposure until its file was there, and for bringing it home [s].
    size_bytes, files
        Of all files of the frame together, and how many they are.
    problem
        What went wrong, in sentences; None: nothing.
    """

    way: str
    asked_s: float
    held_s: float | None = None
    body_said_s: float | None = None
    exif_s: float | None = None
    open_call_s: float | None = None
    close_call_s: float | None = None
    came_s: float | None = None
    fetch_s: float | None = None
    size_bytes: int | None = None
    files: int = 0
    problem: str | None = None

    @property
    def dark_frame(self) -> bool:
        """Whether the body seems to have taken a dark frame of its own after it."""
        long = self.way == "held" and self.asked_s >= DARK_FROM_S
        return long and self.came_s is not None and self.came_s > DARK_SHARE * self.asked_s


@dataclass(frozen=True, kw_only=True)
class OneSet:
    """One setting: what was asked, what was read back and how long it took [s], or why it was not taken."""

    asked: Settings
    read: Settings | None = None
    took_s: float | None = None
    said: str | None = None


@dataclass(frozen=True, kw_only=True)
class SetTried:
    """What became of setting values.

    Attributes
    ----------
    count, median_s
        How many settings were taken, and how long one took at the median [s].
    otherwise
        What was refused or read back as another value, in sentences.
    right
        What was read back as asked, as (dial, label).
    each
        Every setting, in the order in which it was set.
    """

    count: int
    median_s: float
    otherwise: tuple[str, ...]
    right: frozenset[tuple[str, str]]
    each: tuple[OneSet, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Trial:
    """All that a trial found; `battery` is the charge before and after, `took_s` the time between [s]."""

    identity: Identity
    looked: tuple[Finding, ...]
    offers: Offers
    settings: SetTried
    frames: tuple[FrameTried, ...]
    battery: tuple[float | None, float | None]
    took_s: float
    remarks: tuple[str, ...] = ()

    @property
    def good(self) -> bool:
        """Whether everything was as asked."""
        return not (self.settings.otherwise or any(frame.problem for frame in self.frames))

    def in_words(self, what: str) -> str | None:
        """Return what a body file is to say of it, `what` being when and with what; None if no frame was made."""
        made = sum(frame.problem is None for frame in self.frames)
        if not made or self.identity.simulated:
            return None
        asked = "all as asked" if self.good else "not all as asked, see its report"
        return f"{what}: {made} of {len(self.frames)} frames made, {asked}"

    def measured(self) -> dict[str, Value]:
        """Return what was measured, by the keys of a body file; only what is sure."""
        made = [frame for frame in self.frames if frame.problem is None]
        values: dict[str, Value] = {key: value for key, value in extremes(self.offers).items() if self._is_right(key)}
        if fetches := [frame.fetch_s for frame in made if frame.fetch_s is not None]:
            values["body.fetch_s"] = round(statistics.median(fetches), 2)
        if sizes := [frame.size_bytes for frame in made if frame.size_bytes]:
            values["body.frame_bytes"] = max(sizes)
        if any(frame.way == "held" for frame in made):
            values["hold.can_hold"] = True
        if any(frame.dark_frame for frame in made):
            values["body.dark_frame_by_body"] = True
        if (per_h := self.battery_per_h) is not None:
            values["body.battery_per_h"] = round(per_h, 3)
        return values

    def _is_right(self, key: str) -> bool:
        dial = "time" if key.startswith("times") else "iso"
        return (dial, str(extremes(self.offers)[key])) in self.settings.right

    @property
    def battery_per_h(self) -> float | None:
        """The share of a charge that an hour would use; None where the trial does not tell."""
        before, after = self.battery
        if before is None or after is None or not 0 < before - after <= MOST_FALL:
            return None
        return (before - after) * 3600.0 / self.took_s


def write_down(trial: Trial, *, own_name: str, file_name: str, model: str, day: str, library: str) -> Path:
    """Put what was measured into the user's own file of a body, and return its path.

    Parameters
    ----------
    own_name, file_name
        The file that it goes into, and the one by which the body was spoken to. Where they differ the latter is its
        family's, and the former is made new.
    model
        What the camera library calls the body.
    day, library
        When it was tried, and with what.

    Raises
    ------
    PlanError, SupplyError, LostError
        If the file can't be read as it stands, or written.
    """
    path, what = own_path(own_name), f"{day}, {library}"
    values = trial.measured()
    if tried := trial.in_words(what):
        values["tried"] = tried
    if own_name != file_name:
        write_new(path, draft(model, file_name, trial.offers, name=own_name, day=day, library=library))
    measured(path, values, what)
    load_body_file(own_name)
    return path
