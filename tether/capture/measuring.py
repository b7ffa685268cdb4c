"""Measuring by light with a camera in hand: filters in front of it, and how long its shutter is really open."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from math import log2
from pathlib import Path

import numpy as np
import tomlkit

from tether.body.bodyfile import BodyFile
from tether.body.ownfile import Value, changed_toml
from tether.body.protocol import Fitted, SceneChange
from tether.capture.session import CapturedFrame, CaptureSession
from tether.clock import to_ns, to_s
from tether.errors import PlanError
from tether.exposure.abilities import Abilities
from tether.exposure.filters import Filter
from tether.exposure.labels import with_unit
from tether.exposure.marks import Mark, nearest
from tether.files.raw import read_raw
from tether.frames.cells import Cells, cells
from tether.frames.levels import levels
from tether.frames.opening import Lamplit, ShutterTiming, flickers, opening
from tether.frames.strength import TIME_OFF_STOPS, Strength, StrengthFrame, strength, weaker_when_longer
from tether.frames.wandering import Interval
from tether.plan.measured import MeasuredFilter
from tether.shot.shot import Shot as Asked
from tether.shot.shot import held, timed

#: Frames of a stretch without and with a filter, and at least so far from one to the next [s]: light that wanders is
#: averaged by the time it is watched, not by the number of frames (from simulation, `tests.bench.filter_strength`).
WITHOUT, WITH, APART_S = 16, 6, 4.0
#: The filter is put on again, so often at most, until half the interval is no wider than this [stops].
MOST_ROUNDS, NARROW_STOPS = 4, 0.02
#: How far below clipping the brightest thousandth of the picture is brought [stops].
HEADROOM_STOPS = 1.5
#: So often at most the exposure is tried anew before it is right to half a stop.
_TRIES, _RIGHT_STOPS = 5, 0.5
#: Timed marks beside a hold that is measured [stops from it]; short frames that tell a flickering lamp [s].
_BESIDE_STOPS = (-2 / 3, -1 / 3, 0.0, 1 / 3)
_SHORT_S, _SHORT_FRAMES, _SHORT_ISO = 1 / 60, 8, 3200.0

Say = Callable[[str], None]


@dataclass(frozen=True, kw_only=True)
class FilterMeasured:
    """What came of measuring a filter or a stack: which, and its strength.

    `longer` is its strength in frames four times as long at a narrower aperture; None: that was not looked at.
    """

    filters: tuple[Filter, ...]
    strength: Strength
    longer: Strength | None = None

    @property
    def weaker_when_longer(self) -> Interval | None:
        """By how much weaker it seems in longer frames, where that is beyond doubt [stops]; None: it is not."""
        weaker = None if self.longer is None else weaker_when_longer(self.strength, self.longer)
        return weaker if weaker is not None and weaker.significant and weaker.value > 0 else None

    @property
    def name(self) -> str:
        """The filters' names, nearest the lens first."""
        return " + ".join(one.name for one in self.filters)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is to be known before it is believed, as sentences."""
        found = self.strength
        said = []
        if found.leak_stops is not None:
            said.append(
                f"Light comes in that does not pass the lens, and makes {self.name} seem {found.leak_stops.value:.2f} ±"
                f" {found.leak_stops.half_width:.2f} stop weaker than it is: cover the viewfinder, look where the"
                " filter lets light in behind it, and measure again."
            )
        if (weaker := self.weaker_when_longer) is not None:
            said.append(
                f"{self.name} seems {weaker.value:.2f} ± {weaker.half_width:.2f} stop weaker where the same exposure is"
                " four times as long: light comes in that does not pass the lens. Cover the viewfinder, look at the"
                " holder, and measure again."
            )
        if found.stops["G"].half_width > NARROW_STOPS:
            said.append(
                f"The light wandered too much for ± {NARROW_STOPS:g} stop: measure again under an even sky, or indoors."
            )
        if found.moved:
            said.append("The picture moved between the frames; what moved was left out as far as could be seen.")
        return tuple(said)

    @property
    def good(self) -> bool:
        """Whether it may be stored: a strength with a leak in it holds for one time only."""
        return self.strength.leak_stops is None and self.weaker_when_longer is None


class Measuring:
    """Takes the frames of a measurement.

    Parameters
    ----------
    session
        The camera.
    aperture, iso
        With which all frames are taken.
    start_s
        The time that is tried first [s].
    always_on
        Filters that stay on the lens.
    say
        Called with a sentence for each step.
    """

    def __init__(
        self, session: CaptureSession, aperture: Mark, iso: Mark, start_s: float, always_on: Sequence[Filter], say: Say
    ) -> None:
        self._session = session
        self._aperture = aperture
        self._iso = iso
        self._time_s = start_s
        self._always_on = tuple(always_on)
        self._say = say

    def filter(self, filters: tuple[Filter, ...]) -> FilterMeasured:
        """Measure a filter, or several together, which the person puts on and takes off.

        Raises
        ------
        PlanError
            The body has no time long enough, or the picture no cell that can be measured by.
        TetherError
            A frame was not made or did not come.
        """
        self._fit(())
        self._meter()
        shots = self._stretch((), WITHOUT)
        for rounds in range(1, MOST_ROUNDS + 1):
            self._fit(filters)
            shots += self._stretch(filters, WITH)
            self._fit(())
            shots += self._stretch((), WITHOUT)
            found = self._found(shots)
            half_width = found.stops["G"].half_width
            if half_width <= NARROW_STOPS or rounds == MOST_ROUNDS:
                break
            self._say(f"± {half_width:.3f} stop so far, for the light wanders: once more.")
        return FilterMeasured(filters=filters, strength=found)

    def _found(self, shots: Sequence[StrengthFrame]) -> Strength:
        unsure_s = self._session.abilities.delay_uncertainty_s or 0.0
        marks = {mark.exact for mark in self._session.abilities.times}
        holds = [unsure_s / shot.open_s / math.log(2) for shot in shots if shot.open_s not in marks]
        try:
            return strength(shots, off_stops=math.hypot(TIME_OFF_STOPS, max(holds, default=0.0)))
        except ValueError as error:
            raise PlanError(f"It can't be measured by these frames: {error}.") from error

    def _fit(self, filters: tuple[Filter, ...]) -> None:
        """Have these filters on the lens beside those that always are."""
        fitted = tuple(Fitted(name=one.name, stops=one.nominal_stops) for one in (*self._always_on, *filters))
        names = " and ".join(one.name for one in filters)
        what = f"Put {names} on the lens, and touch nothing else" if filters else "Have no filter to be measured on"
        self._session.turn(f"{what}.", SceneChange(fitted=fitted))
        if self._session.simulated:
            clock = self._session.clock
            clock.wait_until(clock.now_ns() + to_ns(max((one.swap_s for one in filters), default=5.0)))

    def _meter(self) -> None:
        """Find the time that brings the brightest thousandth to its place below clipping."""
        for _ in range(_TRIES):
            before_s = self._mark(()).exact
            self._shot((), self._mark(()))
            if abs(log2(self._time_s / before_s)) <= _RIGHT_STOPS:
                return

    def _mark(self, filters: tuple[Filter, ...]) -> Mark:
        """Return the time for a stretch: the body's nearest, or where its list ends a held one."""
        wanted_s = self._time_s * 2.0 ** sum(one.stops for one in filters)
        times = self._session.abilities.times
        if wanted_s <= times[-1].exact * 2.0 ** (1 / 2):
            return nearest(times, wanted_s)
        return Mark(label="", exact=wanted_s)

    def _stretch(self, filters: tuple[Filter, ...], count: int) -> list[StrengthFrame]:
        mark = self._mark(filters)
        what = f"with {' + '.join(one.name for one in filters)}" if filters else "without"
        self._say(f"{count} frames {what}, {with_unit(mark.label) if mark.label else f'{mark.exact:.0f} s bulb'} …")
        shots = []
        for _ in range(count):
            began_ns = self._session.clock.now_ns()
            shots.append(self._shot(filters, mark))
            self._session.clock.wait_until(began_ns + to_ns(APART_S))
        return shots

    def _shot(self, filters: tuple[Filter, ...], mark: Mark) -> StrengthFrame:
        asked = timed(mark, self._aperture, self._iso) if mark.label else held(mark.exact, self._aperture, self._iso)
        frame, seen, headroom_stops = taken(self._session, asked)
        if not filters:
            # Burnt out: nobody knows by how much.
            self._time_s = frame.open_s * 2.0 ** ((-1.5 if headroom_stops is None else headroom_stops) - HEADROOM_STOPS)
        return StrengthFrame(
            cells=seen,
            filtered=bool(filters),
            exposure_stops=log2(frame.open_s) - 2 * log2(self._aperture.exact),
            at_s=to_s(frame.middle_ns),
            open_s=frame.open_s,
        )


