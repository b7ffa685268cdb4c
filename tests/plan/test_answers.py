"""Answers to what a new plan needs: a table of what people write and what it means, written down before the code."""

from __future__ import annotations

import pytest

from tether.command.commands import FILTER_HELP
from tether.errors import PlanError
from tether.exposure.strengths import Strength
from tether.plan.answers import filter_of, parts_of, read_answer
from tether.plan.new import NewFilter

ANSWERS: list[tuple[str, str, str | float, str]] = [
    ("focal_mm", "28mm", 28.0, "28 mm"),
    ("focal_mm", "28", 28.0, "28 mm"),
    ("focal_mm", " 28 MM ", 28.0, "28 mm"),
    ("focal_mm", "70,5 mm", 70.5, "70.5 mm"),
    ("base_time", "1/125s", "1/125s", "1/125 s"),
    ("base_time", "1/125", "1/125", "1/125 s"),
    ("base_time", "125", "125", "2:05 min"),
    ("base_aperture", "f8", "f8", "f/8"),
    ("base_aperture", "5,6", "5,6", "f/5.6"),
    ("base_iso", "ISO 100", "ISO 100", "ISO 100"),
    ("base_iso", "12,800", "12,800", "ISO 12800"),
    ("shortest", "1/500 s", "1/500 s", "1/500 s"),
    ("longest", "2 min", "2 min", "2:00 min"),
    ("longest", "4m", "4m", "4:00 min"),
    ("widest", "F2.8", "F2.8", "f/2.8"),
    ("narrowest", "22", "22", "f/22"),
    ("title", "  Weir, Öxará ", "Weir, Öxará", "Weir, Öxará"),
]
REFUSED: list[tuple[str, str, str]] = [
    ("focal_mm", "28kg", "“28kg” cannot be read as a focal length; forms that would do: 28mm, 28, 70.5 mm."),
    ("focal_mm", "-28", "cannot be read as a focal length"),
    ("focal_mm", "1mm", "“1mm”: a focal length is more than 1 and at most 2000 mm."),
    ("focal_mm", "2800 mm", "“2800 mm”: a focal length is more than 1 and at most 2000 mm."),
    ("base_time", "soon", "“soon” cannot be read as an exposure time; forms that would do: 1/125,"),
    ("base_aperture", "1/125", "“1/125” cannot be read as an f-number; forms that would do: f/11,"),
    ("base_aperture", "f/1.4", "f/1.4 is not an aperture of the lens, which goes from f/2.8 to f/16"),
    ("base_aperture", "f22", "f/22 is not an aperture of the lens, which goes from f/2.8 to f/16"),
    ("base_iso", "fast", "“fast” cannot be read as a sensitivity; forms that would do: ISO 100,"),
    ("longest", "1/30", "The longest rung, 1/30 s, must be longer than the shortest, 1/30 s."),
    ("shortest", "5m", "The shortest rung, 5:00 min, must be shorter than the longest, 4:00 min."),
    ("narrowest", "f/2", "The lens's narrowest aperture, f/2, must be narrower than its widest, f/2.8."),
    ("title", " ", "A title has 1 to 60 characters on one line."),
    ("title", "x" * 61, "A title has 1 to 60 characters on one line."),
    ("title", "a\nb", "A title has 1 to 60 characters on one line."),
]
KNOWN = {"widest": "f/2.8", "narrowest": "f/16", "shortest": "1/30", "longest": "4m"}


@pytest.mark.parametrize(("name", "text", "value", "said"), ANSWERS)
def test_an_answer_is_read_as_people_write_it_and_said_back(
    name: str, text: str, value: str | float, said: str
) -> None:
    answer = read_answer(name, text, {})
    assert (answer.value, answer.said) == (value, said)


@pytest.mark.parametrize(("name", "text", "sentence"), REFUSED)
def test_what_makes_no_sense_is_told_with_what_would_do(name: str, text: str, sentence: str) -> None:
    with pytest.raises(PlanError) as refused:
        read_answer(name, text, KNOWN)
    assert sentence in str(refused.value)


def test_another_answer_that_makes_no_sense_itself_refuses_nothing() -> None:
    assert read_answer("longest", "2s", {"shortest": "soon"}).said == "2 s"


@pytest.mark.parametrize(
    ("text", "name", "strength"),
    [
        ("Calder 6=6", "Calder 6", Strength(way="stops", number=6)),
        ("Calder 6 = ND64", "Calder 6", Strength(way="factor", number=64)),
        (" Ten = 10.5 stops ", "Ten", Strength(way="stops", number=10.5)),
        ("a=b=d3.0", "a=b", Strength(way="density", number=3)),
        ("Big=1000", "Big", Strength(way="factor", number=1000, taken="1000 is taken for a factor, ND1000.")),
        ("Pale=30", "Pale", Strength(way="stops", number=30)),
        ("ND 1000", "ND1000", Strength(way="factor", number=1000)),
        ("=6 stops", "6 stops", Strength(way="stops", number=6)),
        ("Sunset=polariser 1.2", "Sunset", Strength(way="stops", number=1.2, kind="always on")),
    ],
)
def test_a_filter_is_a_strength_with_a_name_before_it_or_without(text: str, name: str, strength: Strength) -> None:
    assert filter_of(text) == NewFilter(name=name, strength=strength)


def test_a_number_behind_a_name_is_stops_up_to_where_the_help_says_and_a_factor_above() -> None:
    assert FILTER_HELP.endswith("After a name a number alone is stops up to 30, and a factor above that.")
    assert filter_of("Peat=30").strength == Strength(way="stops", number=30)
    assert (filter_of("Peat=31").strength.way, filter_of("Peat=64").strength.way) == ("factor", "factor")


def test_a_number_with_figures_after_the_point_behind_a_name_is_stops_as_documented_and_says_so() -> None:
    found = filter_of("Grey = 0.9").strength
    assert (found.way, found.number) == ("stops", 0.9)
    assert found.taken == "0.9 is taken for stops; if it is a density, write d0.9."


def test_a_filter_in_the_bag_goes_by_its_name() -> None:
    six = NewFilter(name="Calder 6", strength=Strength(way="stops", number=6.21), measured=True)
    assert filter_of(" calder 6 ", [six]) == six
    assert six.said == "Calder 6: 6.21 stops, as measured"
    assert filter_of("Calder 6=6", [six]).strength == Strength(way="stops", number=6)
    with pytest.raises(PlanError, match="Measured filters go by their names: Calder 6"):
        filter_of("Calder 7", [six])


@pytest.mark.parametrize("text", ["Calder 6", "Calder=six", "", "Calder="])
def test_a_filter_without_strength_says_how_it_is_written(text: str) -> None:
    with pytest.raises(PlanError, match=r'forms that would do: .* such as "Calder 6 = ND64"'):
        filter_of(text)


def test_a_name_too_long_for_a_plan_is_refused() -> None:
    with pytest.raises(PlanError, match="at most 40 characters"):
        filter_of(f"{'x' * 41}=6")


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("Calder 6=6, Calder 10=10,", ("Calder 6=6", "Calder 10=10")),
        ("ND8,ND64", ("ND8", "ND64")),
        ("0,9, ND1,000, 6 stops", ("0,9", "ND1,000", "6 stops")),
        (" , ", ()),
    ],
)
def test_a_list_is_split_at_its_commas_and_a_decimal_comma_is_none(text: str, parts: tuple[str, ...]) -> None:
    assert parts_of(text) == parts
