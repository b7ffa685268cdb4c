"""The log as data: the promised names, valid by the schema, null where nothing is known."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError

from tests.journal.outings import applied as settings
from tests.journal.outings import as_entries, frame_begun, ladder_started, run_started, weir
from tether.journal.records import FetchOutcome, Noted, Record
from tether.journal.telling import tell
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
