"""One frame to make: what a rung, its tests, the base and dark frames ask of the body."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.plans import BASE, TEN, a_choice, abilities_of, ladder_of, plan_of
from tether.body.protocol import BULB, Settings
from tether.exposure.labels import parse_aperture, parse_iso
from tether.plan.ladder import Dark, Proof
from tether.shot.shot import shot_of_base, shot_of_dark, shot_of_proof, shot_of_rung

SLOW = '[base]\ntime = "1/8"\naperture = "f/8"\niso = 100\n'
LADDER = ladder_of(SLOW + '[rungs]\ntimes = ["2m"]\n' + TEN)
(RUNG,) = LADDER.rungs
ABILITIES = abilities_of(plan_of(SLOW + '[rungs]\ntimes = ["2m"]\n'))


def test_a_rung_is_sent_by_labels_and_kept_as_exact_numbers() -> None:
    shot = shot_of_rung(RUNG, RUNG.choice)
    assert (shot.kind, shot.rung, shot.way, shot.filters, shot.filter_stops) == (
        "rung",
        1,
        "held",
        ("Calder 10",),
        10.0,
    )
    assert shot.settings == Settings(time=BULB, aperture="f/8", iso="100")
    assert shot.applied.time_s == pytest.approx(128.0)
    assert (shot.applied.time_label, shot.applied.aperture) == (BULB, 8.0)


def test_each_of_many_frames_is_timed_by_the_body() -> None:
    many = shot_of_rung(RUNG, a_choice(way="many", time_s=16.0, time_label="15", frames=8))
    assert (many.way, many.settings.time, many.time_s) == ("timed", "15", 16.0)


@pytest.mark.parametrize(
    ("way", "delays_s", "between_s"),
    [
        ("held", (0.10, 0.03), 128.07),  # it opens late and closes a little late: told to close later
        ("held", (0.03, 0.10), 127.93),
        ("held", (None, 0.03), 128.0),
        ("held", (0.10, None), 128.0),
        ("timed", (0.10, 0.03), 128.0),
    ],
)
def test_the_bodys_known_delays_are_between_our_commands(
    way: str, delays_s: tuple[float | None, float | None], between_s: float
) -> None:
    shot = replace(shot_of_rung(RUNG, RUNG.choice), way=way, time_s=128.0)  # type: ignore[arg-type]
    body = replace(ABILITIES, open_delay_s=delays_s[0], close_delay_s=delays_s[1])
    assert shot.between_commands_s(body) == pytest.approx(between_s)


@pytest.mark.parametrize(("bare", "filters", "stops"), [(False, ("Calder 10",), 10.0), (True, (), 0.0)])
def test_a_test_exposure_is_through_what_was_fitted_or_without_glass(
    bare: bool, filters: tuple[str, ...], stops: float
) -> None:
    proof = Proof(
        way="held",
        time_s=64.0,
        time_label=BULB,
        aperture=parse_aperture("f/8"),
        iso=parse_iso("6400"),
        faster_by_stops=6.0,
        error_stops=0.0,
    )
    shot = shot_of_proof(RUNG, proof, bare=bare)
    assert (shot.kind, shot.rung, shot.way, shot.iso.label) == ("proof", 1, "held", "6400")
    assert (shot.filters, shot.filter_stops) == (filters, stops)


def test_the_base_is_taken_by_the_bodys_marks_where_it_has_them() -> None:
    plan = plan_of(BASE + '[rungs]\ntimes = ["1/125"]\n')
    shot = shot_of_base(plan, ABILITIES)
    assert shot is not None
    assert (shot.kind, shot.rung, shot.settings) == ("base", None, Settings(time="1/125", aperture="f/8", iso="100"))
    assert shot_of_base(plan, replace(ABILITIES, isos=ABILITIES.isos[5:])) is None


@pytest.mark.parametrize(("way", "label"), [("held", BULB), ("timed", "15"), ("many", "15")])
def test_a_dark_frame_is_held_where_its_rung_was(way: str, label: str) -> None:
    dark = Dark(way=way, time_s=16.0, time_label="15", aperture=parse_aperture("f/8"), iso=parse_iso("100"))  # type: ignore[arg-type]
    shot = shot_of_dark(dark)
    assert (shot.kind, shot.rung, shot.settings.time, shot.filters) == ("dark", None, label, ())
