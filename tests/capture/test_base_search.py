"""Finding the base exposure: which exposures may be, where the next frame is taken, and what is said where it fails."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import cos, inf, log2, pi
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.bench import base_search
from tests.plan.plans import abilities_of, plan_of
from tether.capture import base_search as module
from tether.capture.base_search import Looked, fastest_like, in_words, reachable
from tether.clock import SteppedClock, to_ns, to_s
from tether.errors import CameraError
from tether.files.raw import RawFrame
from tether.frames.clips import Clip
from tether.frames.exposing import WANTED_STOPS, Estimate, seen_in
from tether.outing.prepare import prepare
from tether.shot.shot import Shot, timed

PLAN = plan_of(base_search.PLAN)
ABILITIES = abilities_of(PLAN)
PLACES = reachable(PLAN, ABILITIES)


def shot(time: str, aperture: str = "f/8", iso: str = "100") -> Shot:
    first, second, third = (
        next(mark for mark in scale if mark.label == label)
        for scale, label in ((ABILITIES.times, time), (ABILITIES.apertures, aperture), (ABILITIES.isos, iso))
    )
    return timed(first, second, third)


def stops(one: Shot) -> float:
    return module._stops(one)


def estimate(of: float, off_stops: float = 0.1) -> Estimate:
    return Estimate(stops=of, uncertainty_stops=off_stops, next_stops=of, wanted_stops=0.5)


# What may be


def test_the_exposures_that_may_be_rise_and_keep_iso_until_the_times_end() -> None:
    ready = prepare(plan_of(base_search.PLAN + "[limits]\nextended_iso = true\niso = [50, 400]\n"))
    shots = reachable(ready.plan, ready.abilities)
    light = [shot.time_s * shot.iso.exact for shot in shots]
    assert light == sorted(light)
    assert {shot.aperture.label for shot in shots} == {"f/8"}
    for shot in shots:
        darkest, brightest = (
            shot.time_s == ready.abilities.times[0].exact,
            shot.time_s == ready.abilities.times[-1].exact,
        )
        assert shot.iso.label == "100" or (darkest if shot.iso.exact < 100 else brightest)
    assert {shots[0].iso.label, shots[-1].iso.label} == {"50", "400"}


def test_no_time_is_longer_than_the_plan_allows_and_one_must_be_left() -> None:
    short = plan_of(base_search.PLAN + '[limits]\nlongest = "1"\niso = [100, 100]\n')
    assert reachable(short, ABILITIES)[-1].time_label == "1"
    long_only = replace(ABILITIES, times=tuple(mark for mark in ABILITIES.times if mark.exact > 2))
    with pytest.raises(CameraError, match="offers no time that it keeps by itself within the limits"):
        reachable(short, long_only)


def test_the_nearest_on_the_darker_side_is_taken_and_the_darkest_where_there_is_none() -> None:
    one, two = shot("1/30"), shot("1/25")
    between = (stops(one) + stops(two)) / 2
    assert module._brightest_within(PLACES, between) == one
    assert module._brightest_within(PLACES, stops(two)) == two
    assert module._brightest_within(PLACES, -99) == PLACES[0]
    assert module._brightest_within(PLACES, 99) == PLACES[-1]


@pytest.mark.parametrize(
    ("past", "off_stops", "outside"),
    # Three standard uncertainties, and half a stop on the dark side, are not surely outside.
    [(0.4, 0.0, False), (0.6, 0.0, True), (0.6, 0.1, False), (0.9, 0.1, True), (0.6, inf, True)],
)
def test_the_right_exposure_may_lie_outside_of_what_may_be(past: float, off_stops: float, outside: bool) -> None:
    assert module._outside(PLACES, estimate(stops(PLACES[-1]) + past, off_stops)) is outside


def test_too_bright_an_exposure_is_outside_without_any_margin() -> None:
    assert module._outside(PLACES, estimate(stops(PLACES[0]) - 0.1, 0.0))
    assert not module._outside(PLACES, estimate(stops(PLACES[0]) - 0.1, 0.05))


# At the fastest rung's time


def with_rungs(text: str, base: str = "") -> Any:
    return plan_of(base_search.PLAN.replace('times = ["1/30"]', text) + base)


def test_where_no_rung_is_faster_than_the_base_there_is_nothing_to_see() -> None:
    assert fastest_like(PLAN, ABILITIES, shot("1/30")) is None
    assert fastest_like(with_rungs('times = ["1/30", "4"]'), ABILITIES, shot("1/40")) is None
    assert fastest_like(with_rungs('times = ["1/40"]'), ABILITIES, shot("1/30")) is None, "less than half a stop"


def test_the_aperture_is_opened_first_and_iso_raised_for_the_rest() -> None:
    base = shot("1/30")
    wide = fastest_like(with_rungs('times = ["4", "1/125"]'), ABILITIES, base)
    assert wide is not None
    assert (wide.time_label, wide.iso.label) == ("1/125", "100")
    assert abs(stops(wide) - stops(base)) < 0.6
    # Five stops from 1/30 to 1/1000: three of them from f/8 to f/2.8, two of ISO.
    fast = fastest_like(with_rungs('times = ["1/1000"]', "[limits]\niso = [100, 6400]\n"), ABILITIES, base)
    assert fast is not None
    assert fast.time_label == "1/1000"
    assert stops(fast) == pytest.approx(stops(base), abs=0.6)
    assert 400 >= fast.iso.exact > 100


def test_what_can_not_be_made_as_bright_is_not_made() -> None:
    plan = with_rungs('times = ["1/4000"]', "[limits]\niso = [100, 100]\n")
    assert fastest_like(plan, ABILITIES, shot("1/30")) is None


# In words


def looked(level: float, *, share: float = 1.0, **more: Any) -> Looked:
    """Return a frame whose first share of rows is at a level of the way to clipping, and whose rest is dark."""
    mosaic = np.full((200, 200), 512 + 100, dtype=np.uint16)
    mosaic[: round(share * 200)] = min(512 + round(level * 15871), 16383)
    raw = RawFrame(mosaic=mosaic, pattern="RGGB", black=(512.0,) * 4, white=16383)
    return Looked(shot=shot("1/60"), path=Path("x"), seen=seen_in(raw, 0.0, None), differs=(), **more)


def test_a_frame_says_what_it_showed() -> None:
    assert in_words(shot("1/60")) == "1/60 s, f/8, ISO 100"
    assert looked(0.25).sentence == "1/60 s, f/8, ISO 100: 2.00 stops of headroom."
    assert looked(1.0).sentence == "1/60 s, f/8, ISO 100: all white."
    assert looked(1.0, share=0.1).sentence == "1/60 s, f/8, ISO 100: 10 % clipped."
    differs = replace(looked(0.25), differs=("1/50 s",))
    assert differs.sentence.endswith("headroom. The file says: 1/50 s.")


@pytest.mark.parametrize(
    ("past", "off_stops", "said"),
    [
        (1.25, 0.1, "It is too dark: {last} is the brightest exposure that the plan allows, and 1.2 stops too dark."),
        (1.25, inf, "It is too dark: {last} is the brightest exposure that the plan allows, and black."),
    ],
)
def test_too_dark_says_how_much_where_that_is_known(past: float, off_stops: float, said: str) -> None:
    error = module._refusal(PLACES, estimate(stops(PLACES[-1]) + past, off_stops))
    assert error.sentences[0] == said.format(last=in_words(PLACES[-1]))
    assert error.sentences[1].startswith("See that the cap is off")


def test_too_bright_and_frames_that_do_not_agree_are_told_apart() -> None:
    bright = module._refusal(PLACES, estimate(stops(PLACES[0]) - 2.0))
    assert bright.sentences[0].endswith("is the darkest exposure that the plan allows, and 2.0 stops too bright.")
    assert module._refusal(PLACES, estimate(stops(PLACES[0]) - 2.0, inf)).sentences[0].endswith("and white.")
    assert module._refusal(PLACES, estimate(stops(shot("1/30")))).sentences[0].startswith("The frames do not agree")


@pytest.mark.parametrize(
    ("under", "witness", "said"),
    [
        ((0.005, 0.0, 0.009), "pair", ""),
        ((0.12, 0.08, 0.1), "pair", "red 12 %, green 8 %, blue 10 % (two equal frames show it)."),
        ((0.12, 0.0, 0.0), "step", "red 12 %, green 0 %, blue 0 % (a known step between two frames show it)."),
    ],
)
def test_where_the_sensor_clips_is_told_where_the_file_tells_otherwise(
    under: tuple[float, float, float], witness: Any, said: str
) -> None:
    levels = {channel: round(512 + (1 - share) * 15871) for channel, share in zip("RGB", under, strict=True)}
    raw = RawFrame(mosaic=np.zeros((4, 4), np.uint16), pattern="RGGB", black=(512.0,) * 4, white=16383)
    told = module._clip_words(Clip(levels=levels, witness=witness), raw)  # type: ignore[arg-type]
    assert told == (f"Pixels clip below the white level that the file tells: {said}" if said else "")


# Spread over time


START = next(mark for mark in ABILITIES.times if mark.label == "1/80")


class Slow:
    """A session at water whose headroom goes slowly from one side of its mean, 0.5 stop at 1/60 s, to the other."""

    abilities = ABILITIES

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.clock = SteppedClock()
        self.taken_s: list[float] = []
        monkeypatch.setattr(module._Search, "_shoot", lambda *given, **more: self._shoot(*given, **more))

    def _shoot(self, search: Any, one: Shot, *, counts: bool = True, then: str = "") -> tuple[Looked, RawFrame]:
        at_s = to_s(self.clock.now_ns())
        self.taken_s.append(at_s)
        self.clock.wait_until(to_ns(at_s + 0.5))
        brighter = stops(one) - stops(shot("1/60"))
        found = looked(2.0 ** (brighter - 0.5 + 0.25 * cos(2 * pi * at_s / 60)), counts=counts, then=then)
        found = replace(found, shot=one, seen=replace(found.seen, stops=stops(one)))
        search._looked.append(found)
        search._tell(found)
        return found, RawFrame(mosaic=np.zeros((4, 4), np.uint16), pattern="RGGB", black=(0.0,) * 4, white=1)


def test_frames_near_the_base_are_spread_so_that_slow_water_does_not_mislead(monkeypatch: pytest.MonkeyPatch) -> None:
    """Frames of one moment all say 0.25 stop of headroom; the mean of a minute is 0.5."""
    session, said, idle = Slow(monkeypatch), list[Looked](), list[float]()
    found = module.find_base(
        session,  # type: ignore[arg-type]
        PLAN,
        start=START,
        frames=12,
        tell=said.append,
        idle=lambda: idle.append(to_s(session.clock.now_ns())),
    )
    true_stops = stops(shot("1/60")) + 0.5 - WANTED_STOPS
    assert stops(found.shot) + found.headroom_stops - WANTED_STOPS == pytest.approx(true_stops, abs=0.1)
    assert 40 < session.taken_s[-1] - session.taken_s[0] < 60
    (waits,) = [one.sentence for one in said if one.then]
    assert waits.endswith("of headroom. 11 more frames follow within 55 s, as the water wanders.")
    assert max(after - before for before, after in pairwise(idle)) < 1.5, "who waits can stop it"


def test_what_is_shown_last_is_the_exposure_that_is_meant_not_the_fastest_rung_beside_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    session, said = Slow(monkeypatch), list[Looked]()
    plan = plan_of(base_search.PLAN.replace('times = ["1/30"]', 'times = ["1/1000"]'))
    found = module.find_base(session, plan, start=START, frames=3, tell=said.append)  # type: ignore[arg-type]
    beside = [one for one in said if not one.counts]
    assert [one.shot.time_label for one in beside] == ["1/1000"] * 3, "one with each frame of the base"
    assert said[-1].counts
    assert abs(stops(said[-1].shot) - stops(found.shot)) < 0.4, "the base, or a mark beside it where the water wandered"


@pytest.mark.parametrize(("frames", "longest_s"), [(2, 10), (8, 40), (30, 65)])
def test_fewer_frames_take_less_time_and_many_no_more_than_a_minute(
    monkeypatch: pytest.MonkeyPatch, frames: int, longest_s: float
) -> None:
    session = Slow(monkeypatch)
    module.find_base(session, PLAN, start=START, frames=frames)  # type: ignore[arg-type]
    assert longest_s - 10 < session.taken_s[-1] < longest_s


# What is found


def test_the_base_is_the_mark_below_and_leaves_what_that_leaves() -> None:
    below = shot("1/30")
    found = module._found(PLACES, [], estimate(stops(below) + 0.2, 0.1), ())
    assert found.shot == below
    assert found.headroom_stops == pytest.approx(0.7)
    assert found.uncertainty_stops == pytest.approx(0.128, abs=0.001), "0.1 by the frames, 0.08 that all have alike"


def test_what_leaves_too_little_or_is_far_too_dark_is_no_base() -> None:
    with pytest.raises(CameraError, match="too bright"):
        module._found(PLACES, [], estimate(stops(PLACES[0]) - 0.1), ())
    last = stops(PLACES[-1])
    assert module._found(PLACES, [], estimate(last + 0.45), ()).shot == PLACES[-1]
    with pytest.raises(CameraError, match="too dark"):
        module._found(PLACES, [], estimate(last + 0.55), ())


def test_how_bright_a_frame_is_is_told_by_its_mean_beside_the_others_not_by_its_labels() -> None:
    beside = [looked(0.25), looked(0.25), looked(0.9, counts=False)]
    # Half as bright as its labels say: it has a stop more room than it seems, at the others' brightness.
    dim = looked(0.125).seen
    assert module._room(dim, beside) == pytest.approx(2.0, abs=0.01)
    # Without any that count its labels are believed.
    assert module._room(dim, [looked(0.25, counts=False)]) == pytest.approx(3.0, abs=0.01)


def test_a_body_with_whole_stops_only_gets_the_mark_below() -> None:
    ready = prepare(plan_of(base_search.PLAN))
    whole = tuple(mark for mark in ready.abilities.times if (log2(mark.exact) % 1) < 0.01)
    ready = replace(ready, abilities=replace(ready.abilities, times=whole))
    found = base_search.search(ready, base_search.scene(2, (240, 160), still=True), whole[3], 2)
    assert WANTED_STOPS <= found.headroom_stops < WANTED_STOPS + 1
    assert found.shot.time_s in [mark.exact for mark in whole]


def test_a_few_scenes_of_the_bench() -> None:
    still = list(base_search.results(3, still=True, window_px=(240, 160)))
    assert all(abs(one.error_stops) < 0.05 for one in still)
    assert all(one.frames <= 13 for one in still), "three that come near, two for the clip, and eight spread"
    (moving,) = base_search.results(1, still=False, window_px=(240, 160))
    assert abs(moving.error_stops) < 4 * moving.uncertainty_stops
    assert moving.wander_stops > 0.03
