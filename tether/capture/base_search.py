"""Find the base exposure: a few frames, each read, from a start that may be far off."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import hypot, isinf, log2, sqrt
from pathlib import Path

import numpy as np

from tether.capture.session import CapturedFrame, CaptureSession
from tether.clock import to_ns
from tether.errors import CameraError
from tether.exposure.abilities import Abilities
from tether.exposure.labels import with_unit
from tether.exposure.marks import Mark, nearest
from tether.exposure.stops import Exposure, brightness_stops, time_stops
from tether.files.errors import UnreadableFileError
from tether.files.raw import RawFrame, read_raw
from tether.frames.asked import FAILS
from tether.frames.clips import Clip, clip_by_pair, clip_by_step
from tether.frames.exposing import (
    WANDER_STOPS,
    WANTED_STOPS,
    Estimate,
    Mask,
    WaterSeen,
    next_exposure,
    over_stops,
    seen_in,
)
from tether.frames.levels import Levels
from tether.frames.mosaic import CHANNELS, Region
from tether.frames.patches import plane_shape
from tether.frames.regions import Regions, given
from tether.plan.choices import allowed_apertures, allowed_isos
from tether.plan.file import Plan
from tether.shot.shot import Shot, timed

#: The base is nearly known once no more than so much is uncertain [stops]; so many frames are taken to come there.
GOOD_STOPS, MOST_FRAMES = 0.25, 8
#: So many are taken then, so far apart, but over so long at most: frames a second apart show the same water, those of
#: simulated scenes no longer after 2.4 s, and it wanders by 0.11 to 0.29 stop [s].
FRAMES, APART_S, LONGEST_S = 8, 5.0, 60.0
#: Who waits is called so often meanwhile [s].
_IDLE_S = 0.5
#: All frames of a search may be off alike by so much, however many they are: a knee under a sensor's clip makes up to
#: that much [stops].
ALIKE_STOPS = 0.08
#: Where the brightest exposure that may be is darker than wanted by more than this, it is no base [stops].
TOO_DARK_STOPS = 0.5
#: The equal frames that show where the sensor clips are taken once the base is known to so much, and so far above where
#: the brightest of the water clips; so far at the least [stops].
_PAIR_FROM_STOPS, PAIR_STOPS, _LEAST_PAIR_STOPS = 0.5, 1.7, 0.7
#: Frames at the fastest rung's time are taken where it is faster by this; as bright as the base to within this [stops].
_FASTER_STOPS, _LIKE_STOPS = 0.5, 0.6
#: Frames over a span of time that is asked for.
_SPAN_FRAMES = 8
#: A clip this near to the white level, as a share of the way from black, is where the file says.
_AS_TOLD = 0.01
#: A mean below this share of the way to clipping says nothing of how bright a frame is.
_DIM = 0.001
#: Guards comparisons of stops against the last bits of a float.
_TINY = 1e-6


@dataclass(frozen=True, kw_only=True)
class Looked:
    """One frame of the search (`path`: its file), what it showed, and whether it counts towards the estimate.

    `then` says what is waited for after it, if anything.
    """

    shot: Shot
    path: Path
    seen: WaterSeen
    differs: tuple[str, ...]
    counts: bool = True
    then: str = ""

    @property
    def sentence(self) -> str:
        """What it showed, for people."""
        if self.seen.white:
            what = "all white"
        elif self.seen.black:
            what = "black"
        else:
            what = room_words(self.seen.levels)
        said = (f"{in_words(self.shot)}: {what}.", *(f"The file says: {one}." for one in self.differs), self.then)
        return " ".join(filter(None, said))


@dataclass(frozen=True, kw_only=True)
class BaseFound:
    """The base exposure that was found.

    Attributes
    ----------
    shot
        Its time, aperture and ISO: the nearest marks on the darker side.
    headroom_stops, uncertainty_stops
        The headroom it leaves in the mean of many frames, and the standard uncertainty of that [stops].
    looked
        The frames, in order.
    why
        What else was found out, as sentences: where the sensor clips, and what made the base darker.
    """

    shot: Shot
    headroom_stops: float
    uncertainty_stops: float
    looked: tuple[Looked, ...]
    why: tuple[str, ...] = ()


def regions_of(plan: Plan) -> Regions | None:
    """Return the regions that a plan gives; None where it gives none."""
    if not plan.region:
        return None
    return given([Region(**one.model_dump()) for one in plan.region])


def water_mask(plan: Plan, frame: RawFrame) -> Mask | None:
    """Return where the plan says that there is water: a mask of a plane, shape (h, w); None: it does not say."""
    found = regions_of(plan)
    return found.mask("water", plane_shape(frame)) if found and found.share("water") else None


def room_words(levels: Levels) -> str:
    """Write the headroom of a frame for people: ``0.31 stops of headroom``, ``2.4 % clipped``."""
    if levels.headroom_stops is None:
        return f"{100 * levels.clipped_share:.2g} % clipped"
    return f"{levels.headroom_stops:.2f} stops of headroom"


def in_words(shot: Shot) -> str:
    """Write an exposure for people: ``1/60 s, f/8, ISO 100``."""
    return f"{with_unit(shot.time_label)}, {shot.aperture.label}, ISO {shot.iso.label}"


def reachable(plan: Plan, abilities: Abilities) -> tuple[Shot, ...]:
    """Return the exposures that the base may be, darkest first.

    Aperture and ISO are the plan's base's. Where the body's times end, the other ISO values that the plan allows go on
    from the last of them.
    """
    aperture = nearest(abilities.apertures, plan.base.aperture.exact)
    iso = nearest(abilities.isos, plan.base.iso.exact)
    longest = plan.limits.longest
    times = [time for time in abilities.times if longest is None or time.exact <= longest.exact * 1.01]
    isos = allowed_isos(plan, abilities)
    lower, higher = ([one for one in isos if sign * (one.exact - iso.exact) > 0] for sign in (-1, 1))
    if not times:
        raise CameraError("The body offers no time that it keeps by itself within the limits of the plan.")
    return (
        *(timed(times[0], aperture, one) for one in lower),
        *(timed(time, aperture, iso) for time in times),
        *(timed(times[-1], aperture, one) for one in higher),
    )


def find_base(
    session: CaptureSession,
    plan: Plan,
    *,
    start: Mark | None = None,
    wanted_stops: float = WANTED_STOPS,
    frames: int = FRAMES,
    span_s: float = 0.0,
    tell: Callable[[Looked], None] = lambda _looked: None,
    idle: Callable[[], None] = lambda: None,
) -> BaseFound:
    """Take frames until the base exposure is known.

    Once it is nearly known, frames are spread over up to a minute: water wanders slowly, and frames of one moment err
    alike. Beside them two equal ones are taken well above the base, whose clipped pixels tell where the sensor really
    clips; and, where the fastest rung's time is shorter, one of that beside each that is spread: foam is brighter in
    them.

    Parameters
    ----------
    start
        The time of the first frame; None: the plan's base.
    wanted_stops
        The headroom to be left in the water.
    frames
        How many are spread. The water wanders; more of them are surer, and fewer take less time.
    span_s
        Waves come in sets: so long are the frames spread, eight at least, and the brightest of them counts [s].
    tell
        Handed every frame once it is read.
    idle
        Called twice a second while the next frame is waited for; what it raises ends the search.

    Raises
    ------
    CameraError
        It is too bright or too dark at every exposure that may be, or a frame can't be read.
    TetherError
        The camera does not do it.
    """
    search = _Search(session, plan, wanted_stops, tell, idle)
    search.near(start or plan.base.time)
    search.spread(frames, span_s)
    return search.found()


class _Search:
    """A search for the base exposure: what was taken so far, and what it tells."""

    def __init__(
        self,
        session: CaptureSession,
        plan: Plan,
        wanted_stops: float,
        tell: Callable[[Looked], None],
        idle: Callable[[], None],
    ) -> None:
        self._session, self._plan = session, plan
        self._wanted_stops = wanted_stops
        self._tell, self._idle = tell, idle
        self._places = reachable(plan, session.abilities)
        self._looked: list[Looked] = []
        self._clip: Clip | None = None
        self._paired = False
        self._darker: tuple[float, RawFrame] | None = None
        self._less_stops = self._less_off_stops = 0.0
        self._why: list[str] = []

    # Steps

    def near(self, time: Mark) -> None:
        """Come near the base from a first time; raise CameraError where it can't be had."""
        base_iso = nearest(self._session.abilities.isos, self._plan.base.iso.exact)
        at_base_iso = [shot for shot in self._places if shot.iso == base_iso]
        shot = min(at_base_iso, key=lambda one: abs(time_stops(one.time_s, time.exact)))
        taken: list[Shot] = []
        while True:
            self._look(shot)
            taken.append(shot)
            if not self._paired and self._estimate.uncertainty_stops < _PAIR_FROM_STOPS:
                self._pair()
            estimate = self._estimate
            shot = _brightest_within(self._places, estimate.next_stops)
            nothing_new = shot in taken and _outside(self._places, estimate)
            if estimate.uncertainty_stops < GOOD_STOPS:
                return
            if nothing_new or len(taken) >= MOST_FRAMES:
                raise _refusal(self._places, estimate)

    def _pair(self) -> None:
        """Take two equal frames in which much of the water clips, and learn from them where that is."""
        self._paired = True
        shot = _brightest_within(self._places, self._estimate.stops + self._wanted_stops + PAIR_STOPS)
        if _stops(shot) < self._estimate.stops + self._wanted_stops + _LEAST_PAIR_STOPS:
            self._why.append("Where the sensor clips was not looked at: nothing brighter may be exposed.")
            return
        (_, one), (brighter, other) = self._shoot(shot), self._shoot(shot)
        try:
            clip = clip_by_pair(one, other) or self._by_step(brighter, other)
        except FAILS:
            clip = None
        self._darker = None
        if clip is None:
            self._why.append("Two equal frames do not show where the sensor clips; the file's own white level counts.")
            return
        self._clip = clip
        self._why += filter(None, [_clip_words(clip, one)])
        self._looked = [replace(each, seen=replace(each.seen, clip=clip)) for each in self._looked]

    def _by_step(self, brighter: Looked, raw: RawFrame) -> Clip | None:
        """Return what the last frame in which little clips tells of where a brighter one does."""
        if self._darker is None:
            return None
        stops, darker = self._darker
        step_stops = brighter.seen.stops - stops
        return clip_by_step(darker, raw, step_stops) if 1 <= step_stops <= PAIR_STOPS + 1 else None

    def spread(self, frames: int, span_s: float) -> None:
        """Take so many frames apart in time, and see that the headroom holds in all that may be.

        At the fastest rung's time peaks are least smoothed; over a span that was asked for the brightest frame counts.
        """
        if _outside(self._places, self._estimate):
            return
        count = max(frames, _SPAN_FRAMES if span_s else 1)
        apart_s = span_s / (count - 1) if span_s else min(APART_S, LONGEST_S / max(count - 1, 1))
        began_ns = self._session.clock.now_ns()
        at_base: list[WaterSeen] = []
        fast: list[tuple[WaterSeen, Looked]] = []
        for number in range(count):
            self._wait_until(began_ns + to_ns(apart_s * number))
            # Where it was nearly known only, it comes nearer: what another time says is off by as much as that.
            base = _brightest_within(self._places, self._estimate.next_stops)
            shot = fastest_like(self._plan, self._session.abilities, base)
            beside = self._look(shot, counts=False) if shot else None
            # Comes last, so that the headroom shown at the end is the base's, not that of the frame beside it.
            at_base.append(self._look(base, then="" if number else _waits(count - 1, apart_s)).seen)
            if beside:
                fast.append((at_base[-1], beside))
        if fast:
            less = [self._room(beside) - self._room(one.seen) for beside, one in fast]
            where = f"At {in_words(fast[-1][1].shot)}, the fastest rung's time,"
            self._lower(sum(less) / len(less), len(less), where)
        if span_s:
            least = min(self._room(one) for one in at_base)
            less_stops = self._estimate.headroom_at(0.0) - least
            self._lower(less_stops, 1, f"In the brightest of {count} frames over {span_s:.0f} s")

    def _wait_until(self, at_ns: int) -> None:
        clock = self._session.clock
        while clock.now_ns() < at_ns:
            self._idle()
            clock.wait_until(min(at_ns, clock.now_ns() + to_ns(_IDLE_S)))

    def _room(self, one: WaterSeen) -> float:
        return _room(one, self._looked)

    def _lower(self, less_stops: float, count: int, where: str) -> None:
        """Take from the estimate what so many frames of its own brightness have less headroom than it says."""
        if less_stops > 0:
            self._less_stops += less_stops
            self._less_off_stops = hypot(self._less_off_stops, WANDER_STOPS / sqrt(count))
            self._why.append(f"{where} peaks are {less_stops:.2f} stop brighter; the base is that much darker.")

    def found(self) -> BaseFound:
        """Return the base."""
        return _found(self._places, self._looked, self._estimate, tuple(self._why))

    # One frame

    @property
    def _estimate(self) -> Estimate:
        found = next_exposure([one.seen for one in self._looked if one.counts], self._wanted_stops)
        lower = self._less_stops
        off_stops = hypot(found.uncertainty_stops, self._less_off_stops)
        return replace(
            found, stops=found.stops - lower, next_stops=found.next_stops - lower, uncertainty_stops=off_stops
        )

    def _look(self, shot: Shot, *, counts: bool = True, then: str = "") -> Looked:
        """Take and read a frame; the last one in which little clips is kept until the clip is known."""
        looked, raw = self._shoot(shot, counts=counts, then=then)
        if not self._paired and not looked.seen.burnt:
            self._darker = looked.seen.stops, raw
        return looked

    def _shoot(self, shot: Shot, *, counts: bool = True, then: str = "") -> tuple[Looked, RawFrame]:
        try:
            frame = self._session.shoot(shot)
            raw = read_raw(frame.path)
        except UnreadableFileError as error:
            raise CameraError(
                f"The frame of {in_words(shot)} can't be read: {error}",
                "See that the body writes whole raw files of a kind that can be read, then try again.",
            ) from error
        try:
            water, may_clip = water_mask(self._plan, raw), self._plan.base.glints_share
            seen = seen_in(raw, _stops_read(frame), water, clip=self._clip, may_clip=may_clip)
            looked = Looked(shot=shot, path=frame.path, seen=seen, differs=frame.differs, counts=counts, then=then)
            self._looked.append(looked)
            _ = self._estimate
        except FAILS as error:
            raise CameraError(f"The numbers of the frame of {in_words(shot)} come to nothing: {error}.") from error
        self._tell(looked)
        return looked, raw


