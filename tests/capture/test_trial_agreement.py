"""A report held against a body file: each thing that agrees or differs, and when a file may call itself tried."""

from __future__ import annotations

from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from tether.body.bodyfile import BodyFile, load_body_file
from tether.body.layers import profile_folders
from tether.capture.trial_agreement import compared, read_report, tried_line
from tether.errors import PlanError

FILE = load_body_file("canon-eos-r6")
TIMES = [mark.label for mark in FILE.times.marks()]


def entry(name: str, *, writable: bool = True, failed: str | None = None) -> dict[str, Any]:
    return {"name": name, "value": "", "choices": [], "writable": writable, "failed": failed}


FRAME = {
    "way": "held",
    "asked_s": 10.0,
    "held_s": 10.001,
    "body_said_s": 9.0,
    "exif_s": None,
    "fetch_s": 1.5,
    "size_bytes": 22_000_000,
    "problem": None,
}
REPORT: dict[str, Any] = {
    "schema": "tether-trial-report/1",
    "entries": [entry("shutterspeed"), entry("aperture"), entry("iso")],
    "trial": {
        "day": "2026-11-27",
        "simulated": False,
        "model": "Canon EOS R6",
        "firmware": "1.8.2",
        "library": "libgphoto2 2.5.33",
        "offers": {
            "times": TIMES,
            "isos": [FILE.isos.lowest.label, "200", FILE.isos.highest.label],
            "held_by": FILE.driver.release[0].name if FILE.driver else "",
            "why_not_held": None,
        },
        "settings": {"count": 110, "otherwise": []},
        "frames": [FRAME],
    },
}


def report(**changed: Any) -> dict[str, Any]:
    """Return the report with parts of what was found changed, by their keys, a level deeper by two underscores."""
    whole = deepcopy(REPORT)
    for key, value in changed.items():
        *upper, last = key.split("__")
        place = whole["trial"]
        for one in upper:
            place = place[one]
        place[last] = value
    return whole


def differing(told: dict[str, Any], file: BodyFile = FILE) -> dict[str, str]:
    return {one.what: one.sentence for one in compared(told, file) if one.verdict == "stop"}


def test_where_all_agrees_the_file_may_say_when_and_with_what_it_was_tried() -> None:
    found = compared(REPORT, FILE)
    assert differing(REPORT) == {}
    assert {one.what for one in found} >= {"model", "time entry", "iso entry", "times", "ISO", "bulb", "bulb 10 s"}
    assert tried_line(REPORT, found) == (
        "2026-11-27, libgphoto2 2.5.33, firmware 1.8.2: 1 of 1 frames made, 110 settings read back as asked"
    )


@pytest.mark.parametrize(
    ("changed", "what", "words"),
    [
        ({"model": "Nikon Z6"}, "model", "the file is of"),
        ({"offers__times": TIMES[1:]}, "times", f"not offered: {TIMES[0]}."),
        ({"offers__times": [*TIMES, "64"]}, "times", "not in the file: 64."),
        ({"offers__times": []}, "times", "None was offered."),
        ({"offers__isos": ["100", "200"]}, "ISO", "; the file says "),
        ({"offers__isos": []}, "ISO", "None was offered."),
        ({"offers__held_by": None, "offers__why_not_held": "Its dial."}, "bulb", "It can't be held: Its dial."),
        ({"settings__otherwise": ["1/30: no"]}, "settings", "1 were not as asked"),
        ({"frames": [FRAME | {"problem": "No file came."}]}, "bulb 10 s", "No file came."),
    ],
)
def test_what_differs_is_said_and_then_the_file_is_not_tried(changed: dict[str, Any], what: str, words: str) -> None:
    told = report(**changed)
    assert words in differing(told)[what]
    assert tried_line(told, compared(told, FILE)) is None


def test_entries_that_are_not_there_or_can_not_be_set_differ() -> None:
    told = deepcopy(REPORT)
    told["entries"] = [entry("shutterspeed", writable=False), entry("aperture", failed="no"), entry("iso")]
    assert differing(told) == {
        "time entry": "shutterspeed, which can not be set.",
        "aperture entry": "None of aperture can be read.",
    }
    told["entries"] = []
    assert differing(told) == {}


def test_what_the_file_does_not_say_is_a_note() -> None:
    told = report(frames=[FRAME | {"size_bytes": None}])
    (size,) = (one for one in compared(told, FILE) if one.what == "bytes of a frame")
    assert (size.verdict, size.sentence.startswith("Not measured")) == ("note", True)


@pytest.mark.parametrize("changed", [{"simulated": True}, {"frames": []}], ids=["simulated", "no frame"])
def test_a_simulated_camera_or_no_frame_makes_nothing_tried(changed: dict[str, Any]) -> None:
    told = report(**changed)
    assert tried_line(told, compared(told, FILE)) is None


def test_a_file_that_says_nothing_of_how_it_is_spoken_to_is_refused() -> None:
    with pytest.raises(PlanError, match="does not say how the body is spoken to"):
        compared(REPORT, load_body_file("simulated"))


def test_another_file_is_no_report(tmp_path: Path) -> None:
    path = tmp_path / "trial.json"
    path.write_text('{"schema": "another/1"}')
    with pytest.raises(PlanError, match="no report of a trial"):
        read_report(path)
    path.write_text("no JSON")
    with pytest.raises(PlanError, match="can't be read as the report"):
        read_report(path)
    path.write_text('{"schema": "tether-trial-report/1"}')
    assert read_report(path) == {"schema": "tether-trial-report/1"}


SHIPPED = sorted(profile_folders("bodies")[1].glob("*.toml"))
REPORTS = Path(__file__).parents[2] / "hardware-notes" / "trials"


def test_a_shipped_file_calls_itself_tried_only_by_a_report_that_lies_in_the_notes() -> None:
    files = {path.stem: load_body_file(path.stem) for path in SHIPPED if "\ntried" in path.read_text(encoding="utf-8")}
    for name, file in files.items():
        told = read_report(REPORTS / f"{name}.json")
        assert file.tried == tried_line(told, compared(told, file)), name
