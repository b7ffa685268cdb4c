"""Light and glass, apart: against a dense solution that shares no code, closed forms, and drawn worlds."""

from __future__ import annotations

from collections.abc import Callable
from math import log2, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from tether.light.acting import Term
from tether.light.state import KINDS, Kind, LightSeen, LightState, told_after

Light = Callable[[NDArray[np.float64]], NDArray[np.float64]]
SIX = Term(name="six", doubt_stops=0.3, mistakable=True)
ONE_KIND = (Kind(wander_stops=0.2, minutes=3.0, turn=0.01, share=1.0),)


def frames(count: int, seed: int) -> list[LightSeen]:
    """Return short frames at drawn moments, off by drawn amounts, some through glass."""
    rng = np.random.default_rng(seed)
    at_s = np.cumsum(rng.uniform(5, 90, count))
    return [
        LightSeen(
            opened_s=float(at),
            open_s=0.0,
            off_stops=float(rng.normal(0, 0.2)),
            doubt_stops=0.01,
            terms=(SIX,) if place % 3 == 2 else (),
        )
        for place, at in enumerate(at_s)
    ]


def light_alike(kind: Kind, first_s: NDArray[np.float64], other_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the covariance of the light at two moments, written down from the processes' own kernels.

    A Matérn 3/2 process (Rasmussen and Williams 2006, eq. 4.17), and a once integrated random walk with a rate of its
    own (eq. 6.28), both from the base on.
    """
    a, b = first_s[:, None] / 60, other_s[None, :] / 60
    apart = sqrt(3) * np.abs(a - b) / kind.minutes
    low, high = np.minimum(a, b), np.maximum(a, b)
    walk = kind.turn**2 * (low**3 / 3 + (high - low) * low**2 / 2)
    whole = kind.wander_stops**2 * (1 + apart) * np.exp(-apart) + walk + 0.15**2 * a * b + kind.wander_stops**2
    return np.asarray(whole)


def test_filter_and_smoother_are_what_a_dense_solution_says() -> None:
    """All frames in one normal equation: nothing of it is the recursion that is tested."""
    (kind,) = ONE_KIND
    seen = frames(12, seed=3)
    at_s = np.array([0.0, *(one.opened_s for one in seen)])
    glass = np.array([0.0, *(float(bool(one.terms)) for one in seen)])
    told = np.array([0.0, *(one.off_stops for one in seen)])
    scatter = np.array([0.003**2, *[0.01**2 + 0.003**2] * len(seen)])  # no level is known better than 0.003
    light = light_alike(kind, at_s, at_s)
    whole = light + 0.3**2 * np.outer(glass, glass) + np.diag(scatter)
    wanted = light @ np.linalg.solve(whole, told)
    doubt = np.sqrt(np.diag(light - light @ np.linalg.solve(whole, light)))
    later = light_alike(kind, np.array([at_s[-1] + 120.0]), at_s)
    ahead = float((later @ np.linalg.solve(whole, told))[0])

    state, told_of = told_after(seen, LightState.at_base(0.0, kinds=ONE_KIND))
    assert [one.light.stops for one in told_of] == pytest.approx(list(wanted[1:]), abs=1e-6)
    assert [one.light.doubt_stops for one in told_of] == pytest.approx(list(doubt[1:]), abs=1e-5)
    of_glass = sqrt(0.09 - 0.09**2 * float(glass @ np.linalg.solve(whole, glass)))
    assert [one.terms.doubt_stops for one in told_of] == pytest.approx(list(of_glass * glass[1:]), abs=1e-5)
    assert state.light(float(at_s[-1]) + 120.0).stops == pytest.approx(ahead, abs=1e-6)
    assert state.term("six").stops == pytest.approx(float(0.09 * glass @ np.linalg.solve(whole, told)), abs=1e-6)


def test_a_long_opening_gathers_what_the_suns_course_gives_by_quadrature() -> None:
    """Twilight that falls faster and faster, 0.1 t² stops after t minutes: log2 of the mean over four minutes."""
    t = 2 + (np.arange(200_000) + 0.5) / 200_000 * 4
    state = LightState.at_base(0.0, expected=lambda at_s: -0.1 * (at_s / 60) ** 2)
    wanted = log2(float(np.mean(2.0 ** (-0.1 * t**2))))
    assert state.foretold(120.0, 240.0, ()).stops == pytest.approx(wanted, abs=0.003)
    assert state.foretold(120.0, 0.0, ()).stops == pytest.approx(-0.4, abs=0.003)


@pytest.mark.parametrize("falls", [0.0, 0.1, 0.4])
def test_light_that_falls_steadily_is_foretold_through_glass_that_is_off(falls: float) -> None:
    """A filter is off by 0.35 stop; once a frame through it was read, four minutes are foretold within 0.03 stop."""
    rng = np.random.default_rng(1)

    def off(opened_s: float, open_s: float, glass: float) -> float:
        moments = opened_s + (np.arange(4000) + 0.5) / 4000 * open_s
        return log2(float(np.mean(2 ** (-falls * moments / 60)))) + glass

    state = LightState.at_base(0.0)
    for at_s in (20.0, 25.0, 60.0, 75.0):
        state = state.saw(LightSeen(opened_s=at_s, open_s=0.01, off_stops=off(at_s, 0.01, 0.0), doubt_stops=0.005))
    for at_s in (150.0, 160.0):
        told = off(at_s, 4.0, 0.35) + float(rng.normal(0, 0.003))
        state = state.saw(LightSeen(opened_s=at_s, open_s=4.0, off_stops=told, doubt_stops=0.005, terms=(SIX,)))
    foretold = state.foretold(170.0, 240.0, (SIX,))
    assert foretold.stops == pytest.approx(off(170.0, 240.0, 0.35), abs=0.03)
    assert state.rate(170.0) == pytest.approx(-falls, abs=0.01)
    known, before = state.rate_known(170.0), LightState.at_base(0.0).rate_known(0.0)
    assert known.stops == pytest.approx(-falls, abs=0.01)
    beforehand = sqrt(0.65 * 0.15**2 + 0.35 * 0.02**2)  # as much as is thought possible, under clouds hardly any
    assert before.doubt_stops == pytest.approx(beforehand, abs=0.001)
    assert abs(known.stops + falls) < known.doubt_stops < before.doubt_stops / 3


def test_a_filter_that_is_another_one_is_not_taken_for_a_change_of_the_light() -> None:
    """Ten stops were said and six are on: four stops, thirteen times as far as the filter may be off."""
    state = LightState.at_base(0.0)
    for at_s in (10.0, 20.0):
        state = state.saw(LightSeen(opened_s=at_s, open_s=0.01, off_stops=0.0, doubt_stops=0.005))
    state = state.saw(LightSeen(opened_s=90.0, open_s=0.1, off_stops=4.0, doubt_stops=0.005, terms=(SIX,)))
    assert state.term("six").stops == pytest.approx(4.0, abs=0.1)
    assert abs(state.light(90.0).stops) < 0.1


def test_after_a_long_wait_it_is_the_sun_that_was_wrong_and_not_the_filter() -> None:
    """Expected by the sun: four stops less after three hours. Seen through a new filter: as bright as at first."""
    state = LightState.at_base(0.0, expected=lambda at_s: -2.0 * (max(at_s, 0.0) / 3600) ** 1.5 / 1.8)
    for at_s in np.linspace(10, 900, 14):
        state = state.saw(LightSeen(opened_s=float(at_s), open_s=0.01, off_stops=0.0, doubt_stops=0.02))
    late = state.saw(LightSeen(opened_s=11700.0, open_s=0.5, off_stops=0.0, doubt_stops=0.1, terms=(SIX,)))
    assert abs(late.term("six").stops) < 0.6, "a filter is off by a third of a stop, hardly by more"
    assert late.light(11700.5).stops == pytest.approx(0.0, abs=0.6)


def test_what_was_changed_before_the_lens_is_learned_anew_and_glass_is_not() -> None:
    state = LightState.at_base(0.0)
    state = state.saw(LightSeen(opened_s=10.0, open_s=0.01, off_stops=0.0, doubt_stops=0.005))
    state = state.saw(LightSeen(opened_s=20.0, open_s=0.01, off_stops=0.3, doubt_stops=0.005, terms=(SIX,)))
    knew = state.term("six")
    state = state.loosened(2.0)
    assert state.light(25.0).doubt_stops > 1.5
    assert state.term("six") == knew
    state = state.saw(LightSeen(opened_s=30.0, open_s=0.01, off_stops=-1.2 + 0.3, doubt_stops=0.005, terms=(SIX,)))
    assert state.light(30.0).stops == pytest.approx(-1.2, abs=0.1)


def test_the_sun_is_expected_and_what_is_off_it_is_told() -> None:
    """The sun's course falls by 0.2 stop a minute; frames lie half a stop under it, and so does what is foretold."""
    state = LightState.at_base(0.0, expected=lambda at_s: -0.2 * at_s / 60)
    for at_s in (30.0, 60.0, 120.0, 240.0):
        told = -0.2 * at_s / 60 - 0.5 * min(at_s / 60, 1)
        state = state.saw(LightSeen(opened_s=at_s, open_s=0.0, off_stops=told, doubt_stops=0.01))
    assert state.light(300.0).stops == pytest.approx(-1.0 - 0.5, abs=0.1)


def test_what_a_cloud_took_in_a_minute_is_not_taken_for_a_fall_that_goes_on() -> None:
    """Over half a stop darker a minute after the base, seen through glass, too: four minutes come out no darker yet.

    Clouds give back what they take, so the mean to come lies between the two.
    """
    state = LightState.at_base(0.0)
    for at_s, light in ((1.0, 0.0), (4.0, 0.0), (40.0, -0.3), (64.0, -0.6)):
        state = state.saw(LightSeen(opened_s=at_s, open_s=0.1, off_stops=light, doubt_stops=0.008))
    state = state.saw(LightSeen(opened_s=69.0, open_s=4.0, off_stops=-0.6, doubt_stops=0.008, terms=(SIX,)))
    assert -0.6 < state.foretold(74.0, 240.0, (SIX,)).stops < -0.1


def test_intervals_hold_in_worlds_of_their_own_kinds() -> None:
    """Drawn from one kind after another: the truth lies within two standard deviations in 90 to 99.5 of 100 cases."""
    inside = []
    for seed, kind in ((seed, kind) for seed in range(30) for kind in KINDS):
        rng = np.random.default_rng([seed, KINDS.index(kind)])
        at_s = np.cumsum(rng.uniform(3, 60, 10))
        cov = light_alike(kind, at_s, at_s) - kind.wander_stops**2
        light = rng.multivariate_normal(np.zeros(len(at_s)), cov + 1e-9 * np.eye(len(at_s)))
        state = LightState.at_base(0.0)
        for moment, stops in zip(at_s[:-1], light[:-1], strict=True):
            told = float(stops + rng.normal(0, 0.005))
            state = state.saw(LightSeen(opened_s=float(moment), open_s=0.0, off_stops=told, doubt_stops=0.005))
        foretold = state.light(float(at_s[-1]))
        inside.append(abs(light[-1] - foretold.stops) <= 2 * foretold.doubt_stops)
    assert 0.90 <= np.mean(inside) <= 0.995


# Looking back


def wandering(wander_stops: float, seed: int) -> Light:
    """Return light that falls by up to 0.2 stop/min, and wanders beside that for one to five minutes."""
    rng = np.random.default_rng([seed, 5])
    at_s, stays = np.arange(0.0, 1000.0, 5.0), float(np.exp(-5 / rng.uniform(60, 300)))
    stops = [0.0]
    for step in rng.normal(0, wander_stops * sqrt(1 - stays**2), len(at_s) - 1):
        stops.append(stays * stops[-1] + float(step))
    course = np.array(stops) - rng.uniform(0, 0.2) * at_s / 60
    return lambda moments: np.interp(moments, at_s, course)


def ladder_under(light: Light, seed: int = 0) -> list[LightSeen]:
    """Return bare frames, some through glass that is off by 0.35 stop, and a bare one; read to within 0.004 stop."""
    rng = np.random.default_rng(seed)

    def seen(opened_s: float, open_s: float, *terms: Term) -> LightSeen:
        moments = opened_s + (np.arange(2000) + 0.5) / 2000 * open_s
        off = log2(float(np.mean(np.exp2(light(moments))))) + 0.35 * len(terms) + float(rng.normal(0, 0.004))
        return LightSeen(opened_s=opened_s, open_s=open_s, off_stops=off, doubt_stops=0.004, terms=terms)

    bare = [seen(at_s, 0.02) for at_s in (0.0, 0.5, 60.0)]
    through = [seen(130.0, 4.0, SIX), seen(140.0, 60.0, SIX), seen(210.0, 240.0, SIX), seen(460.0, 420.0, SIX)]
    return [*bare, *through, seen(900.0, 0.02)]


@pytest.mark.parametrize("falls", [0.0, 0.2, 0.4])
def test_the_light_of_a_long_opening_is_its_mean_over_it(falls: float) -> None:
    """Light that falls by 0.4 stop/min over seven minutes gathers as much as light 0.22 stop over its middle."""
    seen = ladder_under(lambda at_s: -falls * at_s / 60)
    _, told_of = told_after(seen, LightState.at_base(0.0))
    for frame, told in zip(seen, told_of, strict=True):
        mean = log2(float(np.mean(np.exp2(-falls * (frame.opened_s + np.linspace(0, frame.open_s, 4001)) / 60))))
        assert told.light.stops == pytest.approx(mean, abs=0.015)


def test_a_ladder_in_steady_light_says_that_it_was_steady() -> None:
    """Eight frames agree to a hundredth over a quarter of an hour: the light is no less certain."""
    for seed in range(5):
        _, told_of = told_after(ladder_under(np.zeros_like, seed), LightState.at_base(0.0))
        assert max(one.light.doubt_stops for one in told_of) < 0.01


def test_looking_back_intervals_hold_under_skies_of_another_kind() -> None:
    """A wander of Ornstein and Uhlenbeck, from next to none to a cloud's, over falling light: nine in ten at least."""
    inside: list[bool] = []
    for seed, wander_stops in ((seed, wander) for seed in range(10) for wander in (0.003, 0.02, 0.1, 0.3)):
        light = wandering(wander_stops, seed)
        seen = ladder_under(light, seed)
        _, told_of = told_after(seen, LightState.at_base(0.0))
        for frame, told in zip(seen, told_of, strict=True):
            mean = log2(float(np.mean(np.exp2(light(frame.opened_s + np.linspace(0, frame.open_s, 999))))))
            inside.append(abs(told.light.stops - mean) <= 2 * told.light.doubt_stops)
    assert 0.90 <= np.mean(inside) <= 0.995
