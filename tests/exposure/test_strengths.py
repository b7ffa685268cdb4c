"""The strength of a filter as people write it: a table of texts and what they mean, written down before the code.

Stops are log2 of the factor, and log2 of ten times the density (ISO 5), reckoned with ``bc`` to six places:
log2 1000 = 9.965784, 0.3 = 0.996578, 0.9 = 2.989735, 1.8 = 5.979471, 3.0 = 9.965784, log2 3 = 1.584963.
"""

from __future__ import annotations

import pytest

from tether.exposure.filters import Way
from tether.exposure.strengths import Strength, UnreadableStrengthError, read_strength

CLEAR: list[tuple[str, Way, float, float]] = [
    ("ND1000", "factor", 1000, 9.965784),
    ("ND 1000", "factor", 1000, 9.965784),
    ("nd1000", "factor", 1000, 9.965784),
    ("ND-1000", "factor", 1000, 9.965784),
    ("ND1,000", "factor", 1000, 9.965784),
    ("ND32 000", "factor", 32000, 14.965784),
    ("ND2", "factor", 2, 1),
    ("ND8", "factor", 8, 3),
    ("ND64", "factor", 64, 6),
    ("ND 0.9", "density", 0.9, 2.989735),
    ("ND1.8", "density", 1.8, 5.979471),
    ("ND 3,0", "density", 3, 9.965784),
    ("1000x", "factor", 1000, 9.965784),
    ("1000 X", "factor", 1000, 9.965784),
    ("x1000", "factor", 1000, 9.965784),
    ("1000×", "factor", 1000, 9.965784),
    ("1,000×", "factor", 1000, 9.965784),
    ("8 times", "factor", 8, 3),
    ("factor 3", "factor", 3, 1.584963),
    ("1.5x", "factor", 1.5, 0.584963),
    ("d0.9", "density", 0.9, 2.989735),
    ("D 0.9", "density", 0.9, 2.989735),
    ("d3", "density", 3, 9.965784),
    ("density 1,8", "density", 1.8, 5.979471),
    ("0.3 density", "density", 0.3, 0.996578),
    ("OD 0.9", "density", 0.9, 2.989735),
    ("0.9D", "density", 0.9, 2.989735),
    ("6 stops", "stops", 6, 6),
    ("1 stop", "stops", 1, 1),
    ("10-stop", "stops", 10, 10),
    ("6.6 stops", "stops", 6.6, 6.6),
    ("6,6 stops", "stops", 6.6, 6.6),
    ("  6  Stops ", "stops", 6, 6),
]
TAKEN: list[tuple[str, Way, float, float, str]] = [
    ("1000", "factor", 1000, 9.965784, "1000 is taken for a factor, ND1000"),
    ("1,000", "factor", 1000, 9.965784, "1,000 is taken for a factor, ND1000"),
    ("64", "factor", 64, 6, "64 is taken for a factor, ND64"),
    ("31", "factor", 31, 4.954196, "31 is taken for a factor, ND31"),
    ("30", "stops", 30, 30, "30 is taken for stops; if it is a factor, write ND30"),
    ("6", "stops", 6, 6, "6 is taken for stops; if it is a factor, write ND6"),
    ("8", "stops", 8, 8, "8 is taken for stops; if it is a factor, write ND8"),
    ("10", "stops", 10, 10, "10 is taken for stops; if it is a factor, write ND10"),
    ("0.9", "density", 0.9, 2.989735, "0.9 is taken for a density; if it is stops, write 0.9 stops"),
    ("0,9", "density", 0.9, 2.989735, "0,9 is taken for a density; if it is stops, write 0.9 stops"),
    ("3.0", "density", 3, 9.965784, "3.0 is taken for a density; if it is stops, write 3 stops"),
    ("6.6", "stops", 6.6, 6.6, "6.6 is taken for stops; if it is a density, write d6.6"),
    ("ND10", "factor", 10, 3.321928, "ND10 is taken for a factor; if it is stops, write 10 stops"),
    ("ND 3", "factor", 3, 1.584963, "ND 3 is taken for a factor; if it is stops, write 3 stops"),
    ("ND6", "factor", 6, 2.584963, "ND6 is taken for a factor; if it is stops, write 6 stops"),
]
NAMES = {
    "nd 1000": "ND1000",
    "1000x": "ND1000",
    "1000": "ND1000",
    "d0.9": "ND 0.9",
    "0,90": "ND 0.9",
    "3.0": "ND 3.0",
    "6 stops": "6 stops",
    "1": "1 stop",
    "polarizer": "polariser",
    "CPL": "polariser",
}
SAID = {
    "ND1000": "factor 1000, 9.97 stops",
    "ND8": "factor 8, 3 stops",
    "d0.9": "density 0.9, 2.99 stops",
    "6 stops": "6 stops",
    "1 stop": "1 stop",
    "6.6 stops": "6.6 stops",
    "polariser 1.3 stops": "1.3 stops, on for the whole ladder",
}


