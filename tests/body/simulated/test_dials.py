"""The dials of a simulated body: what each can be set to, what a label stands for, and what a refusal names."""

from __future__ import annotations

import dataclasses

import pytest

from tests.body.simulated.rig import ABILITIES
from tether.body.protocol import BULB, ReadBack, Settings
from tether.body.simulated.dials import Dials
from tether.errors import CameraError
from tether.exposure.marks import Mark


def marks(**exact: float) -> tuple[Mark, ...]:
    named = {label.removeprefix("x").replace("_", "/"): value for label, value in exact.items()}
    return tuple(dataclasses.replace(ABILITIES.isos[0], label=label, exact=value) for label, value in named.items())


SMALL = dataclasses.replace(
    ABILITIES,
    times=marks(x1_2=0.5, x1=1.0, x2=2.0),
    apertures=marks(f_8=8.0),
    isos=marks(x100=100.0, x200=200.0),
    can_hold=True,
)
DIALS = Dials(SMALL)


def test_fresh_from_its_box_each_dial_is_at_its_first_mark() -> None:
    assert DIALS.first() == Settings(time="1/2", aperture="f/8", iso="100")


def test_bulb_is_on_the_dial_of_times_of_a_body_that_can_hold() -> None:
    assert DIALS.offers("time", BULB)
    assert not DIALS.offers("iso", BULB)
    for can_hold in (False, None):
        assert not Dials(dataclasses.replace(SMALL, can_hold=can_hold)).offers("time", BULB)


def test_only_labels_of_its_own_list_are_offered() -> None:
    assert DIALS.offers("iso", "200")
    assert not DIALS.offers("time", "200")
    assert not DIALS.offers("iso", "400")


def test_a_label_stands_for_its_exact_value() -> None:
    assert DIALS.exact("time", "1/2") == 0.5
    with pytest.raises(CameraError, match=r'refuses time "4"; among those it takes are 1/2, 1, 2, bulb\.'):
        DIALS.exact("time", "4")
    with pytest.raises(CameraError, match=r'refuses aperture "f/9"; among those it takes are f/8\.'):
        DIALS.exact("aperture", "f/9")


def test_a_refusal_names_some_of_a_long_list_and_always_its_end() -> None:
    isos = marks(**{f"x{number}": float(number) for number in range(1, 21)})
    said = str(Dials(dataclasses.replace(SMALL, isos=isos)).refusal("iso", "0"))
    # Every third of twenty, and the last one.
    assert said.endswith("are 1, 4, 7, 10, 13, 16, 19, 20.")


def test_beside_a_label_is_the_next_one_and_at_the_end_the_one_before() -> None:
    assert [DIALS.beside("time", label) for label in ("1/2", "1", "2", BULB)] == ["1", "2", "1", BULB]
    assert DIALS.beside("aperture", "f/8") == "f/8"


def test_what_is_shown_is_read_back_with_what_it_stands_for() -> None:
    shown = Settings(time="2", aperture="f/8", iso="200")
    assert DIALS.read_back(shown) == ReadBack(settings=shown, time_s=2.0, aperture=8.0, iso=200.0)
    held = Settings(time=BULB, aperture="f/8", iso="100")
    assert DIALS.read_back(held).time_s is None