def _waits(frames: int, apart_s: float) -> str:
    """Say what is waited for after a first frame."""
    if not frames:
        return ""
    more = "One more frame follows" if frames == 1 else f"{frames} more frames follow"
    return f"{more} within {frames * apart_s:.0f} s, as the water wanders."


def _room(one: WaterSeen, beside: Sequence[Looked]) -> float:
    """Return the headroom of a frame were its exposure 0, by how bright it is beside frames that count [stops].

    An f-number or an ISO may be off what it says, and the light may have changed: the mean of the water tells.
    """
    headroom_stops = one.levels.headroom_stops
    if headroom_stops is None:
        headroom_stops = -over_stops(one)
    means = [
        log2(mean) - each.seen.stops
        for each in beside
        if each.counts and not each.seen.burnt and (mean := _mean(each.seen)) > _DIM
    ]
    mean = _mean(one)
    if not means or mean <= _DIM:
        return headroom_stops + one.stops
    return headroom_stops + log2(mean) - float(np.median(means))


def _mean(one: WaterSeen) -> float:
    """Return the mean of the green above black, as a share of the way to clipping."""
    return one.levels.channels["G"].mean


def _clip_words(clip: Clip, frame: RawFrame) -> str:
    """Say where the sensor clips, for people; nothing where it clips where the file says."""
    black = sum(frame.black) / len(frame.black)
    under = {
        name: 1 - (clip.levels[channel] - black) / (frame.white - black)
        for channel, name in zip(CHANNELS, ("red", "green", "blue"), strict=True)
    }
    if max(under.values()) < _AS_TOLD:
        return ""
    told = ", ".join(f"{name} {100 * share:.0f} %" for name, share in under.items())
    by = "two equal frames" if clip.witness == "pair" else "a known step between two frames"
    return f"Pixels clip below the white level that the file tells: {told} ({by} show it)."


