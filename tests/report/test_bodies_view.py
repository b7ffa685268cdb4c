"""Cameras and body files in the terminal: which file fits, and where each value comes from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.report.printing import printed
from tether.body.connected import Connected
from tether.body.layers import Layered
from tether.report.bodies_view import ConnectedView, LayeredView, layered_json, source_of, values_of

FAMILY, OWN = Path("/etc/family.toml"), Path("/home/own.toml")


def layered(**top: Any) -> Layered:
    data = {
        "name": "Body A",
        "hold": {"can_hold": True, "delays": {"open_s": 0.05}},
        "sources": {
            "hold": {"kind": "measured", "what": "by light"},
            "hold.can_hold": {"kind": "maker", "what": "p. 3"},
        },
    } | top
    origin = {"name": OWN, "hold": FAMILY, "hold.delays": OWN}
    return Layered(name="a", data=data, origin=origin, paths=(FAMILY, OWN))


def test_values_are_those_of_every_table_without_their_sources() -> None:
    assert values_of(layered()) == {"name": "Body A", "hold.can_hold": True, "hold.delays.open_s": 0.05}


@pytest.mark.parametrize(
    ("key", "source"),
    [
        ("hold.can_hold", "maker: p. 3"),
        ("hold.delays.open_s", "measured: by light"),  # that of the table that it is in
        ("name", None),
    ],
)
def test_a_value_is_from_the_source_given_for_it_or_for_its_table(key: str, source: str | None) -> None:
    assert source_of(layered(), key) == source


def test_as_data_every_value_has_its_file_and_source() -> None:
    found = layered_json(layered())
    assert found["files"] == [str(FAMILY), str(OWN)]
    assert found["values"]["hold.can_hold"] == {"value": True, "file": str(FAMILY), "source": "maker: p. 3"}
    assert found["values"]["hold.delays.open_s"]["file"] == str(OWN)
    assert found["values"]["name"]["source"] is None


@pytest.mark.parametrize(
    ("top", "said"),
    [
        ({}, "not tried on hardware"),
        ({"tried": "2026-11-01, 1.2"}, "tried 2026-11-01, 1.2"),
        ({"simulated": True}, "simulated"),
    ],
)
def test_a_body_file_says_whether_it_was_tried_and_numbers_its_files(top: dict[str, Any], said: str) -> None:
    lines = printed(LayeredView(layered(**top)), 80).splitlines()
    assert lines[0].startswith(f"Body A: {said}")
    assert [line.split() for line in lines[1:3]] == [["[1]", str(FAMILY)], ["[2]", str(OWN)]]
    assert any(line.split() == ["[2]", "open_s", "0.05"] for line in lines)
    assert any(line.split() == ["[1]", "can_hold", "true"] for line in lines)


def test_a_file_in_the_home_folder_is_written_short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Path, "home", lambda: Path("/home"))
    assert "[2] ~/own.toml" in printed(LayeredView(layered()), 80)


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ((), "No body file fits it; a family's may all the same: tether body draft FILE --family FAMILY"),
        (("a",), 'body.file = "a"'),
        (("a", "b", "c"), 'body.file = "a" (also: b, c)'),
    ],
)
def test_a_camera_is_told_with_the_files_that_fit_it_best_first(files: tuple[str, ...], said: str) -> None:
    camera = Connected(model="Body A", port="usb:001,004", hindrance=None)
    lines = printed(ConnectedView([(camera, files)]), 120).splitlines()
    assert [line.strip() for line in lines] == [
        "Body A  at usb:001,004",
        said,
        "Nothing seems to be in the way of opening it.",
    ]


def test_what_is_in_the_way_of_opening_it_is_said() -> None:
    camera = Connected(model="Body A", port="usb:001,004", hindrance="Another program has it.")
    assert "Another program has it." in printed(ConnectedView([(camera, ())]), 80)
