"""The plan file: what a person writes down about one composition, as checked TOML.

Each section is checked on its own and all mistakes are told at once. Values are exact from here on: a label such as
``1/125`` becomes the mark it stands for. `profiles/plans/weir.toml` is a commented example of every key.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, time
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainValidator,
    ValidationError,
    ValidationInfo,
    model_validator,
)

from tether.errors import PlanError, system_reason
from tether.exposure.filters import Filter
from tether.exposure.labels import parse_aperture, parse_iso, parse_time
from tether.exposure.marks import Mark, Step
from tether.light.spot import Spot
from tether.plan.learned import Learned
from tether.plan.leaving import Moment, earlier, tide_told
from tether.validation import LONGEST_SHOWN, key_path, key_sentence, line_of, read_toml

Taken = Literal["at once", "on my key", "each wave", "burst"]
#: Frames that wait for the person's key.
ON_KEY: tuple[Taken, ...] = ("on my key", "each wave")
#: Putting a filter on or taking it off takes fingers so long, and cold ones so long [s] (common practice, no source).
SWAP_S, COLD_SWAP_S = 60.0, 90.0
Order = Literal["fewest touches", "short first", "long first", "by filter"]
DARKER_BY = ("what is unmeasured", "nothing", "a third for long water")
SCALES = {"third": Step.THIRD, "half": Step.HALF}


def _mark(parse: Callable[[str, Step | None], Mark]) -> BeforeValidator:
    def read(value: object, info: ValidationInfo) -> Mark:
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise ValueError('must be a label such as "1/125", "f/11" or 100')
        step = info.context["step"] if info.context else Step.THIRD
        try:
            return parse(str(value), step)
        except PlanError as error:
            raise ValueError(str(error)) from error

    return BeforeValidator(read)


TimeKey = Annotated[Mark, _mark(parse_time)]
ApertureKey = Annotated[Mark, _mark(parse_aperture)]
IsoKey = Annotated[Mark, _mark(parse_iso)]
Stops = Annotated[float, Field(ge=0, le=10)]
Metres = Annotated[float, Field(gt=0)]
Share = Annotated[float, Field(ge=0, le=1)]
Frames = Annotated[int, Field(ge=1, le=999)]


class Section(BaseModel):
    """A table of the plan file: no key that is not known, no value of another kind, nothing changed after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, defer_build=True)


class Place(Section):
    """Where it is: for the cautions, and on the earth [degrees], for the sun; `cold`: ice, and slower fingers.

    `latitude` is positive north, `longitude` positive east of Greenwich; both or none.
    """

    name: str = ""
    latitude: Annotated[float, Field(ge=-90, le=90)] | None = None
    longitude: Annotated[float, Field(ge=-180, le=180)] | None = None
    water: Literal["river", "weir", "coast", "lake"] = "river"
    sun_in_frame: bool = False
    cold: bool = False

    @model_validator(mode="after")
    def _whole_spot(self) -> Place:
        if (self.latitude is None) != (self.longitude is None):
            raise ValueError('"latitude" and "longitude" go together; give both in degrees, or neither')
        return self

    @property
    def spot(self) -> Spot | None:
        """The place on the earth; None where the plan does not say it."""
        if self.latitude is None or self.longitude is None:
            return None
        return Spot(latitude=self.latitude, longitude=self.longitude)


class BodyKeys(Section):
    """Which body file to plan with, by name or path."""

    file: str


class Lens(Section):
    """The lens: focal length [mm], its range of apertures, and the distance it is focused at [m]."""

    name: str = ""
    focal_mm: Annotated[float, Field(gt=1, le=2000)]
    widest: ApertureKey
    narrowest: ApertureKey
    focus_m: Annotated[float, Field(gt=0.05, le=100000)] | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Lens:
        if self.widest.exact >= self.narrowest.exact:
            raise ValueError(
                f"widest {self.widest.label} must be a smaller f-number than narrowest {self.narrowest.label}"
            )
        return self