def fastest_like(plan: Plan, abilities: Abilities, base: Shot) -> Shot | None:
    """Return an exposure no brighter than the base's and as near as can be, at the fastest rung's time.

    The aperture is opened first, then ISO raised, as far as the plan allows; None: the base's time is the fastest.
    """
    asked = [
        *plan.rungs.times,
        *([plan.rungs.start] if plan.rungs.start else []),
        *(one.time for one in plan.rung if one.time is not None),
    ]
    fastest = min((mark.exact for mark in asked), default=base.time_s)
    times = [mark for mark in abilities.times if mark.exact >= fastest * 0.98]
    if not times or time_stops(base.time_s, times[0].exact) < _FASTER_STOPS:
        return None
    wider = [one for one in allowed_apertures(plan, abilities) if one.exact <= base.aperture.exact * 1.01]
    higher = [one for one in allowed_isos(plan, abilities) if one.exact >= base.iso.exact * 0.99]
    shots = [timed(times[0], aperture, iso) for aperture in wider for iso in higher]
    best = [shot for shot in shots if abs(_stops(shot) - _stops(base)) < _LIKE_STOPS]
    return min(best, key=lambda shot: shot.iso.exact, default=None)


def _outside(places: Sequence[Shot], estimate: Estimate) -> bool:
    """Say whether the right exposure surely lies outside of those that may be."""
    off_stops = 0.0 if isinf(estimate.uncertainty_stops) else 3 * estimate.uncertainty_stops
    return not _stops(places[0]) - off_stops <= estimate.stops <= _stops(places[-1]) + TOO_DARK_STOPS + off_stops


