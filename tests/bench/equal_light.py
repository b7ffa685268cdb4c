"""How equal the light of a ladder comes out: ``python -m tests.bench.equal_light [SEEDS] [--files]``.

Whole ladders through the engine on a stepped clock: twelve rungs from 1/250 s to 4 min, two filters never measured
and off by up to 0.4 stop, f-numbers and ISO values off by up to 0.1 stop, light by courses that the estimator does
not know.
Truth is what the simulated world did; the levels that the run reads are truth with scatter, or (`--files`) read from
its files. What is judged is each rung's level against what the ladder promises: the base's, less what the plan darkens.
Figures of simulation.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from math import log2
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

import numpy as np

from tests.bench.cloud_oracles import Frame, by_frames, by_sight
from tests.light.evenings import measured_evening
from tests.plan.plans import HEAD
from tether.body.simulated.card import CardExposure
from tether.body.simulated.light import light_s
from tether.body.simulated.world import SensorTruth, World
from tether.clock import SteppedClock
from tether.engine.analysis_queue import Reader
from tether.exposure.abilities import Abilities
from tether.exposure.stops import aperture_stops, iso_stops
from tether.frames.asked import BaseAsked, FrameAnswer, PictureAsked
from tether.journal.readings import BaseReadings, FrameReadings, RockSaid
from tether.journal.telling import read_outing
from tether.light.spot import Spot
from tether.light.sun import passes
from tether.plan.file import Plan, plan_from_text
from tether.plan.planner import make_ladder
from tether.report.audit import audit
from tether.service.rehearsal import Rehearsal

GOAL_STEADY, GOAL_FALLING, ROUNDING, CLOUDY = 0.07, 0.12, 1 / 6, 1.2
SCATTER_STOPS = 0.004
TIMES = ("1/250", "1/60", "1/15", "1/4", "1", "4", "8", "15", "30", "1m", "2m", "4m")
PLAN = f"""
[base]
time = "1/60"
aperture = "f/8"
iso = 100
[rungs]
times = {list(TIMES)}
frames = 1
[limits]
aperture = ["f/4", "f/16"]
iso = [100, 3200]
[readings]
regions = "as proposed"
correct = "CORRECT"
[[filter]]
name = "Calder 6"
stops = 6
[[filter]]
name = "Calder 10"
stops = 10
""".replace("'", '"')

Points = tuple[tuple[float, float], ...]


def steady(rate: float) -> Callable[[int], Points]:
    """Return light that falls by so many stops a minute."""
    return lambda _seed: ((0.0, 0.0), (7200.0, -120.0 * rate))


def cumulus(seed: int) -> Points:
    """Return clouds with soft edges that pass: their gaps, lengths, depths and edges drawn (our own generator)."""
    rng = np.random.default_rng([seed, 71])
    points, at_s, level = [(0.0, 0.0)], rng.exponential(150), 0.0
    while at_s < 5400:
        depth, edge_s = rng.uniform(0.1, 1.0), rng.uniform(8, 45)
        points += [(at_s, level), (at_s + edge_s, level - depth)]
        at_s += edge_s + rng.exponential(120) + 1
        back_s = rng.uniform(8, 45)
        points += [(at_s, level - depth), (at_s + back_s, level)]
        at_s += back_s + rng.exponential(200) + 1
    return tuple((float(at), float(stops)) for at, stops in points)


def dusk(seed: int) -> Points:
    """Return measured evenings (city medians of tests/data/twilight_illuminance.csv), begun with the sun at 5° to 1°.

    The sun sinks by 0.2° a minute, as at 35° north at the equinox (tests/data/twilight_rates.csv).
    """
    begin = _dusk_begins(seed)
    altitudes, stops = measured_evening()
    first = float(np.interp(begin, altitudes, stops))
    later = [
        (300.0 * (begin - at), float(level) - first) for at, level in zip(altitudes, stops, strict=True) if at < begin
    ]
    return ((0.0, 0.0), *reversed(later))


def _dusk_begins(seed: int) -> float:
    """Return the sun's altitude when a measured evening begins [degrees]."""
    return float(np.random.default_rng([seed, 72]).uniform(1, 5))


COURSES: dict[str, Callable[[int], Points]] = {
    "steady": steady(0.0),
    "falls 0.1/min": steady(0.1),
    "falls 0.2/min": steady(0.2),
    "falls 0.4/min": steady(0.4),
    "measured dusk": dusk,
    "measured dusk, the place known": dusk,
    "clouds": cumulus,
}