class Base(Section):
    """The metered, unclipped exposure that every rung equals; while it is not measured, a long exposure is darkened.

    `headroom_stops` is how much brighter it could have been before white water clips, as measured; None: not known.
    `glints_share` of the water's pixels may clip when it is measured: glints are white in any case.
    `frames` are taken at the beginning, and all later ones are read against them; 0: none. With `again`, one more is
    taken after the last rung, filters off, which tells what the light did.
    """

    time: TimeKey
    aperture: ApertureKey
    iso: IsoKey
    measured: bool = True
    uncertainty_stops: Stops = 1 / 3
    headroom_stops: Stops | None = None
    glints_share: Annotated[float, Field(ge=0, le=0.05)] = 0.001
    frames: Annotated[int, Field(ge=0, le=4)] = 2
    again: bool = True


class Rungs(Section):
    """The rungs asked for: listed times, a range (with even steps or the default ones), streak lengths [px].

    `taken` "on my key" are `frames` frames, each when the person says; "each wave" as many as they say, until "next".

    `also` names graduated filters to be on for them; they hold back a sky and pay nothing of the time.
    """

    times: list[TimeKey] = []
    start: Annotated[TimeKey | None, Field(alias="from")] = None
    to: TimeKey | None = None
    step_stops: Annotated[float, Field(ge=0.25, le=6)] | None = None
    streaks_px: list[Annotated[float, Field(gt=0.1, le=100000)]] = []
    frames: Frames | None = None
    taken: Taken = "at once"
    also: list[str] = []
    order: Order = "fewest touches"
    many: Literal["use", "offer", "never"] = "offer"
    many_at_most: Annotated[int, Field(ge=2, le=999)] = 64

    @model_validator(mode="after")
    def _whole_range(self) -> Rungs:
        if (self.start is None) != (self.to is None):
            raise ValueError('"from" and "to" go together; give both ends of the range, or list times')
        if self.start and self.to and self.start.exact >= self.to.exact:
            raise ValueError(f'"from" {self.start.label} must be shorter than "to" {self.to.label}')
        if self.step_stops is not None and self.start is None:
            raise ValueError('"step_stops" steps a range; give "from" and "to" with it')
        return self


class RungEntry(Section):
    """One rung with its own wishes: a time or a streak length, how many frames, and when they are taken.

    `must`: where time is short, others go first. `bracket`: frames in so many stops around it, to blend; negative is
    darker. A long one's are made by a shorter time or by ISO: four minutes two stops over is not sixteen minutes.
    """

    time: TimeKey | None = None
    streak_px: Annotated[float, Field(gt=0.1, le=100000)] | None = None
    frames: Frames | None = None
    taken: Taken | None = None
    also: list[str] | None = None
    must: bool = False
    bracket: Annotated[list[Annotated[float, Field(ge=-6, le=6)]], Field(max_length=6)] = []

    @model_validator(mode="after")
    def _one_way(self) -> RungEntry:
        if (self.time is None) == (self.streak_px is None):
            raise ValueError('give exactly one of "time" and "streak_px"')
        return self


class Limits(Section):
    """What the planner may use; what is not written here, lens and body bound.

    Windows replace the distances from the base (`*_stops`) where both are given.
    """

    aperture: Annotated[tuple[ApertureKey, ApertureKey] | None, Field(strict=False)] = None
    aperture_stops: Stops | None = None
    iso: Annotated[tuple[IsoKey, IsoKey] | None, Field(strict=False)] = None
    iso_stops: Stops | None = None
    extended_iso: bool = False
    longest: TimeKey | None = None
    depth_m: Annotated[tuple[Metres, Metres] | None, Field(strict=False)] = None
    time_off_stops: Annotated[float, Field(ge=0.05, le=1)] = 1 / 6

    @model_validator(mode="after")
    def _in_order(self) -> Limits:
        if self.aperture and self.aperture[0].exact > self.aperture[1].exact:
            raise ValueError(
                f"aperture runs from wide to narrow; did you mean [{self.aperture[1].label}, {self.aperture[0].label}]?"
            )
        if self.iso and self.iso[0].exact > self.iso[1].exact:
            raise ValueError(f"iso runs from low to high; did you mean [{self.iso[1].label}, {self.iso[0].label}]?")
        if self.depth_m and self.depth_m[0] >= self.depth_m[1]:
            raise ValueError("depth_m runs from near to far, in metres, such as [2.0, 30.0]")
        return self