def _stops_read(frame: CapturedFrame) -> float:
    """Return the exposure of a frame as the body read it back [stops]; what it does not tell is as it was asked."""
    read, shot = frame.read, frame.shot
    return brightness_stops(
        Exposure(
            time_s=read.time_s or shot.time_s,
            aperture=read.aperture or shot.aperture.exact,
            iso=read.iso or shot.iso.exact,
        )
    )


def _stops(shot: Shot) -> float:
    return brightness_stops(Exposure(time_s=shot.time_s, aperture=shot.aperture.exact, iso=shot.iso.exact))


def _brightest_within(places: Sequence[Shot], stops: float) -> Shot:
    """Return the exposure nearest to one wanted, on the darker side; the darkest where there is none."""
    return max((shot for shot in places if _stops(shot) <= stops + _TINY), key=_stops, default=places[0])


def _found(places: Sequence[Shot], looked: Sequence[Looked], estimate: Estimate, why: tuple[str, ...]) -> BaseFound:
    shot = _brightest_within(places, estimate.stops)
    headroom_stops = estimate.headroom_at(_stops(shot))
    off_stops = headroom_stops - estimate.wanted_stops
    if off_stops < -_TINY or (shot == places[-1] and off_stops > TOO_DARK_STOPS):
        raise _refusal(places, estimate)
    return BaseFound(
        shot=shot,
        headroom_stops=headroom_stops,
        uncertainty_stops=hypot(estimate.uncertainty_stops, ALIKE_STOPS),
        looked=tuple(looked),
        why=why,
    )


def _refusal(places: Sequence[Shot], estimate: Estimate) -> CameraError:
    """Return what is to be said where the right exposure can't be had."""
    known = not isinf(estimate.uncertainty_stops)
    if estimate.stops < _stops(places[0]):
        by = f"{_stops(places[0]) - estimate.stops:.1f} stops too bright" if known else "white"
        return CameraError(
            f"It is too bright: {in_words(places[0])} is the darkest exposure that the plan allows, and {by}.",
            "Put a filter on and name it in the plan, stop down in [base], or wait for less light; then try again.",
        )
    if estimate.stops > _stops(places[-1]):
        by = f"{estimate.stops - _stops(places[-1]):.1f} stops too dark" if known else "black"
        return CameraError(
            f"It is too dark: {in_words(places[-1])} is the brightest exposure that the plan allows, and {by}.",
            "See that the cap is off and no strong filter is on; or open up in [base], or allow a longer time or a"
            " higher ISO in [limits]; then try again.",
        )
    return CameraError("The frames do not agree: the light changes too much between them. Try again in steadier light.")
