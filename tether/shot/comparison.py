"""Compare what was asked with what is in force, as numbers: the body's read-back, then the frame's own Exif."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tether.body.protocol import BULB, Order, ReadBack, ShutterRecord, Way
from tether.exposure.abilities import Abilities
from tether.exposure.agreement import believed_open_s, times_agree
from tether.exposure.labels import time_label, with_unit
from tether.exposure.marks import Mark
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.files.exif import FrameExif
from tether.journal.records import Applied
from tether.plan.again import SAME_SETTING_STOPS
from tether.shot.shot import Shot

#: Bodies write nominal values into Exif (30 for 32 s is 0.093 stop): less than this is no difference [stops].
EXIF_SAME_STOPS = 0.12
#: Two numbers as printed are the same within this part of them.
PRINTED_SAME = 0.002

Which = Literal["time", "aperture", "ISO"]


@dataclass(frozen=True, kw_only=True)
class Difference:
    """One thing about a frame that is not as asked: which, the value it has (None: not known), and a clause.

    `by_commands` says whether our own commands were off already, so that the body is not at fault.
    """

    which: Which
    value: float | None
    clause: str
    by_commands: bool = False


@dataclass(frozen=True, kw_only=True)
class AskedFrame:
    """What a frame is held against.

    Attributes
    ----------
    way, asked
        How it was exposed, and the settings that were sent.
    open_s
        How long it should have gathered light [s].
    commands_s
        For a held one, how long it was open as our commands tell, less the body's known delays [s]; None: not known.
    within_s
        How far its Exif time may be off for the body's own delays, where they were measured [s].
    """

    way: Way
    asked: Applied
    open_s: float
    commands_s: float | None = None
    within_s: float = 0.0


def applied_of(read: ReadBack) -> Applied:
    """Return a read-back as the journal keeps it."""
    return Applied(
        time_s=read.time_s,
        time_label=read.settings.time,
        aperture=read.aperture,
        aperture_label=read.settings.aperture,
        iso=read.iso,
        iso_label=read.settings.iso,
    )


def applied_of_exif(exif: FrameExif | None, abilities: Abilities) -> Applied:
    """Return a frame's Exif as the journal keeps it.

    Bodies write the nominal number of an aperture or ISO (11, 125): where it is that of one of the body's marks, the
    mark's exact value is meant. A time is kept as it stands: it may be what was really open. Without an Exif nothing is
    known.
    """
    if exif is None:
        return Applied()
    aperture = _meant(exif.aperture, abilities.apertures)
    iso = _meant(exif.iso, abilities.isos)
    return Applied(
        time_s=exif.time_s,
        time_label=None if exif.time_s is None else time_label(exif.time_s),
        aperture=aperture.exact if aperture else exif.aperture,
        aperture_label=aperture.label if aperture else None,
        iso=iso.exact if iso else exif.iso,
        iso_label=iso.label if iso else None,
    )


def _meant(number: float | None, marks: tuple[Mark, ...]) -> Mark | None:
    """Return the mark whose printed number this is, or None."""
    return next((mark for mark in marks if number and abs(_printed(mark) / number - 1) < PRINTED_SAME), None)


def _printed(mark: Mark) -> float:
    return float(mark.label.lower().removeprefix("f/"))


def other_values(shot: Shot, read: ReadBack) -> list[str]:
    """Return in sentences what the body reads back otherwise than asked; what it does not tell is no difference."""
    found = []
    said = read.settings
    if shot.way == "held":
        if said.time != BULB and read.time_s is not None:
            found.append(f"the time is {with_unit(said.time)}, not bulb")
    elif said.time == BULB:
        found.append(f"the time is bulb, not {with_unit(shot.time_label)}")
    elif read.time_s is not None and abs(time_stops(read.time_s, shot.time_s)) > SAME_SETTING_STOPS:
        found.append(f"the time is {with_unit(said.time)}, not {with_unit(shot.time_label)}")
    if read.aperture is not None and abs(aperture_stops(read.aperture, shot.aperture.exact)) > SAME_SETTING_STOPS:
        found.append(f"the aperture is {said.aperture}, not {shot.aperture.label}")
    if read.iso is not None and abs(iso_stops(read.iso, shot.iso.exact)) > SAME_SETTING_STOPS:
        found.append(f"the ISO is {said.iso}, not {shot.iso.label}")
    return found


def exif_differs(said: Applied, wanted: AskedFrame, rounded_s: float = 0.0) -> list[Difference]:
    """Return what a frame's Exif says otherwise than asked; what it does not say is no difference.

    The open time of a held frame that its Exif does not tell, or rounds, is believed by our commands where these are
    known; where nothing tells it, that is a difference too.

    Parameters
    ----------
    rounded_s
        How far the Exif time is rounded [s].
    """
    found = (
        _time_differs(said.time_s, wanted, rounded_s if wanted.way == "held" else 0.0),
        _aperture_differs(said.aperture, wanted.asked),
        _iso_differs(said.iso, wanted.asked),
    )
    return [one for one in found if one is not None]


def _aperture_differs(said: float | None, asked: Applied) -> Difference | None:
    if said is None or asked.aperture is None or abs(aperture_stops(said, asked.aperture)) <= EXIF_SAME_STOPS:
        return None
    return Difference(which="aperture", value=said, clause=f"its aperture is f/{said:.3g}, not {asked.aperture_label}")


def _iso_differs(said: float | None, asked: Applied) -> Difference | None:
    if said is None or asked.iso is None or abs(iso_stops(said, asked.iso)) <= EXIF_SAME_STOPS:
        return None
    return Difference(which="ISO", value=said, clause=f"its ISO is {said:.0f}, not {asked.iso_label}")


def _time_differs(said_s: float | None, wanted: AskedFrame, rounded_s: float) -> Difference | None:
    if said_s is None and wanted.way == "timed":
        return None
    open_s = believed_open_s(said_s, wanted.commands_s, rounded_s=rounded_s, within_s=wanted.within_s)
    if open_s is None:
        return Difference(which="time", value=None, clause="how long it was open is not known")
    rounding_left_s = rounded_s if open_s == said_s else 0.0  # none is where it is not the Exif's
    if times_agree(open_s, wanted.open_s, within_s=max(wanted.within_s, rounding_left_s)):
        return None
    clause = f"it was open {_in_words(open_s)}, not {_in_words(wanted.open_s)}"
    by_commands = wanted.commands_s is not None and not times_agree(wanted.commands_s, wanted.open_s)
    return Difference(which="time", value=open_s, clause=clause, by_commands=by_commands)


def _in_words(open_s: float) -> str:
    """Write an open time, which is 0 for a shutter that was closed as it opened."""
    return with_unit(time_label(open_s)) if open_s > 0 else "0 s"


def wanted_of(shot: Shot, abilities: Abilities, open_s: float, commands_s: float | None) -> AskedFrame:
    """Return what a frame's file is held against, see :class:`~tether.shot.comparison.AskedFrame`."""
    return AskedFrame(
        way=shot.way,
        asked=shot.applied,
        open_s=open_s,
        commands_s=commands_s if shot.way == "held" else None,
        within_s=delay_s(abilities),
    )


def delay_s(abilities: Abilities) -> float:
    """Return the longer of the body's delays that are known [s]; 0 where none is."""
    return max(abilities.open_delay_s or 0.0, abilities.close_delay_s or 0.0)


def by_commands_s(shot: Shot, order: Order, opening: ShutterRecord) -> float | None:
    """Return how long a held frame gathered light as our commands tell, less the body's known delays [s].

    None for a timed one, and where beginning or end is uncertain.
    """
    if shot.way == "timed" or opening.closed_by == "lost" or not opening.accepted:
        return None
    return max(opening.held_s - (order.command_s - shot.time_s), 0.0)
