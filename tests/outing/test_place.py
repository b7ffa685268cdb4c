"""A place: which outings were there, how it was framed last, and its filters."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.command.written import written
from tests.journal.outings import weir
from tether.journal.records import LadderStarted
from tether.outing.known import known_outings
from tether.outing.place import is_same_place, place_known
from tether.plan.file import Place

WEIR = Place(name="Elbow weir", latitude=64.1, longitude=-21.9)


@pytest.mark.parametrize(
    ("other", "same"),
    [
        (Place(name="elbow WEIR"), True),
        (Place(name="Elbow"), False),
        (Place(), False),
        (Place(latitude=64.1015, longitude=-21.9), True),
        (Place(latitude=64.1021, longitude=-21.9), False),
        (Place(latitude=64.1, longitude=-21.896), True),
        (Place(latitude=64.1, longitude=-21.895), False),
        (Place(name="Another name", latitude=64.1, longitude=-21.9), True),
    ],
)
def test_a_place_is_known_by_its_name_or_by_where_it_is_to_two_hundred_metres(other: Place, same: bool) -> None:
    """0.0018° of latitude is 200 m; at 64.1° north as many metres are 0.0041° of longitude."""
    assert is_same_place(WEIR, other) is same
    assert is_same_place(other, WEIR) is same


def test_places_beside_the_date_line_are_near() -> None:
    assert is_same_place(Place(latitude=0, longitude=179.9995), Place(latitude=0, longitude=-179.9995))


def at(folder: Path, place: str) -> Path:
    text = f'[place]\nname = "{place}"\n'
    return written(folder, [replace(one, plan_text=text) if isinstance(one, LadderStarted) else one for one in weir()])


def test_it_has_the_outings_there_the_last_framing_that_still_exists_and_what_was_kept(tmp_path: Path) -> None:
    outing = at(tmp_path / "all" / "weir", "Elbow weir")
    at(tmp_path / "all" / "coast", "Coast")
    known = known_outings([tmp_path / "all"]).outings
    there = place_known(Place(name="Elbow weir"), known)
    assert [one.folder for one in there.outings] == [outing]
    assert (there.framing, there.filters) == (None, ()), "its preview is gone, and its frames were not read"
    preview = outing / "previews" / "weir_l1_0001_SIM_0001.jpg"
    preview.parent.mkdir()
    preview.touch()
    framing = place_known(Place(name="Elbow weir"), known).framing
    assert framing is not None
    assert framing.preview == preview


def test_a_place_where_nobody_was_has_nothing(tmp_path: Path) -> None:
    there = place_known(Place(name="Moor"), known_outings([at(tmp_path / "weir", "Elbow weir")]).outings)
    assert (there.outings, there.framing, there.filters) == ((), None, ())