@dataclass(frozen=True)
class Truth:
    """What is really so in one drawn world."""

    world: World
    glass: dict[str, float]
    steps: dict[str, float]

    @classmethod
    def drawn(cls, seed: int, light: Points, small: SensorTruth, *, steps: bool) -> Truth:
        rng = np.random.default_rng([seed, 70])
        glass = {name: float(rng.uniform(-0.4, 0.4)) for name in ("Calder 6", "Calder 10")}
        off = 0.1 if steps else 0.0  # the pictures of the simulated body are made with exact ones
        drawn = {f"f/{value:.1f}": float(rng.uniform(-off, off)) for value in sorted(_APERTURES)}
        drawn |= {f"ISO {value}": float(rng.uniform(-off, off)) for value in range(100, 30_000)}
        filters = {
            name: {"stops": int(name.split()[1]) - off, "cast_stops": (0.0, 0.0, 0.0)} for name, off in glass.items()
        }
        world = World.model_validate({"seed": seed, "light": light, "filters": filters, "sensor": small})
        return cls(world, glass, drawn)

    def level(self, exposure: CardExposure) -> float:
        """Return how bright a frame really is [stops, free zero]."""
        stops = aperture_stops(exposure.aperture, 8.0) + iso_stops(exposure.iso, 100.0)
        if abs(aperture_stops(exposure.aperture, 8.0)) > 0.01:
            stops += self.steps[f"f/{exposure.aperture:.1f}"]
        if exposure.iso != 100:
            stops += self.steps[f"ISO {exposure.iso:.0f}"]
        light = sum(
            light_s(spell, self.world) * 2 ** -float(self.world.stack_stops(spell.fitted)[1])
            for spell in exposure.spells
        )
        return stops + log2(light)

    def seen(self, exposure: CardExposure) -> Frame:
        """Return what a frame shows of light and filters, its settings taken off."""
        (spell,) = exposure.spells
        fitted = frozenset(one.name for one in spell.fitted)
        light = log2(light_s(spell, self.world) / spell.open_s)
        return Frame(spell.start_s, spell.open_s, fitted, light, sum(self.glass[name] for name in fitted))


_APERTURES = [2 ** (third / 6) for third in range(60)]


class Numbers(Reader):
    """Reads levels from the truth of the world, with scatter."""

    truth: Truth
    root: Path
    rng: np.random.Generator
    base: float | None = None

    @property
    def card(self) -> Path:
        """The card of the simulated body."""
        return next(self.root.glob("**/card"))

    def read(self, frame: int, path: Path, aperture: float | None = None, time_s: float | None = None) -> None:
        true = self.truth.level(_exposure(self.card, path))
        self.base = true if self.base is None else self.base
        level = true - self.base + self.rng.normal(0, SCATTER_STOPS)
        rock = RockSaid(brighter_stops=dict.fromkeys("RGB", level), uncertainty_stops=SCATTER_STOPS, lifted_share=0.0)
        readings = FrameReadings(headroom_stops=1.0, clipped_share=0.0, rock=rock)
        self._done.append((frame, FrameAnswer(frame=readings)))

    def at_once(self, asked: BaseAsked | PictureAsked) -> FrameAnswer:
        if isinstance(asked, PictureAsked):
            return FrameAnswer()
        first = FrameReadings(headroom_stops=1.0, clipped_share=0.0)
        read = BaseReadings(cells=("r",), water_share=0.3, rock_share=0.5, first=first)
        return FrameAnswer(base=read)


@dataclass(frozen=True)
class Ahead:
    """What a person could have told of the light: its rate [stops/min], or the place and the time.

    `in_plan` is whether they did: the plan names the place, and the ladder begins then.
    """

    falls: float = 0.0
    place: Spot | None = None
    begins: datetime | None = None
    in_plan: bool = False


def ahead(name: str, seed: int) -> Ahead:
    """Return what could have been told of a course; nothing of clouds."""
    if name.startswith("measured dusk"):
        noon = datetime(2026, 3, 20, 12, tzinfo=UTC)
        spot = Spot(latitude=35.0, longitude=0.0)
        begins = passes(spot, _dusk_begins(seed), noon, noon + timedelta(hours=12), rising=False)
        return Ahead(place=spot, begins=begins, in_plan=name.endswith("known"))
    return Ahead(falls=float(name.split()[1].removesuffix("/min"))) if name.startswith("falls") else Ahead()


def forecast_s(plan: Plan, abilities: Abilities, told: Ahead) -> float:
    """Return how long a ladder is foretold to take [s], where a person has told of the light what they could."""
    rungs = plan.rungs.model_copy(update={"order": "short first"})
    light = plan.light.model_copy(update={"trend": "falling", "stops_per_min": told.falls} if told.falls else {})
    spot = {"latitude": told.place.latitude, "longitude": told.place.longitude} if told.place else {}
    place = plan.place.model_copy(update=spot)
    plan = replace(plan, rungs=rungs, light=light, place=place)
    return make_ladder(plan, abilities, begins=told.begins).forecast.total_s


