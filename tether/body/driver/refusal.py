"""Why a body does not release: what it says of itself, looked at in the order of what is most often the cause."""

from __future__ import annotations

import contextlib

from tether.body.driver.errors import LibraryError
from tether.body.driver.profile import Profile
from tether.body.driver.reading import matches
from tether.body.driver.session import Session
from tether.body.protocol import LEAST_BATTERY
from tether.errors import BusyError, CameraError, SupplyError, TetherError

#: The look that is taken at a mode dial, by its name in body files; it goes before other looks.
_DIAL = "mode dial"


def battery_of(text: str, profile: Profile) -> tuple[float | None, bool | None]:
    """Read what a body says of its battery: its charge 0..1, and whether it is low by a word; None: it does not say.

    ``85%`` is a charge and ``Low`` a word; a word that the body file does not know says nothing.
    """
    plain = text.strip().removesuffix("%").strip()
    if plain.isdecimal() and int(plain) <= 100:
        return int(plain) / 100, None
    return None, matches(text, profile.tell.battery_low) or None


def count_of(text: str) -> int | None:
    """Read a number of frames; None where the text is none."""
    return int(text) if text.strip().isdecimal() else None


def why_refused(session: Session, profile: Profile, doing: str) -> TetherError | None:
    """Return why a body that is not busy did not release, as far as it says: battery, card, buffer, how it stands.

    None where it does not say.

    Parameters
    ----------
    doing
        What it was to do, as a sentence of an error has it.
    """
    did_not = f"The camera could not {doing}:"
    for looks in (_battery, _card, _buffer, _standing):
        with contextlib.suppress(LibraryError):
            if found := looks(session, profile, did_not):
                return found
    return None


def _battery(session: Session, profile: Profile, did_not: str) -> TetherError | None:
    text = session.told(profile.tell.battery)
    charge, low = battery_of(text, profile)
    if not low and (charge is None or charge >= LEAST_BATTERY):
        return None
    return SupplyError(f"{did_not} its battery is low (it says {text}). Change the battery.")


def _card(session: Session, profile: Profile, did_not: str) -> TetherError | None:
    stores = session.stores()
    if stores is not None and not stores:
        return SupplyError(f"{did_not} there is no card in it. Put in a card.")
    if stores and all(store.read_only for store in stores):
        return SupplyError(f"{did_not} its card is write protected. Slide the card's lock back, or change the card.")
    full = bool(stores) and all(store.free_bytes == 0 for store in stores or ())
    if full or count_of(session.told(profile.tell.frames_left)) == 0:
        return SupplyError(f"{did_not} its card is full. Change or clear the card.")
    return None


def _buffer(session: Session, profile: Profile, did_not: str) -> TetherError | None:
    if count_of(session.told(profile.tell.buffer_left)) == 0:
        return BusyError(f"{did_not} it still has to write earlier frames to its card. Wait and try again.")
    return None


def _standing(session: Session, profile: Profile, did_not: str) -> TetherError | None:
    """Look at how it stands, its dial first."""
    for what, look in sorted(profile.look.items(), key=lambda named: named[0] != _DIAL):
        text = session.told(look.entries)
        if look.otherwise == "stop" and text and not matches(text, look.good):
            return CameraError(f"{did_not} its {what} stands on {text}. {look.remedy}")
    return None
