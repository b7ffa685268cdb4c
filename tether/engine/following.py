"""Follow the light: take in what frames say of light and glass, and say what the frames to come will be off by.

The numbers are :mod:`tether.light.state`'s; here is what acts on a frame, when it was open, and what people are told.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from math import hypot, inf
from typing import TYPE_CHECKING

from tether import wording as words
from tether.exposure.filters import Filter
from tether.journal.readings import RockSaid
from tether.light.acting import Acting, Term, glass_terms, terms_of
from tether.plan.file import Plan
from tether.plan.light_ahead import light_at_base

if TYPE_CHECKING:
    from tether.light.state import LightEstimate, LightSeen, LightState

#: How far a time may be off what it says, one standard deviation: half a percent, own choice, no source [stops].
TIME_DOUBT_STOPS = 0.007
#: From this much on it is news that a filter is not what it says, and that the light has changed since it was told.
GLASS_NEWS_STOPS, LIGHT_NEWS_STOPS = 1 / 6, 1 / 3
#: A filter that is off by so much is another one; it is that one where it comes so near to it [stops].
ANOTHER_STOPS, NEAR_STOPS = 1.2, 0.7
#: The person is asked once a correction passes this since the base [stops].
ASKED_FROM_STOPS = 2 / 3
#: The light's rate is told from so many frames on, where it is known so well, one standard deviation [stops/min].
LEAST_SEEN, RATE_DOUBT_STOPS_PER_MIN = 2, 0.05
#: A frame tells the rate for so long; from then on it is the sun's course, where that is known (own choice) [s].
TELLS_FOR_S = 600.0
#: A thing in front of the lens that was changed may have changed the level by so much [stops].
CHANGED_STOPS = 2.0


@dataclass
class Following:
    """What is known of light and glass in a run.

    `sure` says whether the regions that levels are read from were confirmed or given; else nothing is corrected.
    `agreed_stops` is how far a correction goes before the person is asked, `at_most_stops` how far they let it go.
    `stacks` and `isos` are those that a frame has told of, with when it opened. Moments are of the run's clock [s].
    """

    sure: bool = False
    state: LightState | None = None
    base: Acting | None = None
    filters: dict[str, Filter] = field(default_factory=dict)
    begun: LightState | None = None
    seen: list[LightSeen] = field(default_factory=list)
    stacks: dict[frozenset[str], float] = field(default_factory=dict)
    isos: dict[float, float] = field(default_factory=dict)
    told_glass: dict[str, float] = field(default_factory=dict)
    told_light: float = 0.0
    agreed_stops: float = ASKED_FROM_STOPS
    at_most_stops: float = inf

    def begin(self, plan: Plan, filters: Iterable[Filter], at_s: float, at: datetime) -> None:
        """Begin at the middle of a base exposure, by the run's clock [s] and by the time of day."""
        self.base = Acting(filters=(), aperture=plan.base.aperture.exact, iso=plan.base.iso.exact)
        self.filters = {one.name: one for one in filters}
        self.begun = self.state = light_at_base(plan, at, at_s)

    @property
    def tells(self) -> bool:
        """Whether what is to come can be foretold, and counts."""
        return self.sure and self.state is not None

    def saw(self, acting: Acting, opened_s: float, open_s: float, rock: RockSaid) -> None:
        """Take in how much brighter than its settings say a frame's still parts are; frames may come in any order."""
        from tether.light.state import LightSeen

        if self.state is None or self.begun is None or rock.off_stops is None:
            return
        seen = LightSeen(
            opened_s=opened_s,
            open_s=open_s,
            off_stops=rock.off_stops,
            doubt_stops=hypot(rock.uncertainty_stops, TIME_DOUBT_STOPS),
            terms=self._terms(acting),
        )
        late = bool(self.seen) and seen.middle_s < self.seen[-1].middle_s
        self.seen = sorted([*self.seen, seen], key=lambda one: one.middle_s)
        self.stacks.setdefault(frozenset(acting.filters), opened_s)
        if not acting.filters:
            self.isos.setdefault(acting.iso, opened_s)
        if late:
            self._fold()
        else:
            self.state = self.state.saw(seen)

    def _fold(self) -> None:
        """Take in all frames again, in their order."""
        self.state = self.begun
        for one in self.seen:
            self.state = self.state.saw(one) if self.state else None

    def forget(self, since_s: float) -> None:
        """Forget what frames told that opened from a moment on [s]: they were made through something else."""
        self.seen = [one for one in self.seen if one.opened_s < since_s]
        self.stacks = {stack: at_s for stack, at_s in self.stacks.items() if at_s < since_s}
        self.isos = {iso: at_s for iso, at_s in self.isos.items() if at_s < since_s}
        self._fold()

    def begin_anew(self) -> None:
        """Learn the level anew: something in front of the lens was changed. What is known of glass stays."""
        if self.state is not None:
            self.begun = self.state = self.state.loosened(CHANGED_STOPS)
            self.seen.clear()

    def foretold(self, acting: Acting, opens_s: float, open_s: float) -> LightEstimate | None:
        """Return how much brighter than its settings say a frame will come out [stops]; None: that is not known."""
        return None if self.state is None else self.state.foretold(opens_s, open_s, self._terms(acting))

    def light(self, at_s: float) -> LightEstimate | None:
        """Return the light against the base's [stops]."""
        return None if self.state is None else self.state.light(at_s)

    def unseen_stops(self, at_s: float) -> float:
        """Return how much brighter the light is thought to be than when a frame told of it last [stops]."""
        return 0.0 if self.state is None else self.state.light(at_s).stops - self.state.light(self.state.last_s).stops

    def goes_stops_per_min(self, at_s: float) -> float | None:
        """Return how the light goes at a moment [stops/min], negative where it falls; None: not measured."""
        if not self.tells or self.state is None or len(self.seen) < LEAST_SEEN:
            return None
        rate = self.state.rate_known(at_s)
        return rate.stops if rate.doubt_stops <= max(RATE_DOUBT_STOPS_PER_MIN, abs(rate.stops) / 2) else None

    def goes_by_sun(self, at_s: float) -> bool:
        """Say whether how the light goes at a moment is the sun's course, and frames do not tell it, or no longer."""
        if self.state is None or not self.state.follows_the_sun:
            return False
        old = at_s - self.state.last_s > TELLS_FOR_S
        return old or self.state.rate_known(at_s).doubt_stops > RATE_DOUBT_STOPS_PER_MIN

    def knows(self, filters: Sequence[str]) -> bool:
        """Say whether a frame through a stack was read."""
        return frozenset(filters) in self.stacks

    def known_isos(self) -> frozenset[float]:
        """Return the ISO values whose own steps a frame has told."""
        return frozenset(self.isos)

    def glass_stops(self, filters: Sequence[str]) -> float:
        """Return by how much frames through a stack come out brighter than its filters say [stops]."""
        terms = glass_terms(tuple(filters), self.filters)
        return 0.0 if self.state is None else sum(self.state.term(term.name).stops for term in terms)

    def _terms(self, acting: Acting) -> tuple[Term, ...]:
        return () if self.base is None else terms_of(acting, self.base, self.filters)

    # What people are told

    def news(self, acting: Acting, at_s: float) -> list[str]:
        """Return what a frame that was taken in changed of what is known, in sentences; each is told once."""
        state = self.state
        if state is None:
            return []
        found = [self._of_filter(name, state.term(name)) for name in acting.filters]
        return [*filter(None, [*found, self._of_light(at_s)])]

    def _of_filter(self, name: str, off: LightEstimate) -> str | None:
        told, known = self.told_glass.get(name, 0.0), self.filters.get(name)
        sure = off.doubt_stops < max(abs(off.stops) / 2, GLASS_NEWS_STOPS)
        if known is None or not sure or abs(off.stops - told) < GLASS_NEWS_STOPS:
            return None
        self.told_glass[name] = off.stops
        takes = known.stops - off.stops
        said = f"{name} takes {takes:.1f} stops and not {known.stops:.1f} (± {2 * off.doubt_stops:.1f})."
        return said if abs(off.stops) < ANOTHER_STOPS else f"{said} {self._another(name, takes)}"

    def _another(self, name: str, takes: float) -> str:
        """Say what filter one that is far off looks like."""
        near = [one for one in self.filters.values() if one.name != name and abs(one.stops - takes) < NEAR_STOPS]
        looks = f"This looks like {near[0].name}" if near else f"This looks like {takes:.0f} stops"
        return f"{looks}: is {name} really what is on the lens?"

    def _of_light(self, at_s: float) -> str | None:
        state, now = self.state, self.light(at_s)
        if state is None or now is None or abs(now.stops - self.told_light) < LIGHT_NEWS_STOPS:
            return None
        if now.doubt_stops > abs(now.stops - self.told_light) / 2:
            return None
        self.told_light = now.stops
        rises = state.rate(at_s)
        goes = f"{'falls' if rises < 0 else 'rises'} by {abs(rises):.2f} stop a minute"
        pace = "steady now" if abs(rises) < 0.01 else goes
        return f"The light is {words.brighter(now.stops)} than at the base, and {pace}."