@pytest.mark.parametrize(("text", "way", "number", "stops"), CLEAR)
def test_a_strength_is_read_in_the_unit_it_is_written_in(text: str, way: Way, number: float, stops: float) -> None:
    assert read_strength(text) == Strength(way=way, number=number)
    assert read_strength(text).stops == pytest.approx(stops, abs=1e-6)


@pytest.mark.parametrize(("text", "way", "number", "stops", "taken"), TAKEN)
def test_what_may_mean_two_things_says_what_it_was_taken_for(
    text: str, way: Way, number: float, stops: float, taken: str
) -> None:
    found = read_strength(text)
    assert (found.way, found.number, found.kind) == (way, number, "nd")
    assert found.stops == pytest.approx(stops, abs=1e-6)
    assert found.taken.startswith(taken)


@pytest.mark.parametrize(
    "text", ["polariser", "Polarizer", "polarising filter", "circular polariser", "cpl", "C-POL", "pol", "pola filter"]
)
def test_a_polariser_stays_on_and_what_it_takes_is_said_to_be_a_guess(text: str) -> None:
    found = read_strength(text)
    assert (found.way, found.number, found.kind) == ("stops", 1.5, "always on")
    assert "1.5 stops" in found.taken
    assert "polariser 1.3 stops" in found.taken


@pytest.mark.parametrize("text", ["polariser 1.3 stops", "polarizer, 1.3 stops", "CPL 1.3", "polariser: 1,3"])
def test_a_polariser_whose_strength_is_known_is_no_guess(text: str) -> None:
    assert read_strength(text) == Strength(way="stops", number=1.3, kind="always on")


@pytest.mark.parametrize(("text", "name"), NAMES.items())
def test_a_filter_without_a_name_goes_by_its_strength(text: str, name: str) -> None:
    assert read_strength(text).name == name


@pytest.mark.parametrize(("text", "said"), SAID.items())
def test_a_strength_is_said_back_in_stops(text: str, said: str) -> None:
    assert read_strength(text).said == said


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "grey",
        "ND",
        "stops",
        "x",
        "-3",
        "-3 stops",
        "6 stopss",
        "1/8",
        "nan",
        "inf stops",
        "1e3",
        "ND8,64",
        "٣ stops",
    ],
)
def test_what_is_no_strength_is_told_with_what_would_do(text: str) -> None:
    with pytest.raises(UnreadableStrengthError, match=r"6 stops, ND64, 64x, d1\.8 or polariser"):
        read_strength(text)


@pytest.mark.parametrize(
    ("text", "limit"),
    [
        ("ND1", "more than 1"),
        ("1x", "more than 1"),
        ("0.5x", "more than 1"),
        ("ND0", "more than 1"),
        ("0 stops", "more than 0 and at most 30 stops"),
        ("31 stops", "more than 0 and at most 30 stops"),
        ("d9.1", "more than 0 and at most 30 stops"),
        ("d0", "more than 0 and at most 30 stops"),
        ("0", "more than 0 and at most 30 stops"),
        ("ND2000000000", "more than 0 and at most 30 stops"),
        ("polariser 31 stops", "more than 0 and at most 30 stops"),
    ],
)
def test_a_strength_beyond_sense_is_refused_with_what_is_allowed(text: str, limit: str) -> None:
    with pytest.raises(UnreadableStrengthError, match=limit):
        read_strength(text)