class Costs(Section):
    """What ways are counted in: stops of light lost at the detail that matters; see docs/planner.md.

    Attributes
    ----------
    touch_stops
        What each piece that is put on or taken off costs [stops].
    print_width_cm
        Width of the print whose detail matters, at 5 cycles/mm [cm].
    detail_per_mm
        Or that detail on the sensor itself [cycles/mm]. Neither: 29 cycles/mm on 36 × 24 mm, scaled by the diagonal.
    """

    touch_stops: Annotated[float, Field(ge=0, le=10)] = 0.6
    print_width_cm: Annotated[float, Field(ge=5, le=300)] | None = None
    detail_per_mm: Annotated[float, Field(ge=2, le=200)] | None = None

    @model_validator(mode="after")
    def _one_detail(self) -> Costs:
        if self.print_width_cm is not None and self.detail_per_mm is not None:
            raise ValueError('give one of "print_width_cm" and "detail_per_mm"')
        return self


class FilterEntry(Section):
    """One filter on hand; its strength in exactly one of density, factor and stops."""

    name: Annotated[str, Field(min_length=1, max_length=40)]
    kind: Literal["nd", "graduated", "always on"] = "nd"
    density: Annotated[float, Field(gt=0, le=9)] | None = None
    factor: Annotated[float, Field(gt=1, le=1e9)] | None = None
    stops: Annotated[float, Field(gt=0, le=30)] | None = None
    measured_stops: Annotated[float, Field(gt=0, le=30)] | None = None
    uncertainty_stops: Stops | None = None
    stacks_with: list[str] | None = None
    slot: Annotated[int, Field(ge=0, le=20)] = 0
    smallest_focal_mm: Annotated[float, Field(gt=0, le=2000)] | None = None
    tint_stops: Annotated[float, Field(ge=0, le=5)] | None = None
    swap_s: Annotated[float, Field(ge=0, le=3600)] | None = None

    @model_validator(mode="after")
    def _strength(self) -> FilterEntry:
        try:
            self.as_filter()
        except PlanError as error:
            raise ValueError(str(error)) from error
        return self

    def as_filter(self, swap_s: float = SWAP_S, off_s: float | None = None) -> Filter:
        """Return the filter as the arithmetic knows it.

        `swap_s` is what it takes where it does not say, `off_s` what taking it off takes then, None: as long [s].
        """
        return Filter.of(
            self.name,
            density=self.density,
            factor=self.factor,
            stops=self.stops,
            kind=self.kind,
            measured_stops=self.measured_stops,
            uncertainty_stops=self.uncertainty_stops,
            stacks_with=None if self.stacks_with is None else tuple(self.stacks_with),
            slot=self.slot,
            min_focal_mm=self.smallest_focal_mm,
            tint_stops=self.tint_stops,
            swap_s=swap_s if self.swap_s is None else self.swap_s,
            off_s=off_s if self.swap_s is None else None,
        )


class Water(Section):
    """The moving water, for streak lengths: speed across the view [m/s] and distance [m]."""

    speed_m_s: Annotated[float, Field(gt=0, le=50)]
    distance_m: Annotated[float, Field(gt=0.1, le=100000)]