def _exposure(card: Path, path: Path) -> CardExposure:
    number = int(path.stem.rsplit("_", 1)[1])
    return CardExposure.model_validate_json((card / f"SIM_{number:04}.json").read_text())


@dataclass
class Worked:
    """What came of one ladder: how far each rung's level is off what is promised [stops], by how it is made."""

    held: dict[str, float] = field(default_factory=dict)
    timed: dict[str, float] = field(default_factory=dict)
    unreachable: int = 0
    audit: list[tuple[float, float]] = field(default_factory=list)
    forecast: float = 0.0
    took: float = 0.0
    opened: dict[str, tuple[float, float]] = field(default_factory=dict)
    frames: list[tuple[str, Frame]] = field(default_factory=list)


def work(seed: int, light: Points, root: Path, *, ahead: Ahead, follow: bool, files: bool = False) -> Worked:
    """Work one ladder and judge it by the truth."""
    small = SensorTruth(window_px=(240, 160) if files else (120, 120))
    truth = Truth.drawn(seed, light, small, steps=not files)
    text = HEAD + PLAN.replace("CORRECT", "take" if follow else "off")
    if ahead.in_plan and ahead.place and ahead.begins:
        text += f"[place]\nlatitude = {ahead.place.latitude}\nlongitude = {ahead.place.longitude}\n"
    rehearsal = Rehearsal.of(plan_from_text(text), root=root, world=truth.world)
    if ahead.in_plan and ahead.begins:
        rehearsal = replace(rehearsal, clock=SteppedClock(start_utc=ahead.begins))
    numbers = Numbers()
    numbers.truth, numbers.root, numbers.rng = truth, root, np.random.default_rng([seed, 73])

    def reader(**_how: Any) -> Reader:
        return numbers

    if files:
        done = rehearsal.run()
    else:
        with patch("tether.service.setup.Reader", reader):
            done = rehearsal.run()
    told = read_outing(done.folder)
    ladder = told.ladders[-1]
    return _judged(ladder, truth, numbers, rehearsal, ahead)


def _judged(ladder: Any, truth: Truth, numbers: Numbers, rehearsal: Rehearsal, ahead: Ahead) -> Worked:
    worked = Worked()
    base = truth.level(_exposure(numbers.card, Path(ladder.frames[0].files[-1].name)))
    planned = {rung.number: rung for rung in rehearsal.ready.ladder.rungs}
    limited = {note.rung for note in ladder.notes if "than promised" in note.text}
    exposures = {}
    for frame in ladder.frames:
        exposures[frame.frame] = _exposure(numbers.card, Path(frame.files[-1].name))
        label = planned[frame.rung].asked.label if frame.kind == "rung" and frame.rung is not None else ""
        worked.frames.append((label, truth.seen(exposures[frame.frame])))
    for frame in ladder.frames:
        if frame.kind != "rung" or frame.rung is None:
            continue
        rung = planned[frame.rung]
        promised = -rung.choice.darker_by_stops
        off = truth.level(exposures[frame.frame]) - base - promised
        if frame.rung in limited:
            continue
        (worked.held if frame.way == "held" else worked.timed)[rung.asked.label] = off
        spell = exposures[frame.frame].spells[0]
        worked.opened[rung.asked.label] = (spell.start_s, exposures[frame.frame].open_s)
    worked.unreachable = len(planned) - len(worked.held) - len(worked.timed)  # left out ones, too
    for split in audit(ladder):
        exposure = exposures[split.frame]
        light = log2(sum(light_s(spell, truth.world) for spell in exposure.spells) / exposure.open_s)
        first = exposures[min(exposures)]
        light -= log2(sum(light_s(spell, truth.world) for spell in first.spells) / first.open_s)
        worked.audit.append((split.light_stops - light, split.uncertainty_stops))
    worked.forecast = forecast_s(rehearsal.ready.plan, rehearsal.ready.abilities, ahead)
    times = list(exposures.values())
    worked.took = max(e.spells[-1].end_s for e in times) - min(e.spells[0].start_s for e in times)
    return worked


