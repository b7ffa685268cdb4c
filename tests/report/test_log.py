"""The log as data: the promised names, valid by the schema, null where nothing is known."""

from __future__ import annotations

import csv
import io
import itertools
import json
from dataclasses import asdict, fields
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError

from tests.journal.outings import applied as settings
from tests.journal.outings import as_entries, frame_begun, ladder_started, run_started, weir, write_outing
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
from tether.journal.records import FetchOutcome, FrameRead, Noted, Record
from tether.journal.telling import read_outing, tell
from tether.report.export import csv_bytes, json_bytes
from tether.report.log import log_json

GOLDEN = Path(__file__).parent / "golden"
SCHEMA = json.loads(files("tether").joinpath("schemas/log.schema.json").read_text(encoding="utf-8"))
CHECK = Draft202012Validator(SCHEMA, format_checker=Draft202012Validator.FORMAT_CHECKER)


def log(records: list[Record], *, running: bool = False) -> dict[str, Any]:
    return log_json(tell(as_entries(records), name="weir", running=running))


def rich_in_kinds() -> list[Record]:
    stray = FetchOutcome(frame=None, card_name="X.DNG", name="frames/X.DNG", size=None, sha256=None)
    checked = Noted(about="check", text="It says AF.", what="focus", verdict="stop")
    noted = Noted(about="check", text="Ready.")
    return [run_started(), checked, noted, stray, *weir()[1:], run_started(), ladder_started()]


def test_the_schema_is_a_schema() -> None:
    Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("records", [[], weir(), weir(end=False), rich_in_kinds()], ids=len)
@pytest.mark.parametrize("running", [True, False])
def test_every_log_is_valid_and_says_all_it_may(records: list[Record], running: bool) -> None:
    CHECK.validate(json.loads(json.dumps(log(records, running=running), allow_nan=False)))


def objects(value: Any) -> list[dict[str, Any]]:
    inner = list(value.values()) if isinstance(value, dict) else value if isinstance(value, list) else []
    return ([value] if isinstance(value, dict) else []) + [one for part in inner for one in objects(part)]


def test_the_schema_knows_every_name_that_is_written() -> None:
    closed = json.loads(json.dumps(SCHEMA))
    for one in objects(closed):
        if "properties" in one and isinstance(one["properties"], dict):
            one["additionalProperties"] = False
    Draft202012Validator(closed).validate(log(rich_in_kinds()))


@pytest.mark.parametrize(
    ("where", "wrong"),
    [(("schema",), "tether-log/2"), (("ladders", 0, "frames", 0, "kind"), "test"), (("outing",), None)],
)
def test_the_schema_refuses_what_is_not_so(where: tuple[str | int, ...], wrong: object) -> None:
    whole = log(weir())
    place: Any = whole
    for key in where[:-1]:
        place = place[key]
    place[where[-1]] = wrong
    with pytest.raises(ValidationError):
        CHECK.validate(whole)


def test_the_promised_names_are_there() -> None:
    frame = log(weir())["ladders"][0]["frames"][7]
    promised = {"rung", "frame", "kind", "outcome", "planned", "asked", "read_back", "exif", "open_s", "hold_realtime",
                "opened_utc", "closed_utc", "files", "readings", "note"}  # fmt: skip
    assert promised <= set(frame)
    assert frame["open_s"] == {"asked": 124.3, "held": 101.0004, "body": None, "exif": 101.0, "light": None}
    assert set(frame["files"][0]) >= {"name", "bytes", "sha256"}
    assert frame["note"] == "Closed by the person."


def test_what_is_not_known_is_null() -> None:
    begun = frame_begun(1, 1, settings(2.0, "2"))
    frame = log([run_started(), ladder_started(), begun[2]])["ladders"][0]["frames"][0]
    assert set(frame["exif"].values()) == {None}
    assert set(frame["read_back"].values()) == {None}
    assert frame["hold_realtime"] is None
    assert frame["note"] is None
    assert frame["difference_stops"] is None
    assert frame["open_s"] == {"asked": 2.0, "held": None, "body": None, "exif": None, "light": None}


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
    )


def test_the_csv_has_every_reading() -> None:
    readings = every_reading()
    row = rows_of([*weir(), FrameRead(frame=8, readings=readings)])[7]
    figures = sorted(value for one in objects(json.loads(json.dumps(asdict(readings)))) for value in one.values()
                     if isinstance(value, float))  # fmt: skip
    found = list(row.values())[list(row).index("note") + 1 :]
    assert sorted(float(value) for value in found if value != "'=") == figures
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
