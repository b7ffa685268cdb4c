"""What acts on a frame beside the light, and how far each may be off."""

from __future__ import annotations

from tether.light.acting import Acting, glass_terms, terms_of


class Glass:
    """A filter as far as its doubt goes."""

    def __init__(self, measured: bool, spread_stops: float) -> None:
        self.measured, self.spread_stops = measured, spread_stops


def test_what_acts_on_a_frame_beside_the_light() -> None:
    """The base's own settings are its zero; ten per cent of six stops is twice what a filter may be off."""
    base = Acting(filters=(), aperture=8.0, iso=100.0)
    glass = {"six": Glass(False, 0.6), "ten": Glass(True, 0.05)}
    assert terms_of(base, base, glass) == ()
    acting = Acting(filters=("ten", "six"), aperture=11.31, iso=400.0)
    found = {term.name: term.doubt_stops for term in terms_of(acting, base, glass)}
    assert found == {"six": 0.3, "ten": 0.1, "six + ten": 0.03, "f/11.31": 0.06, "ISO 400": 0.06}


def test_a_piece_of_glass_may_be_off_by_half_its_spread_and_at_least_by_so_much() -> None:
    """The spread is what it may be off at most: two standard deviations; a filter that nobody knows is nominal."""
    glass = {"ten": Glass(False, 1.0), "three": Glass(False, 0.3), "good": Glass(True, 0.02), "bad": Glass(True, 0.5)}
    found = {term.name: term.doubt_stops for one in [*glass, "unknown"] for term in glass_terms((one,), glass)}
    assert found == {"ten": 0.5, "three": 0.3, "good": 0.1, "bad": 0.25, "unknown": 0.3}


def test_only_glass_may_be_another_than_it_says() -> None:
    base = Acting(filters=(), aperture=8.0, iso=100.0)
    glass = {"six": Glass(True, 0.05)}
    found = terms_of(Acting(filters=("six",), aperture=4.0, iso=100.0), base, glass)
    assert [(term.name, term.mistakable) for term in found] == [("six", True), ("f/4.00", False)]


def test_a_setting_as_near_as_a_label_is_the_bases() -> None:
    base = Acting(filters=(), aperture=8.0, iso=100.0)
    assert terms_of(Acting(filters=(), aperture=8.05, iso=101.0), base, {}) == ()
