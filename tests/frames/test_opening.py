"""The shutter by light: a few drawn simulated ones (more: `tests.bench.hold_delay`), and made frames."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.hold_delay import draw, measured
from tether.frames.cells import Cells
from tether.frames.mosaic import CHANNELS
from tether.frames.opening import Lamplit, flickers, opening

SHAPE = (20, 30)


def frame(mark: str | None, says_s: float, open_s: float, at_s: float, seed: int, lamp: float = 1.0) -> Lamplit:
    rng = np.random.default_rng([9, seed])
    wall = np.linspace(1000, 3000, SHAPE[0] * SHAPE[1]).reshape(SHAPE) * rng.normal(1, 0.004, SHAPE)
    levels = dict.fromkeys(CHANNELS, wall * open_s * lamp)
    return Lamplit(cells=Cells(levels=levels, usable=np.ones(SHAPE, dtype=bool)), mark=mark, time_s=says_s, at_s=at_s)


def frames(delay_s: float, gives: dict[str, float] | None = None, spread_s: float = 0.0) -> list[Lamplit]:
    """Return holds of 2 and 4 s among timed frames, under a lamp that dims by 0.05 stop/min."""
    rng = np.random.default_rng(5)
    says = {"1": 1.0, "2": 2.0, "4": 4.0}
    taken = []
    for turn in range(25):
        at_s = 6.0 * turn
        lamp = 2.0 ** (-0.05 * at_s / 60)
        if turn % 2:
            held_s = (2.0, 4.0)[turn // 2 % 2]
            taken.append(frame(None, held_s, held_s + delay_s + rng.normal(0, spread_s), at_s, turn, lamp))
        else:
            label = list(says)[turn // 2 % 3]
            taken.append(frame(label, says[label], (gives or {}).get(label, says[label]), at_s, turn, lamp))
    return taken


@pytest.mark.parametrize("seed", [0, 4])
def test_a_drawn_shutter_is_found_within_two_milliseconds(seed: int) -> None:
    shutter = draw(seed)
    found = measured(shutter)
    assert abs(found.delay_s.value - shutter.delay_s) <= 0.002
    assert {one.label for one in found.lying} == ({shutter.lies} if shutter.lies else set())


@pytest.mark.parametrize("delay_s", [-0.05, 0.0, 0.08])
def test_the_delay_is_the_same_at_every_length(delay_s: float) -> None:
    found = opening(frames(delay_s))
    assert found.delay_s.value == pytest.approx(delay_s, abs=0.001)
    assert found.lamp_per_minute == pytest.approx(-0.05, abs=0.003)
    assert found.lying == ()
    assert found.spread_s < 0.002
    assert [held_s for held_s, _ in found.each_s] == [2.0, 4.0] * 6


def test_the_spread_is_that_of_single_holds() -> None:
    found = opening(frames(0.05, spread_s=0.02))
    assert found.spread_s == pytest.approx(0.02, rel=0.5)
    assert 0.005 < found.delay_s.half_width < 0.03
    assert abs(found.delay_s.value - 0.05) <= found.delay_s.half_width


def test_a_mark_that_lies_is_told_and_does_not_bend_the_delay() -> None:
    found = opening(frames(0.03, gives={"4": 4.3}))
    (lying,) = found.lying
    assert (lying.label, lying.says_s) == ("4", 4.0)
    assert lying.gives_s.value == pytest.approx(4.3, abs=0.01)
    assert found.delay_s.value == pytest.approx(0.03, abs=0.001)


def test_short_frames_tell_a_lamp_that_flickers() -> None:
    """A sixtieth of a second is one and two thirds of a ripple of 100 Hz: 30 % deep, it scatters by some %."""
    rng = np.random.default_rng(6)
    steady = [frame("1/60", 1 / 60, 1 / 60, 3.0 * turn, turn) for turn in range(8)]
    ripples = [
        frame("1/60", 1 / 60, 1 / 60, 3.0 * turn, turn, 1 + 0.3 * 0.17 * float(np.sin(rng.uniform(0, 6.28))))
        for turn in range(8)
    ]
    assert not flickers(steady)
    assert flickers(ripples)


def test_too_few_frames_are_refused() -> None:
    with pytest.raises(ValueError, match="three held"):
        opening(frames(0.0)[:3])