class Light(Section):
    """What the light is doing, and how fast [stops/min]; it decides the order of the rungs where that is left open.

    A stop in ten minutes is common practice for dusk and dawn, no source.
    """

    trend: Literal["steady", "falling", "rising"] = "steady"
    stops_per_min: Annotated[float, Field(gt=0, le=5)] = 0.1


class TurnEntry(Section):
    """Something the person wants to be asked for: before the rung of this time."""

    before: TimeKey
    what: Annotated[str, Field(min_length=1, max_length=80)]
    why: str = ""


class RegionEntry(Section):
    """A rectangle of the picture, as shares of its width and height, in the orientation of the sensor."""

    kind: Literal["water", "rock", "ignore"]
    left: Share = 0.0
    top: Share = 0.0
    right: Share = 1.0
    bottom: Share = 1.0

    @model_validator(mode="after")
    def _in_order(self) -> RegionEntry:
        if self.left >= self.right or self.top >= self.bottom:
            raise ValueError("left must be less than right, and top less than bottom")
        return self


class Readings(Section):
    """What is done about what the frames say.

    Attributes
    ----------
    regions
        "ask": what moves is proposed as water, and the person confirms it; "as proposed": it counts unseen; "none".
    correct
        "take": what follows is made as bright as promised, by what frames show of light and filters; the person is
        asked from two thirds of a stop on. "say": that is proposed. "off": neither.
    correct_at_most_stops
        Never by more than this altogether [stops].
    again
        "take": a frame that came out shifted, soft or burnt is taken again; "say": that is proposed.
    again_at_most
        So often in a rung.
    shift_px, sharpness_lost
        From where on a frame is proposed to be taken again: shift of the still parts [px], share of sharpness lost.
    """

    regions: Literal["ask", "as proposed", "none"] = "ask"
    correct: Literal["take", "say", "off"] = "take"
    correct_at_most_stops: Annotated[float, Field(ge=0, le=12)] = 6.0
    again: Literal["take", "say"] = "say"
    again_at_most: Annotated[int, Field(ge=1, le=9)] = 1
    shift_px: Annotated[float, Field(ge=0.2, le=50)] = 1.0
    sharpness_lost: Annotated[float, Field(ge=0.05, le=0.9)] = 0.15


#: How a time of day begins; a number without a colon may be a slip.
_CLOCK = re.compile(r"\d\d:", re.ASCII)


def _moment(value: object) -> Moment | None:
    try:
        moment = time.fromisoformat(value) if isinstance(value, str) and _CLOCK.match(value) else value
        if isinstance(moment, datetime) and 2000 <= moment.year < 2100:
            return moment
        if moment is None or (isinstance(moment, time) and moment.tzinfo is None):
            return moment
        raise ValueError
    except ValueError:
        raise ValueError('is not a time of day; write "18:40", or a date and time as 2026-10-03T18:40:00') from None


MomentKey = Annotated[Moment | None, PlainValidator(_moment)]


def _darker_by(value: object) -> str | float:
    if isinstance(value, str) and value in DARKER_BY:
        return value
    if isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value <= 3:
        return float(value)
    raise ValueError(f"is not a choice; allowed: {', '.join(repr(one) for one in DARKER_BY)}, or 0 to 3 stops")


def _whole_path(value: object) -> Path | None:
    path = Path(value).expanduser() if isinstance(value, str) and value else value
    if path is None or (isinstance(path, Path) and path.is_absolute()):
        return path
    raise ValueError('is not the whole path of a folder; write it as "/media/you/second-disk"')


