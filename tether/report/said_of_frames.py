"""How long a streak the water drew, and what the light did, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tether import wording as words
from tether.journal.readings import StreakSaid

if TYPE_CHECKING:
    from tether.report.audit import Split

#: Uncertainties are shown so many standard ones wide: about 95 %.
WIDE = 2.0


def streak(said: StreakSaid | None) -> str:
    """Write the length of a streak [px]: ``42 ±3``, ``over 90``, ``under 4``."""
    match said:
        case StreakSaid(length_px=float() as length_px, uncertainty_px=uncertainty_px):
            return f"{length_px:.0f} ±{WIDE * (uncertainty_px or 0.0):.0f}"
        case StreakSaid(at_least_px=float() as at_least_px):
            return f"over {at_least_px:.0f}"
        case StreakSaid(at_most_px=float() as at_most_px):
            return f"under {at_most_px:.0f}"
    return words.NOT_KNOWN


def light_since_base(split: Split) -> str:
    """Say in a sentence what the light had done since the base when a frame was taken."""
    doubt = f"±{WIDE * split.uncertainty_stops:.2f}"
    if words.stops(split.light_stops) == "0.00":
        return f"The light was as at the base ({doubt})."
    return f"The light was {words.brighter(split.light_stops)} than at the base ({doubt})."