def narrower(abilities: Abilities, aperture: Mark) -> Mark:
    """Return the mark two stops narrower. Raises PlanError where the lens does not go at least one stop further."""
    mark = nearest(abilities.apertures, 2 * aperture.exact)
    if mark.exact < math.sqrt(2) * 0.98 * aperture.exact:
        raise PlanError(f"--longer: the lens does not go a stop beyond {aperture.label}; begin at a wider aperture.")
    return mark


def taken(session: CaptureSession, asked: Asked) -> tuple[CapturedFrame, Cells, float | None]:
    """Take a frame; return it with its cells and its headroom [stops], and let its file go."""
    frame = session.shoot(asked)
    try:
        raw = read_raw(frame.path)
    finally:
        frame.path.unlink(missing_ok=True)
    headroom_stops = levels(raw).headroom_stops
    return frame, cells(raw), None if headroom_stops is None else min(headroom_stops, 10.0)


def store_filters(path: Path, found: Iterable[MeasuredFilter]) -> None:
    """Put measured filters into the user's file, in the place of those of the same name and kind of body.

    Raises PlanError, SupplyError, LostError where the file can't be read or written.
    """
    with changed_toml(path) as document:
        tables = document.setdefault("filter", tomlkit.aot())
        for one in found:
            for place in reversed(range(len(tables))):
                if (tables[place].get("name"), tables[place].get("simulated", False)) == (one.name, one.simulated):
                    del tables[place]
            tables.append(tomlkit.item(one.model_dump(exclude_defaults=True)))


