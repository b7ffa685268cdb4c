"""What a rung may be made with: apertures, ISO values and times within the limits, by habit and by cost."""

from __future__ import annotations

import pytest

from tests.plan.plans import (
    BASE,
    HEAD,
    MIRROR,
    SIX,
    TEN,
    abilities_of,
    ladder_of,
    plan_of,
)
from tether.plan.choices import allowed_apertures, allowed_isos


def test_many_short_ones_stand_for_a_long_one_only_where_asked() -> None:
    base = '[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\n'
    (offered,) = ladder_of(base + SIX, head=MIRROR).rungs
    assert (offered.choice.way, offered.choice.time_label, offered.asked.label) == ("timed", "15", "2:00")
    (unreached,) = ladder_of(base + SIX, head=MIRROR).unreached
    assert '8 × 15 s, f/22, ISO 100, Calder 6 with rungs.many = "use"' in unreached.sentence
    (asked,) = ladder_of(base + 'many = "use"\n' + SIX, head=MIRROR).rungs
    assert (asked.choice.way, asked.choice.time_label, asked.frames) == ("many", "15", 8)
    assert "noise 2.8 times lower" in asked.reason  # sqrt(8), EMVA 1288 4.0


def test_an_eighth_through_ten_stops_is_two_minutes_and_eight_seconds() -> None:
    """2^-3 s times 2^10 is 128 s, whether the filter was measured or not (ISO 5)."""
    text = '[base]\ntime = "1/8"\naperture = "f/8"\niso = 100\nmeasured = false\n[rungs]\ntimes = ["2m"]\n'
    head = HEAD.replace('darker_by = "nothing"\n', "")
    for measured in ("", "measured_stops = 10.0\n"):
        (rung,) = ladder_of(text + '[[filter]]\nname = "Calder 10"\nstops = 10\n' + measured, head).rungs
        assert rung.choice.time_s == pytest.approx(128)
        assert rung.choice.darker_by_stops == 0


def test_a_third_for_long_water_is_a_named_choice() -> None:
    rungs = '[rungs]\ntimes = ["1/125", "1"]\n'
    head = HEAD.replace('"nothing"', '"a third for long water"')
    ladder = ladder_of(BASE + rungs + SIX + TEN, head)
    darker = {rung.wanted.label: rung.choice.darker_by_stops for rung in ladder.rungs}
    assert darker["1/125"] == 0
    assert darker["1"] == pytest.approx(1 / 3)


def test_lens_and_body_bound_what_is_possible_and_what_is_written_is_hard() -> None:
    text = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 200\n[rungs]\ntimes = ["1/60"]\n'
    free = plan_of(text)
    apertures, isos = allowed_apertures(free, abilities_of(free)), allowed_isos(free, abilities_of(free))
    assert (apertures[0].label, apertures[-1].label) == ("f/2.8", "f/22")
    assert (isos[0].label, isos[-1].label) == ("100", "25600")
    bound = plan_of(text + "[limits]\naperture_stops = 1.0\niso = [200, 800]\nextended_iso = true\n")
    apertures, isos = allowed_apertures(bound, abilities_of(bound)), allowed_isos(bound, abilities_of(bound))
    assert (apertures[0].label, apertures[-1].label) == ("f/5.6", "f/11")
    assert (isos[0].label, isos[-1].label) == ("200", "800")


def test_depth_of_field_wanted_narrows_the_apertures() -> None:
    text = BASE + '[rungs]\ntimes = ["1/125"]\n[limits]\naperture = ["f/2.8", "f/16"]\ndepth_m = [1.0, 30.0]\n'
    plan = plan_of(text)
    labels = [mark.label for mark in allowed_apertures(plan, abilities_of(plan))]
    # 1/near - 1/far = 2 (s - f) / (s H'): near 1 m, far 30 m, focus 1.935 m, H' = 2.04 m, N = f^2 / (c H') = 9.8
    assert labels[0] == "f/10"


def test_extended_iso_is_off_until_written_and_counts_its_lost_headroom_in_full() -> None:
    text = '[base]\ntime = "1"\naperture = "f/16"\niso = 100\n[rungs]\ntimes = ["4"]\n'
    (nearest,) = ladder_of(text).rungs
    assert (nearest.choice.time_label, nearest.choice.iso.label) == ("2", "100")
    ladder = ladder_of(text + "[limits]\nextended_iso = true\n")
    (rung,) = ladder.rungs
    assert (rung.choice.time_label, rung.choice.aperture.label, rung.choice.iso.label) == ("4", "f/22", "50")
    assert rung.headroom_lost_stops == pytest.approx(1.0)
    assert rung.choice.paid.headroom_stops == pytest.approx(1.0)
    assert rung.choice.paid.noise_stops == 0, "its gain is that of ISO 100"
    assert "extended ISO 50 costs 1 stop of highlight headroom" in rung.reason
    assert any("extended ISO: white water clips sooner" in one for one in ladder.cautions)
    of_base = ladder_of(text.replace("iso = 100", "iso = 50").replace('"4"', '"1"') + "[limits]\nextended_iso = true\n")
    assert of_base.rungs[0].choice.iso.label == "50"
    assert any("sooner than at the body's own lowest ISO" in one for one in of_base.cautions), (
        "the base is at 50 itself"
    )


def test_brighter_beyond_the_measured_headroom_is_forbidden() -> None:
    """A filter of 5.9 stops makes 1/2 s a tenth of a stop brighter; with 0.05 measured the next third is taken."""
    filters = '[[filter]]\nname = "Calder 6"\nstops = 6\nmeasured_stops = 5.9\n'
    limits = '[limits]\naperture = ["f/8", "f/8"]\n'
    text = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n{}[rungs]\ntimes = ["0.5"]\n'
    (free,) = ladder_of(text.format("") + limits + filters).rungs
    assert free.choice.error_stops == pytest.approx(0.1)
    bound = ladder_of(text.format("headroom_stops = 0.05\n") + limits + filters)
    assert bound.rungs[0].choice.error_stops == pytest.approx(0.1 - 1 / 3)
    assert bound.rungs[0].choice.time_label == "0.4"


def test_a_measured_tint_counts_as_its_weakest_channel() -> None:
    text = BASE + '[rungs]\ntimes = ["0.5"]\n' + SIX
    (unknown,) = ladder_of(text).rungs
    (known,) = ladder_of(text + "tint_stops = 0.45\n").rungs
    assert (unknown.choice.paid.tint_stops, known.choice.paid.tint_stops) == (0.1, 0.45)