class RunKeys(Section):
    """How the ladder is run; `learned` is whether what earlier outings tell is counted in its forecast."""

    leave_by: MomentKey = None
    settle_s: Annotated[float, Field(ge=0, le=600)] = 5.0
    proof: bool = True
    proof_over: TimeKey = Mark(label="30", exact=30.0)
    proof_stops: Annotated[float, Field(ge=1, le=12)] = 6.0
    dark_frames: Literal["none", "by the body", "at the end", "offer"] = "offer"
    dark_over: TimeKey = Mark(label="4", exact=4.0)
    when_refused: Literal["wait", "skip"] = "wait"
    sidecars: bool = False
    learned: bool = True
    average: Literal["after the run", "between rungs", "no"] = "after the run"
    copy_to: Annotated[Path | None, PlainValidator(_whole_path)] = None


class Tide(Section):
    """Tide times as the person typed them from the table of the place; none is computed.

    `last_safe_exit` is the last moment at which the way off is safe: the ladder is over by then.
    """

    low: MomentKey = None
    high: MomentKey = None
    last_safe_exit: MomentKey = None

    @model_validator(mode="after")
    def _two_moments(self) -> Tide:
        if self.low is not None and self.low == self.high:
            raise ValueError("high and low water can't be at the same moment; look at the table again")
        return self

    @property
    def told(self) -> str:
        """The tide in a sentence, and what comes of it; empty where nothing was typed."""
        return tide_told(self.low, self.high, self.last_safe_exit)


class Top(Section):
    """Keys that stand before the first table."""

    title: Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^\x00-\x1f\x7f-\x9f]+$")]
    scale: Literal["third", "half"] = "third"
    darker_by: Annotated[str | float, PlainValidator(_darker_by)] = "what is unmeasured"


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A whole plan, checked; `text` is the file as it was read, `old_keys` says what became of keys of older plans.

    `learned` is what earlier outings tell, as far as it is counted.
    """

    path: Path
    text: str
    top: Top
    body: BodyKeys
    lens: Lens
    base: Base
    place: Place = field(default_factory=Place)
    rungs: Rungs = field(default_factory=Rungs)
    rung: tuple[RungEntry, ...] = ()
    limits: Limits = field(default_factory=Limits)
    costs: Costs = field(default_factory=Costs)
    filter: tuple[FilterEntry, ...] = ()
    water: Water | None = None
    light: Light = field(default_factory=Light)
    turn: tuple[TurnEntry, ...] = ()
    region: tuple[RegionEntry, ...] = ()
    readings: Readings = field(default_factory=Readings)
    tide: Tide = field(default_factory=Tide)
    run: RunKeys = field(default_factory=RunKeys)
    old_keys: tuple[str, ...] = ()
    learned: Learned = field(default_factory=Learned)

    @property
    def filters(self) -> tuple[Filter, ...]:
        """The filters on hand, in the order of the file."""
        off_s = self.learned.off_s.value if self.learned.off_s else None
        return tuple(entry.as_filter(self._swap_s(entry), off_s) for entry in self.filter)

    @property
    def leave_by(self) -> Moment | None:
        """By when the ladder is over: the time to leave, or the last safe exit if that is earlier."""
        return earlier(self.run.leave_by, self.tide.last_safe_exit)

    @property
    def by_the_sea(self) -> bool:
        """Whether the person stands by water that has waves and tides."""
        return self.place.water == "coast" or self.tide != Tide()

    @property
    def tide_decides(self) -> bool:
        """Whether it is the last safe exit by which it is over."""
        return self.tide.last_safe_exit is not None and self.leave_by == self.tide.last_safe_exit

    def _swap_s(self, entry: FilterEntry) -> float:
        """Return how long a filter takes to be put on where the plan does not say [s]: as learned, or common."""
        learned = self.learned.held_s if entry.slot else self.learned.screwed_s
        return learned.value if learned else COLD_SWAP_S if self.place.cold else SWAP_S


#: The tables of a plan that it has one of each, by name.
TABLES: dict[str, type[Section]] = {
    "place": Place,
    "body": BodyKeys,
    "lens": Lens,
    "base": Base,
    "rungs": Rungs,
    "limits": Limits,
    "costs": Costs,
    "water": Water,
    "light": Light,
    "readings": Readings,
    "tide": Tide,
    "run": RunKeys,
}
_LISTS: dict[str, type[Section]] = {
    "rung": RungEntry,
    "filter": FilterEntry,
    "turn": TurnEntry,
    "region": RegionEntry,
}
_NEEDED = ("body", "lens", "base")


M = TypeVar("M", bound=Section)


@dataclass
class _Reader:
    """Reads sections one by one and gathers what is wrong with each."""

    where: str
    text: str
    step: Step
    wrong: list[str] = field(default_factory=list)

    def section(self, kind: type[M], data: object, *under: int | str) -> M | None:
        names = [info.alias or name for name, info in kind.model_fields.items()]
        names += [*TABLES, *_LISTS] if kind is Top else []
        try:
            return kind.model_validate(data, context={"step": self.step})
        except ValidationError as error:
            sentences = (
                key_sentence(self.where, one, names, under, self._of(data, one["loc"], *under))
                for one in error.errors()
            )
            self.wrong += dict.fromkeys(sentences)  # each once
            return None

    def _of(self, data: object, location: tuple[int | str, ...], table: int | str = "", index: object = None) -> str:
        """Name what a mistake in one of several tables is of: its name, and the line; empty in any other table."""
        if not isinstance(index, int):
            return ""
        name = data.get("name") if isinstance(data, dict) else None
        line = line_of(self.text, str(table), index, location[0] if location else None)
        said = [f'"{name[:LONGEST_SHOWN]}"'] if isinstance(name, str) else []
        return ", ".join(said if line is None else [*said, f"line {line}"])

    def sections(self, kind: type[M], data: object, name: str) -> tuple[M, ...]:
        if not isinstance(data, list):
            self.wrong.append(f"{self.where}: {name}: must be a list of tables; begin each with [[{name}]].")
            return ()
        read = [self.section(kind, one, name, index) for index, one in enumerate(data)]
        return tuple(one for one in read if one is not None)


def read_plan(path: Path) -> Plan:
    """Read and check a plan file.

    Raises
    ------
    PlanError
        With a sentence for every mistake: file, key, value, and what would be allowed.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise PlanError(f"{path}: the plan cannot be read: {system_reason(error)}.") from error
    except UnicodeDecodeError as error:
        raise PlanError(f"{path}: this is not a text file in UTF-8, so not a plan.") from error
    return plan_from_text(text, path)


