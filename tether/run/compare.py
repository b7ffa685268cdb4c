"""Compare what was asked with what is in force, as numbers: the body's read-back, then the frame's own Exif."""

from __future__ import annotations

from tether.body.protocol import ReadBack
from tether.exposure.abilities import Abilities
from tether.exposure.labels import time_label, with_unit
from tether.exposure.marks import Mark
from tether.exposure.stops import aperture_stops, iso_stops, time_stops
from tether.files.exif import FrameExif
from tether.journal.records import Applied
from tether.plan.again import SAME_SETTING_STOPS
from tether.run.shots import Shot

#: Bodies write nominal values into Exif (30 for 32 s is 0.093 stop): less than this is no difference [stops].
EXIF_SAME_STOPS = 0.12
#: Two numbers as printed are the same within this part of them.
PRINTED_SAME = 0.002
#: A held frame's Exif time is often whole seconds (from observation of files, not tried on hardware) [s].
EXIF_HELD_SAME_S = 1.0


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


def applied_of_exif(exif: FrameExif, abilities: Abilities) -> Applied:
    """Return a frame's Exif as the journal keeps it.

    Bodies write the nominal number of an aperture or ISO (11, 125): where it is that of one of the body's marks, the
    mark's exact value is meant. A time is kept as it stands: it may be what was really open.
    """
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
    """Return in sentences what the body reads back otherwise than asked; unknown values are no difference."""
    found = []
    if shot.way == "held":
        if read.time_s is not None:
            found.append(f"the time is {with_unit(read.settings.time)}, not bulb")
    elif read.time_s is None:
        found.append(f"the time is bulb, not {with_unit(shot.time_label)}")
    elif abs(time_stops(read.time_s, shot.time_s)) > SAME_SETTING_STOPS:
        found.append(f"the time is {with_unit(read.settings.time)}, not {with_unit(shot.time_label)}")
    if read.aperture is not None and abs(aperture_stops(read.aperture, shot.aperture.exact)) > SAME_SETTING_STOPS:
        found.append(f"the aperture is {read.settings.aperture}, not {shot.aperture.label}")
    if read.iso is not None and abs(iso_stops(read.iso, shot.iso.exact)) > SAME_SETTING_STOPS:
        found.append(f"the ISO is {read.settings.iso}, not {shot.iso.label}")
    return found


def exif_differs(exif: Applied, shot: Shot, open_s: float) -> list[str]:
    """Return in sentences what a frame's Exif says otherwise than asked; what it does not say is no difference.

    Parameters
    ----------
    open_s
        How long the frame should have gathered light [s]: for a held one as it was really held.
    """
    found = []
    if exif.time_s is not None:
        off = abs(time_stops(exif.time_s, open_s))
        whole_seconds = shot.way == "held" and abs(exif.time_s - open_s) <= EXIF_HELD_SAME_S
        if off > EXIF_SAME_STOPS and not whole_seconds:
            found.append(f"it was open {with_unit(time_label(exif.time_s))}, not {with_unit(time_label(open_s))}")
    if exif.aperture is not None and abs(aperture_stops(exif.aperture, shot.aperture.exact)) > EXIF_SAME_STOPS:
        found.append(f"its aperture is f/{exif.aperture:.3g}, not {shot.aperture.label}")
    if exif.iso is not None and abs(iso_stops(exif.iso, shot.iso.exact)) > EXIF_SAME_STOPS:
        found.append(f"its ISO is {exif.iso:.0f}, not {shot.iso.label}")
    return found
