"""The log as files."""

from __future__ import annotations

import csv
import io
import itertools
import json
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

import pytest

from tests.journal.outings import as_entries, weir, write_outing
from tests.report.test_log import objects
from tether.journal.readings import (
    ChannelSaid,
    Definition,
    FrameReadings,
    LevelsSaid,
    RockSaid,
    Sharpness,
    Standing,
    StreakSaid,
)
from tether.journal.records import FrameRead, Record
from tether.journal.telling import read_outing, tell
from tether.report.export import csv_bytes, json_bytes

GOLDEN = Path(__file__).parent / "golden"


@pytest.mark.parametrize(("written", "name"), [(csv_bytes, "weir.csv"), (json_bytes, "weir.json")])
def test_exports_are_the_same_to_the_byte(written: Any, name: str, tmp_path: Path) -> None:
    write_outing(tmp_path / "weir", weir(end=False))
    assert written(read_outing(tmp_path / "weir")) == (GOLDEN / name).read_bytes()


def rows_of(records: list[Record]) -> list[dict[str, str]]:
    told = tell(as_entries(records), name="weir, by the mill", running=False)
    return list(csv.DictReader(io.StringIO(csv_bytes(told).decode(), newline="")))


def test_every_row_of_the_csv_has_every_column() -> None:
    rows = rows_of(weir())
    assert len(rows) == 9
    assert all(None not in row and None not in row.values() for row in rows)
    assert rows[7]["open by commands [s]"] == "101.0004"
    assert rows[7]["filters [stops]"] == "10.0"
    assert rows[7]["real-time hold"] == "yes"
    assert rows[0]["outing"] == "weir, by the mill"
    assert rows[0]["rung"] == ""


def every_reading() -> FrameReadings:
    """Readings in which no figure is left out and no two are the same."""
    figures = (number / 8 for number in itertools.count(1))

    def levels() -> dict[str, Any]:
        channels = {
            one: ChannelSaid(mean=next(figures), clipped_share=next(figures), headroom_stops=next(figures))
            for one in "RGB"
        }
        return {"headroom_stops": next(figures), "clipped_share": next(figures), "channels": channels}

    def filled(view: type) -> Any:
        return view(**{field.name: next(figures) for field in fields(view)})

    still = {field.name: next(figures) for field in fields(Standing)}
    return FrameReadings(
        **levels(),
        water=LevelsSaid(**levels()),
        rock=RockSaid(
            brighter_stops={one: next(figures) for one in "RGB"},
            **{field.name: next(figures) for field in fields(RockSaid) if field.name != "brighter_stops"},
        ),
        still=Standing(**{**still, "sharpness": filled(Sharpness), "expected": filled(Sharpness)}),
        definition=filled(Definition),
        streak=StreakSaid(
            **{field.name: next(figures) for field in fields(StreakSaid) if field.name != "why"}, why="="
        ),
        rock_clipped=True,
    )


def test_the_csv_has_every_reading() -> None:
    readings = every_reading()
    row = rows_of([*weir(), FrameRead(frame=8, readings=readings)])[7]
    figures = sorted(value for one in objects(json.loads(json.dumps(asdict(readings)))) for value in one.values()
                     if isinstance(value, float))  # fmt: skip
    found = list(row.values())[list(row).index("note") + 1 :]
    assert sorted(float(value) for value in found if value not in ("'=", "yes")) == figures
    assert row["rock clipped"] == "yes"
    assert row["water G headroom [stops]"] == str(readings.water and readings.water.channels["G"].headroom_stops)
    assert row["rock brighter B [stops]"] == str(readings.rock and readings.rock.brighter_stops["B"])
    assert row["streak why"] == "'="


def test_what_a_frame_does_not_say_is_an_empty_cell() -> None:
    row = rows_of(weir())[7]
    assert row["headroom [stops]"] == row["streak length [px]"] == ""


def test_a_reading_that_is_no_number_is_an_empty_cell() -> None:
    said = FrameReadings(headroom_stops=float("nan"), clipped_share=0.25)
    row = rows_of([*weir(), FrameRead(frame=8, readings=said)])[7]
    assert (row["headroom [stops]"], row["clipped share"]) == ("", "0.25")