def plan_from_text(text: str, path: Path = Path("plan.toml")) -> Plan:
    """Check a plan given as text; `path` is only how it is called in sentences. Raises PlanError."""
    data = read_toml(text, path.name)
    data, old_keys = _without_old_keys(data)
    reader = _Reader(where=path.name, text=text, step=SCALES.get(str(data.get("scale", "third")), Step.THIRD))
    top_data = {key: value for key, value in data.items() if key not in TABLES and key not in _LISTS}
    found: dict[str, Any] = {"top": reader.section(Top, top_data)}
    for name, kind in TABLES.items():
        if name in data:
            found[name] = reader.section(kind, data[name], name)
        elif name in _NEEDED:
            reader.wrong.append(f"{path.name}: the table [{name}] is missing; it must be given.")
    for name, kind in _LISTS.items():
        if name in data:
            found[name] = reader.sections(kind, data[name], name)
    reader.wrong += [f"{path.name}: {one}" for one in _across(found, data)]
    if reader.wrong:
        raise PlanError(*reader.wrong)
    return Plan(path=path, text=text, old_keys=old_keys, **found)


_WEIGHTS = "ways are no longer weighed but counted in stops of light that can be seen in a print"
_OLD_KEYS = {
    ("costs", "iso_per_stop"): f"{_WEIGHTS}; a stop of ISO costs a stop",
    ("costs", "aperture_per_stop"): f"{_WEIGHTS}; an aperture costs what diffraction or depth take",
    ("costs", "extended_iso_per_stop"): f"{_WEIGHTS}; an extended ISO costs the headroom that it takes",
    ("costs", "per_filter"): f"{_WEIGHTS}; a glass costs its colour cast",
    ("costs", "per_touch"): "it counts stops now and is called costs.touch_stops, 0.6 where it is not given",
    ("costs", "time_off_per_stop"): f"{_WEIGHTS}; of ways that cost the same the one nearest to the time is taken",
    ("costs", "darker_error_per_stop"): f"{_WEIGHTS}; what rounding darkens costs as much as it is",
    ("costs", "brighter_error_per_stop"): f"{_WEIGHTS}; what rounding brightens earns nothing",
    ("limits", "diffraction"): "diffraction has a cost now and is no limit; write limits.aperture for one",
}


