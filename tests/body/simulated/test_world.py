"""The truth of a world and its file."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tether.body.protocol import Fitted
from tether.body.simulated.world import World, load_world
from tether.errors import PlanError


@given(seed=st.integers(0, 2**31), stops=st.floats(0.1, 20), name=st.text(min_size=1, max_size=20))
def test_unmeasured_filter_is_within_its_tolerance(seed: int, stops: float, name: str) -> None:
    # ±10 % of the nominal density: ANSI PH2.19-1976, data sheet of the No. 96 neutral-density filters.
    red, green, blue = World(seed=seed).filter_stops(Fitted(name=name, stops=stops))
    assert abs(green - stops) <= 0.1 * stops * (1 + 1e-9)
    assert abs(red - green) <= 0.025 * stops
    assert red + blue == pytest.approx(2 * green)


def test_filters_differ_by_name_and_seed_and_last() -> None:
    one, other = Fitted(name="Calder 10", stops=10.0), Fitted(name="Orme 10", stops=10.0)
    assert World(seed=4).filter_stops(one) == World(seed=4).filter_stops(one)
    assert World(seed=4).filter_stops(one) != World(seed=4).filter_stops(other)
    assert World(seed=4).filter_stops(one) != World(seed=5).filter_stops(one)


def test_given_strength_and_stack() -> None:
    world = World.model_validate(
        {"filters": {"Calder 10": {"stops": 10.4, "cast_stops": [-0.1, 0.0, 0.2]}, "Orme 3": {"stops": 2.9}}}
    )
    assert world.filter_stops(Fitted(name="Calder 10", stops=10.0)) == pytest.approx((10.3, 10.4, 10.6))
    stack = (Fitted(name="Calder 10", stops=10.0), Fitted(name="Orme 3", stops=3.0))
    assert world.stack_stops(stack)[1] == pytest.approx(13.3)
    assert world.stack_stops(()) == (0.0, 0.0, 0.0)


FILE = """
seed = 7
stops_per_minute = 0.2
base = { time_s = 0.015625, aperture = 11.3137, iso = 100, always_on = [{ name = "Polariser", stops = 1.5 }] }
true_times_s = { "30" = 30.0 }

[filters."Calder 10"]
stops = 10.4

[[faults]]
what = "vanishes"
at_frame = 3
for_s = 20
"""


def test_file_is_read(tmp_path: Path) -> None:
    path = tmp_path / "world.toml"
    path.write_text(FILE, encoding="utf-8")
    world = load_world(path)
    assert world.base.always_on == (Fitted(name="Polariser", stops=1.5),)
    assert world.true_times_s == {"30": 30.0}
    assert world.filters["Calder 10"].stops == 10.4
    assert (world.faults[0].what, world.faults[0].at_frame, world.faults[0].for_s) == ("vanishes", 3, 20.0)


def test_world_survives_json() -> None:
    world = World.model_validate({"seed": 3, "faults": [{"what": "truncates", "times": "always"}]})
    assert World.model_validate_json(world.model_dump_json()) == world


def test_mistakes_are_sentences(tmp_path: Path) -> None:
    path = tmp_path / "world.toml"
    path.write_text('sead = 3\ntemperature_c = 900\n[sensor]\nwindow_px = [301, 200]\n[[faults]]\nwhat = "sulks"\n')
    with pytest.raises(PlanError) as caught:
        load_world(path)
    text = str(caught.value)
    assert len(caught.value.sentences) == 4
    for part in ('did you mean "seed"', "at most 70", "sensor.window_px", "must be even", "faults[1].what", "vanishes"):
        assert part in text


@pytest.mark.parametrize("content", [b"seed = = 3", b"\xff\xfe\x00"])
def test_unreadable_file_is_a_sentence(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "world.toml"
    path.write_bytes(content)
    with pytest.raises(PlanError, match=r"world\.toml"):
        load_world(path)
    with pytest.raises(PlanError, match=r"nothing\.toml"):
        load_world(tmp_path / "nothing.toml")


def test_isos_and_f_numbers_may_be_off_by_as_much_as_the_world_says_but_the_base_is_as_it_stands() -> None:
    world = World(seed=3, steps_off_stops=0.1)
    offs = [world.iso_off_stops(100 * 2 ** (step / 3)) for step in range(-3, 20)]
    offs += [world.aperture_off_stops(2 ** (step / 6)) for step in range(4, 28)]
    assert 0.05 < max(map(abs, offs)) <= 0.1
    assert world.iso_off_stops(world.base.iso) == world.aperture_off_stops(world.base.aperture) == 0
    assert World(seed=3).iso_off_stops(6400) == 0
