"""The log as files."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from tests.journal.outings import as_entries, weir, write_outing
from tether.journal.telling import read_outing, tell
from tether.report.export import export_csv, export_json

GOLDEN = Path(__file__).parent / "golden"


@pytest.mark.parametrize(("export", "name"), [(export_csv, "weir.csv"), (export_json, "weir.json")])
def test_exports_are_the_same_to_the_byte(export: Any, name: str, tmp_path: Path) -> None:
    write_outing(tmp_path / "weir", weir(end=False))
    (tmp_path / "out").mkdir()
    export(read_outing(tmp_path / "weir"), tmp_path / "out" / name)
    assert (tmp_path / "out" / name).read_bytes() == (GOLDEN / name).read_bytes()
    assert [path.name for path in (tmp_path / "out").iterdir()] == [name]


def test_every_row_of_the_csv_has_every_column(tmp_path: Path) -> None:
    export_csv(tell(as_entries(weir()), name="weir, by the mill", running=False), tmp_path / "log.csv")
    with (tmp_path / "log.csv").open(newline="", encoding="utf-8") as page:
        rows = list(csv.DictReader(page))
    assert len(rows) == 9
    assert all(None not in row and None not in row.values() for row in rows)
    assert rows[7]["open by commands [s]"] == "101.0004"
    assert rows[7]["filters [stops]"] == "10.0"
    assert rows[7]["real-time hold"] == "yes"
    assert rows[0]["outing"] == "weir, by the mill"
    assert rows[0]["rung"] == ""
