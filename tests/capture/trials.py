"""Trials of a body that were not made, for what is told of them."""

from __future__ import annotations

from dataclasses import replace

from tether.body.protocol import Identity, Offers
from tether.capture.trial_result import SetTried, Trial

OFFERS = Offers(
    times=("1/8000", "1/60", "30"),
    apertures=("f/2.8", "f/22"),
    isos=("100", "6400"),
    held_by="bulb",
    why_not_held=None,
)


def trial_of(**changed: object) -> Trial:
    """Return a trial without frames, changed as told."""
    whole = Trial(
        identity=Identity(model="Body A", serial="SECRET-7", firmware="1.2", lens="35 mm", simulated=False),
        looked=(),
        offers=OFFERS,
        settings=SetTried(count=1, median_s=0.1, otherwise=(), right=frozenset()),
        frames=(),
        battery=(0.8, 0.79),
        took_s=360.0,
    )
    return replace(whole, **changed)  # type: ignore[arg-type]
