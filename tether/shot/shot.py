"""One frame to make, as data: what a rung, its proof or a dark frame asks of the body."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tether.body.protocol import BULB, Settings, Way
from tether.exposure.abilities import Abilities
from tether.exposure.filters import Filter
from tether.exposure.marks import Mark
from tether.journal.records import Applied, FrameKind
from tether.plan.base import base_marks
from tether.plan.file import Plan
from tether.plan.ladder import Choice, Dark, HowMade, Proof, Rung


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
    return _shot("rung", rung.number, choice, rung.fitted, choice.filter_stops)


def shot_of_proof(rung: Rung, proof: Proof, *, bare: bool = False) -> Shot:
    """Return a test exposure before a rung: through the filters that were just fitted, or without glass."""
    if bare:
        return _shot("proof", rung.number, proof)
    return _shot("proof", rung.number, proof, rung.fitted, rung.choice.filter_stops)


def shot_of_base(plan: Plan, abilities: Abilities) -> Shot | None:
    """Return the frame of the base exposure, without filters but those always on; None where the body can't time it."""
    marks = base_marks(plan, abilities)
    return timed(*marks) if marks else None


def timed(time: Mark, aperture: Mark, iso: Mark) -> Shot:
    """Return the bare frame that the body times by itself; `time` is one of its own marks."""
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


def held(time_s: float, aperture: Mark, iso: Mark) -> Shot:
    """Return the bare frame whose shutter is held open from here, so that it gathers light for `time_s`."""
    return replace(timed(Mark(label=BULB, exact=time_s), aperture, iso), way="held")


def shot_of_dark(dark: Dark) -> Shot:
    """Return a dark frame; what is on the lens does not matter under the cap."""
    shot = _shot("dark", None, dark)
    return replace(shot, time_label=BULB) if shot.way == "held" else shot


def _shot(
    kind: FrameKind,
    rung: int | None,
    of: HowMade,
    fitted: Sequence[Filter] = (),
    filter_stops: float = 0.0,
) -> Shot:
    return Shot(
        kind=kind,
        rung=rung,
        way="held" if of.way == "held" else "timed",
        time_s=of.time_s,
        time_label=of.time_label,
        aperture=of.aperture,
        iso=of.iso,
        filters=tuple(one.name for one in fitted),
        filter_stops=filter_stops,
    )
