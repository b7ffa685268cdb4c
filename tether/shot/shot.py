"""One frame to make, as data: what a rung, its proof or a dark frame asks of the body."""

from __future__ import annotations

from dataclasses import dataclass

from tether.body.protocol import BULB, Settings, Way
from tether.exposure.abilities import Abilities
from tether.exposure.marks import Mark
from tether.journal.records import Applied, FrameKind
from tether.plan.base import base_marks
from tether.plan.file import Plan
from tether.plan.ladder import Choice, Dark, Proof, Rung


@dataclass(frozen=True, kw_only=True)
class Shot:
    """One frame to make. `time_s` is the exact time the frame is to gather light."""

    kind: FrameKind
    rung: int | None
    way: Way
    time_s: float
    time_label: str
    aperture: Mark
    iso: Mark
    filters: tuple[str, ...]
    filter_stops: float

    @property
    def settings(self) -> Settings:
        """What the body is sent."""
        return Settings(time=self.time_label, aperture=self.aperture.label, iso=self.iso.label)

    @property
    def applied(self) -> Applied:
        """The same as exact numbers with their labels, for the journal."""
        return Applied(
            time_s=self.time_s,
            time_label=self.time_label,
            aperture=self.aperture.exact,
            aperture_label=self.aperture.label,
            iso=self.iso.exact,
            iso_label=self.iso.label,
        )

    def between_commands_s(self, abilities: Abilities) -> float:
        """Return the time between open and close commands that leaves the shutter open for `time_s`.

        The body's own delays, where its file knows them, are taken into account.
        """
        if self.way == "timed" or abilities.open_delay_s is None or abilities.close_delay_s is None:
            return self.time_s
        return self.time_s + abilities.open_delay_s - abilities.close_delay_s


def shot_of_rung(rung: Rung, choice: Choice) -> Shot:
    """Return the frame of a rung made by a choice (the planned one, or one solved again)."""
    return Shot(
        kind="rung",
        rung=rung.number,
        way="held" if choice.way == "held" else "timed",
        time_s=choice.time_s,
        time_label=choice.time_label,
        aperture=choice.aperture,
        iso=choice.iso,
        filters=tuple(one.name for one in rung.fitted),
        filter_stops=choice.filter_stops,
    )


def shot_of_proof(rung: Rung, proof: Proof, *, bare: bool = False) -> Shot:
    """Return a test exposure before a rung: through the filters that were just fitted, or without glass."""
    return Shot(
        kind="proof",
        rung=rung.number,
        way="held" if proof.way == "held" else "timed",
        time_s=proof.time_s,
        time_label=proof.time_label,
        aperture=proof.aperture,
        iso=proof.iso,
        filters=() if bare else tuple(one.name for one in rung.fitted),
        filter_stops=0.0 if bare else rung.choice.filter_stops,
    )


def shot_of_base(plan: Plan, abilities: Abilities) -> Shot | None:
    """Return the frame of the base exposure, without filters but those always on; None where the body can't time it."""
    marks = base_marks(plan, abilities)
    if marks is None:
        return None
    time, aperture, iso = marks
    return Shot(
        kind="base",
        rung=None,
        way="timed",
        time_s=time.exact,
        time_label=time.label,
        aperture=aperture,
        iso=iso,
        filters=(),
        filter_stops=0.0,
    )


def shot_of_dark(dark: Dark) -> Shot:
    """Return a dark frame; what is on the lens does not matter under the cap."""
    return Shot(
        kind="dark",
        rung=None,
        way="held" if dark.way == "held" else "timed",
        time_s=dark.time_s,
        time_label=BULB if dark.way == "held" else dark.time_label,
        aperture=dark.aperture,
        iso=dark.iso,
        filters=(),
        filter_stops=0.0,
    )
