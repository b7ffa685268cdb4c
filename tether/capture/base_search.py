"""Find the base exposure: a few frames, each read, from a start that may be far off."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isinf
from pathlib import Path

from tether.capture.regions import regions_of
from tether.capture.session import Frame, Session, timed
from tether.errors import CameraError
from tether.exposure.abilities import Abilities
from tether.exposure.labels import with_unit
from tether.exposure.marks import Mark, nearest
from tether.exposure.stops import Exposure, brightness_stops, time_stops
from tether.files.errors import UnreadableFileError
from tether.files.raw import RawFrame, read_raw
from tether.frames.asked import FAILS
from tether.frames.exposing import WANTED_STOPS, Estimate, Mask, Seen, next_exposure, seen_in
from tether.frames.patches import plane_shape
from tether.plan.choices import allowed_isos
from tether.plan.file import Plan
from tether.shot.shot import Shot

#: So many frames are taken in all, from a start within 8 stops; so many at most, where that leaves more than so much
#: uncertain [stops].
FRAMES, MOST_FRAMES, GOOD_STOPS = 4, 8, 0.25
#: Where the brightest exposure that may be is darker than wanted by more than this, it is no base [stops].
TOO_DARK_STOPS = 0.5
#: Guards comparisons of stops against the last bits of a float.
_TINY = 1e-6


@dataclass(frozen=True, kw_only=True)
class Looked:
    """One frame of the search (`path`: its file), what it showed, and what was then known."""

    shot: Shot
    path: Path
    seen: Seen
    estimate: Estimate
    differs: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """What it showed, for people."""
        if self.seen.white:
            what = "all white"
        elif self.seen.black:
            what = "black"
        elif self.seen.levels.headroom_stops is None:
            what = f"{100 * self.seen.levels.clipped_share:.2g} % clipped"
        else:
            what = f"{self.seen.levels.headroom_stops:.2f} stops of headroom"
        return " ".join((f"{in_words(self.shot)}: {what}.", *(f"The file says: {one}." for one in self.differs)))


@dataclass(frozen=True, kw_only=True)
class Found:
    """The base exposure that was found.

    Attributes
    ----------
    shot
        Its time, aperture and ISO: the nearest marks on the darker side.
    headroom_stops, uncertainty_stops
        The headroom it leaves in the mean of many frames, and the standard uncertainty of that [stops].
    looked
        The frames, in order.
    """

    shot: Shot
    headroom_stops: float
    uncertainty_stops: float
    looked: tuple[Looked, ...]


def water_mask(plan: Plan, frame: RawFrame) -> Mask | None:
    """Return where the plan says that there is water: a mask of a plane, shape (h, w); None: it does not say."""
    found = regions_of(plan)
    return found.mask("water", plane_shape(frame)) if found and found.share("water") else None


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
    session: Session,
    plan: Plan,
    *,
    start: Mark | None = None,
    wanted_stops: float = WANTED_STOPS,
    frames: int = FRAMES,
    tell: Callable[[Looked], None] = lambda _looked: None,
) -> Found:
    """Take frames until the base exposure is known.

    Parameters
    ----------
    start
        The time of the first frame; None: the plan's base.
    wanted_stops
        The headroom to be left in the water.
    frames
        How many are taken in all. The water wanders; more of them are surer.
    tell
        Handed every frame once it is read.

    Raises
    ------
    CameraError
        It is too bright or too dark at every exposure that may be, or a frame can't be read.
    TetherError
        The camera does not do it.
    """
    places = reachable(plan, session.abilities)
    time = start or plan.base.time
    base_iso = nearest(session.abilities.isos, plan.base.iso.exact)
    at_base_iso = [shot for shot in places if shot.iso == base_iso]
    shot = min(at_base_iso, key=lambda one: abs(time_stops(one.time_s, time.exact)))
    looked: list[Looked] = []
    while True:
        looked.append(_look(session, plan, shot, [one.seen for one in looked], wanted_stops))
        tell(looked[-1])
        estimate = looked[-1].estimate
        shot = _brightest_within(places, estimate.next_stops)
        nothing_new = shot in [one.shot for one in looked] and _outside(places, estimate)
        if estimate.uncertainty_stops < GOOD_STOPS:
            if len(looked) >= frames or nothing_new:
                return _found(places, looked)
        elif nothing_new or len(looked) >= max(frames, MOST_FRAMES):
            raise _refusal(places, looked[-1])


def _outside(places: Sequence[Shot], estimate: Estimate) -> bool:
    """Say whether the right exposure surely lies outside of those that may be."""
    off_stops = 0.0 if isinf(estimate.uncertainty_stops) else 3 * estimate.uncertainty_stops
    return not _stops(places[0]) - off_stops <= estimate.stops <= _stops(places[-1]) + TOO_DARK_STOPS + off_stops


def _look(session: Session, plan: Plan, shot: Shot, before: Sequence[Seen], wanted_stops: float) -> Looked:
    try:
        frame = session.shoot(shot)
        raw = read_raw(frame.path)
    except UnreadableFileError as error:
        raise CameraError(
            f"The frame of {in_words(shot)} can't be read: {error}",
            "See that the body writes whole raw files of a kind that can be read, then try again.",
        ) from error
    try:
        seen = seen_in(raw, _stops_read(frame), water_mask(plan, raw))
        estimate = next_exposure((*before, seen), wanted_stops)
    except FAILS as error:
        raise CameraError(f"The numbers of the frame of {in_words(shot)} come to nothing: {error}.") from error
    return Looked(shot=shot, path=frame.path, seen=seen, estimate=estimate, differs=frame.differs)


def _stops_read(frame: Frame) -> float:
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


def _found(places: Sequence[Shot], looked: Sequence[Looked]) -> Found:
    estimate = looked[-1].estimate
    shot = _brightest_within(places, estimate.stops)
    headroom_stops = estimate.headroom_at(_stops(shot))
    off_stops = headroom_stops - estimate.wanted_stops
    if off_stops < -_TINY or (shot == places[-1] and off_stops > TOO_DARK_STOPS):
        raise _refusal(places, looked[-1])
    return Found(
        shot=shot,
        headroom_stops=headroom_stops,
        uncertainty_stops=estimate.uncertainty_stops,
        looked=tuple(looked),
    )


def _refusal(places: Sequence[Shot], last: Looked) -> CameraError:
    """Return what is to be said where the right exposure can't be had."""
    estimate = last.estimate
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