def oracle(worked: list[Worked], lights: list[Points]) -> dict[str, float]:
    """Return, for each held rung, the rms [stops] of the best foretelling by one who knows the light until it opens.

    For each rung: the light's mean over the opening, foretold from its last value, its mean over the last minute and
    the last ten, by least squares over all worlds (fitted to the truth itself: nobody could do better linearly).
    """
    found = {}
    for label in {label for one in worked for label in one.held}:
        rows, truths = [], []
        for one, light in zip(worked, lights, strict=True):
            if label not in one.held:
                continue
            at_s, open_s = one.opened[label]
            moments, levels = np.array(light).T
            now = float(np.interp(at_s, moments, levels))
            mean = float(np.log2(np.mean(np.exp2(np.interp(at_s + np.linspace(0, open_s, 400), moments, levels)))))
            rows.append(
                [1.0]
                + [float(np.interp(at_s - np.linspace(0, ago, 60), moments, levels).mean()) - now for ago in (60, 600)]
            )
            truths.append(mean - now)
        solved = np.linalg.lstsq(np.array(rows), np.array(truths), rcond=None)[0]
        found[label] = float(np.sqrt(np.mean((np.array(truths) - np.array(rows) @ solved) ** 2)))
    return found


def best(worked: list[Worked], lights: list[Points]) -> tuple[float, float]:
    """Return the rms [stops] of the best forecasts of held rungs by who sees the light, and who sees frames only."""
    sight, frames = [], []
    for seed, (one, light) in enumerate(zip(worked, lights, strict=True)):
        foretold = by_frames([frame for _, frame in one.frames], seed)
        for (label, frame), stops in zip(one.frames, foretold, strict=True):
            if label in one.held:
                sight.append(frame.light_stops - by_sight(light, frame.opened_s, frame.open_s, seed))
                frames.append(frame.light_stops + frame.glass_stops - stops)
    return _rms(sight), _rms(frames)


def _rms(values: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def main(seeds: int, *, follow: bool, files: bool, only: str | None, first: int = 0) -> None:
    """Print how equal the light comes out."""
    how = "on" if follow else "off"
    print(f"{seeds} ladders of {len(TIMES)} rungs each, correcting {how}; stops off what is promised")
    print(f"{'light':31}{'bulb: p95':>10}{'most':>8}{'timed: p95':>12}{'most':>8}{'unreachable':>13}  goal met")
    for name, course in COURSES.items():
        if only and only not in name:
            continue
        worked, lights = [], []
        for seed in range(first, first + seeds):
            with TemporaryDirectory() as folder:
                lights.append(course(seed))
                worked.append(work(seed, lights[-1], Path(folder), ahead=ahead(name, seed), follow=follow, files=files))
        held = np.abs([off for one in worked for off in one.held.values()])
        timed = np.abs([off for one in worked for off in one.timed.values()])
        out = sum(one.unreachable for one in worked)
        goal = GOAL_STEADY if name == "steady" else GOAL_FALLING
        if name == "clouds":
            known = oracle(worked, lights)
            rms = {
                label: float(np.sqrt(np.mean([one.held[label] ** 2 for one in worked if label in one.held])))
                for label in known
            }
            whole, fitted = _rms(list(rms.values())), _rms(list(known.values()))
            met = f"rms {whole:.3f}, oracle {fitted:.3f}: {whole / fitted:.2f} × (goal {CLOUDY})"
            every = _rms([off for one in worked for off in one.held.values()])
            sight, frames = best(worked, lights)
            met += f"; who knows how clouds go and sees the light {sight:.3f}: {every / sight:.2f} ×,"
            met += f" sees the frames only {frames:.3f}: {every / frames:.2f} ×"
        else:
            within = np.mean(held <= goal) >= 0.95 and held.max() <= 2 * goal
            most = goal + ROUNDING
            timed_within = np.mean(timed <= most) >= 0.95 and timed.max() <= most + goal
            met = f"bulb {within} (±{goal}), timed {timed_within} (±{most:.2f})"
        worst = max((abs(off), seed, label) for seed, one in enumerate(worked) for label, off in one.held.items())
        p95 = (float(np.quantile(each, 0.95)) for each in (held, timed))
        print(
            f"{name:31}{next(p95):10.3f}{held.max():8.3f}{next(p95):12.3f}{timed.max():8.3f}{out:13}  {met}", flush=True
        )
        off, doubt = np.array([one for each in worked for one in each.audit]).T
        print(
            f"{'':31}audit: p95 {np.quantile(np.abs(off), 0.95):.3f},"
            f" within twice its ± {np.mean(np.abs(off) <= 2 * doubt):.1%};"
            f" worst bulb: seed {worst[1]}, {worst[2]};"
            f" took {np.mean([one.took / one.forecast for one in worked]):.2f} of the forecast"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("seeds", nargs="?", type=int, default=30)
    parser.add_argument("--files", action="store_true")
    parser.add_argument("--off", action="store_true")
    parser.add_argument("--only")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    given = parser.parse_args()
    main(given.seeds, follow=not given.off, files=given.files, only=given.only, first=given.first)