def as_stored(found: FilterMeasured, day: date, *, with_body: str, simulated: bool) -> MeasuredFilter:
    """Return what is stored of a single filter."""
    green = found.strength.stops["G"]
    return MeasuredFilter(
        name=found.name,
        stops=round(green.value, 3),
        uncertainty_stops=round(green.half_width, 3),
        cast_stops={channel: round(one.value, 3) for channel, one in found.strength.cast_stops.items()},  # type: ignore[misc]
        measured_on=day,
        with_body=with_body,
        simulated=simulated,
    )


# The shutter


@dataclass(frozen=True, kw_only=True)
class HoldMeasured:
    """What came of measuring the shutter; `flickers`: whether the lamp does, None where that was not looked at."""

    opening: ShutterTiming
    flickers: bool | None


def measure_hold(session: CaptureSession, times_s: Sequence[float], repeats: int, say: Say) -> HoldMeasured:
    """Measure the shutter with the lens wide open on a steady lamp: each time held so often, timed frames between.

    Raises
    ------
    PlanError
        The lamp is too bright or too dim, or the body offers too few times.
    TetherError
        A frame was not made or did not come.
    """
    abilities, offers = session.abilities, session.seen.offers
    aperture = next((mark for mark in abilities.apertures if mark.label in offers.apertures), abilities.apertures[0])
    iso = _iso_for(session, aperture, max(times_s))
    marks = _marks_beside(abilities, times_s)
    frames: list[Lamplit] = []
    turns = len(times_s) * repeats
    say(
        f"{turns} bulb exposures, with {turns + 1} timed ones between them: {', '.join(mark.label for mark in marks)} …"
    )
    for turn in range(turns + 1):
        frames.append(_lit(session, timed(marks[turn % len(marks)], aperture, iso)))
        if turn < turns:
            frames.append(_lit(session, held(times_s[turn % len(times_s)], aperture, iso)))
    try:
        return HoldMeasured(opening=opening(frames), flickers=_flickers(session, aperture, say))
    except ValueError as error:
        raise PlanError(f"It can't be measured by these frames: {error}.") from error


def _marks_beside(abilities: Abilities, times_s: Sequence[float]) -> list[Mark]:
    """Return timed marks around the times that are held, no shorter than half a second: curtains take their time."""
    near = {nearest(abilities.times, time_s * 2.0**stops) for time_s in times_s for stops in _BESIDE_STOPS}
    return sorted((mark for mark in near if mark.exact >= 0.5), key=lambda mark: mark.exact)


def _iso_for(session: CaptureSession, aperture: Mark, longest_s: float) -> Mark:
    """Return the lowest ISO that is not extended and leaves the longest frame bright enough."""
    isos = [mark for mark in session.abilities.isos if mark.exact >= session.abilities.base_iso * 0.99]
    mark = nearest(session.abilities.times, longest_s)
    iso, best = isos[0], HEADROOM_STOPS
    for _ in range(2):
        _, _, headroom_stops = taken(session, timed(mark, aperture, iso))
        if headroom_stops is None or headroom_stops < 0.5:
            raise PlanError(
                f"The lamp is too bright for {with_unit(mark.label)} at {aperture.label}: dim it, or go away."
            )
        if headroom_stops <= best + 2:
            return iso
        iso = nearest(isos, iso.exact * 2.0 ** (headroom_stops - best))
    return iso


def _lit(session: CaptureSession, asked: Asked) -> Lamplit:
    frame, seen, _ = taken(session, asked)
    return Lamplit(
        cells=seen,
        mark=asked.time_label if asked.way == "timed" else None,
        time_s=asked.time_s if frame.held_s is None else frame.held_s,
        at_s=to_s(frame.middle_ns),
    )


def _flickers(session: CaptureSession, aperture: Mark, say: Say) -> bool | None:
    """Look at short frames; None where they come out too dark to tell."""
    mark, iso = nearest(session.abilities.times, _SHORT_S), nearest(session.abilities.isos, _SHORT_ISO)
    say(f"{_SHORT_FRAMES} short frames, to see whether the lamp flickers …")
    try:
        return flickers([_lit(session, timed(mark, aperture, iso)) for _ in range(_SHORT_FRAMES)])
    except ValueError:
        return None


def hold_values(found: ShutterTiming, file: BodyFile) -> dict[str, Value]:
    """Return what goes into a body file: light tells only by how much later the closing comes than the opening."""
    delay_s = found.delay_s.value
    unsure_s = float(np.hypot(2 * found.spread_s, found.delay_s.half_width))
    values: dict[str, Value] = {
        "hold.open_delay_s": round(max(-delay_s, 0.0), 4),
        "hold.close_delay_s": round(max(delay_s, 0.0), 4),
        "hold.delay_uncertainty_s": round(unsure_s, 4),
    }
    if found.lying:
        lying = {one.label: round(one.gives_s.value, 3) for one in found.lying}
        values["times.means_s"] = {**file.times.means_s, **lying}
    return values