def _without_old_keys(data: dict[str, Any]) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return a plan's data without the keys of older plans, and a sentence on what became of each."""
    told = []
    data = dict(data)
    for (table, key), became in _OLD_KEYS.items():
        section = data.get(table)
        if isinstance(section, dict) and key in section:
            data[table] = {name: value for name, value in section.items() if name != key}
            told.append(f"{table}.{key} of this plan is no longer used: {became}.")
    return data, tuple(told)


def _across(found: dict[str, Any], data: dict[str, Any]) -> list[str]:
    """Return what is wrong between sections, as far as the sections involved could be read."""
    lens, base, limits = found.get("lens"), found.get("base"), found.get("limits")
    wrong: list[str] = []
    if lens and base and not lens.widest.exact * 0.98 <= base.aperture.exact <= lens.narrowest.exact * 1.02:
        wrong.append(
            f"base.aperture = {base.aperture.label}: the lens goes from {lens.widest.label} to {lens.narrowest.label}."
        )
    rungs: Rungs | None = found.get("rungs")
    if not _asks_for_rungs(data):
        wrong.append('rungs: no rung is asked for; give "from" and "to", "times", "streaks_px", or [[rung]] tables.')
    streaks = bool(rungs and rungs.streaks_px) or any(one.streak_px is not None for one in found.get("rung", ()))
    if streaks and "water" not in data:
        wrong.append("rungs.streaks_px: streak lengths need [water] with speed_m_s and distance_m.")
    if limits and limits.depth_m and lens and lens.focus_m and not limits.depth_m[0] < lens.focus_m < limits.depth_m[1]:
        wrong.append(
            f"limits.depth_m = {list(limits.depth_m)}: lens.focus_m = {lens.focus_m} must lie between the two."
        )
    entries = found.get("filter", ())
    graduated = [one.name for one in entries if one.kind == "graduated"]
    wanted = [("rungs.also", name) for name in (rungs.also if rungs else ())]
    wanted += [("rung.also", name) for one in found.get("rung", ()) for name in one.also or ()]
    wrong += [
        f'{key} = "{name}": no graduated filter has this name; known are {", ".join(graduated) or "none"}.'
        for key, name in wanted
        if name not in graduated
    ]
    return wrong + _across_filters(entries)


def _asks_for_rungs(data: dict[str, Any]) -> bool:
    rungs = data.get("rungs", {})
    return (
        bool(data.get("rung"))
        or not isinstance(rungs, dict)
        or any(rungs.get(key) for key in ("times", "from", "to", "streaks_px"))
    )


def _across_filters(filters: tuple[FilterEntry, ...]) -> list[str]:
    names = [one.name for one in filters]
    wrong = [
        f'{key_path(["filter", index, "name"])} = "{name}": another filter has this name; give each its own.'
        for index, name in enumerate(names)
        if name in names[:index]
    ]
    for index, one in enumerate(filters):
        for other in one.stacks_with or ():
            if other not in names:
                wrong.append(
                    f'{key_path(["filter", index, "stacks_with"])}: no filter is called "{other}"; '
                    f"known are {', '.join(names)}."
                )
    return wrong
