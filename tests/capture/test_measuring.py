"""What a measurement leads to: what is asked of the body, and what goes into its file."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tests.body.simulated.rig import ABILITIES
from tests.engine.rig import BASE, SIX, SMALL
from tests.plan.plans import plan_of
from tether.body.bodyfile import load_body_file
from tether.body.connection import SIMULATED
from tether.body.ownfile import measured
from tether.body.simulated.world import World
from tether.capture.measuring import Measuring, hold_values, narrower, store_filters
from tether.capture.session import shooting
from tether.clock import SteppedClock
from tether.errors import PlanError
from tether.exposure.filters import Filter
from tether.frames.opening import Lying, ShutterTiming
from tether.frames.wandering import Interval
from tether.outing.prepare import prepare
from tether.outing.world import world_of
from tether.plan.measured import MeasuredFilter, filters_of_text

TEN = MeasuredFilter(
    name="Calder 10", stops=10.4, uncertainty_stops=0.02, measured_on=date(2026, 11, 25), with_body="B", simulated=True
)


def found(delay_s: float, *lying: Lying) -> ShutterTiming:
    return ShutterTiming(
        delay_s=Interval(value=delay_s, half_width=0.003),
        spread_s=0.002,
        each_s=(),
        lying=lying,
        lamp_per_minute=0.0,
    )


@pytest.mark.parametrize(("delay_s", "opens_s", "closes_s"), [(0.03, 0.0, 0.03), (-0.03, 0.03, 0.0)])
def test_only_the_difference_of_the_delays_is_known_and_none_is_negative(
    delay_s: float, opens_s: float, closes_s: float
) -> None:
    values = hold_values(found(delay_s), load_body_file("simulated"))
    assert values == {
        "hold.open_delay_s": opens_s,
        "hold.close_delay_s": closes_s,
        "hold.delay_uncertainty_s": 0.005,
    }


def test_a_mark_that_lies_stands_in_the_file_beside_those_that_were_known(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('like = "simulated"\n[times]\nmeans_s = { "30" = 30.0 }\n')
    lying = Lying(label="1.3", says_s=1.26, gives_s=Interval(value=1.402, half_width=0.001))
    measured(path, hold_values(found(0.0, lying), load_body_file(str(path))), "by light")
    assert load_body_file(str(path)).times.means_s == {"30": 30.0, "1.3": 1.402}
    assert load_body_file(str(path)).sources["times.means_s"].what == "by light"


def test_what_is_measured_again_takes_its_own_place_and_leaves_the_rest(tmp_path: Path) -> None:
    """A rehearsal on the simulated body never writes over what a camera measured."""
    path, real = tmp_path / "new" / "filters.toml", TEN.model_copy(update={"simulated": False})
    store_filters(path, [real, TEN])
    path.write_text("# mine\n" + path.read_text())
    again = TEN.model_copy(update={"stops": 10.5, "cast_stops": {"R": 0.1, "B": -0.1}})
    store_filters(path, [again])
    assert path.read_text().startswith("# mine")
    assert filters_of_text(path.read_text()) == (real, again)


@pytest.mark.prove
def test_a_filter_beyond_the_bodys_longest_time_is_measured_by_a_hold() -> None:
    """With 15 stops on, 1/125 s and what brings the picture up to clipping take some minutes."""
    plan = plan_of(BASE + '[rungs]\ntimes = ["1/125"]\n' + SIX)
    ready = prepare(plan)
    world = world_of(plan, World.model_validate({"sensor": SMALL, "filters": {"Long 15": {"stops": 15.3}}}))
    strong = Filter(name="Long 15", nominal_stops=15.0)
    said: list[str] = []
    with shooting(SIMULATED, ready, world, clock=SteppedClock()) as session:
        base = plan.base
        one = Measuring(session, base.aperture, base.iso, base.time.exact, (), said.append)
        measured_one = one.filter((strong,))
    assert any("bulb" in sentence for sentence in said)
    assert measured_one.strength.stops["G"].value == pytest.approx(15.3, abs=0.02)
    assert measured_one.good
    assert measured_one.warnings == ()


def test_a_lens_that_is_stopped_down_already_is_refused() -> None:
    assert narrower(ABILITIES, ABILITIES.apertures[0]).exact == pytest.approx(2 * 2.0**1.5, rel=0.02)
    with pytest.raises(PlanError, match="begin at a wider aperture"):
        narrower(ABILITIES, ABILITIES.apertures[-1])
