"""The report of a trial as a file: whole, valid, masked, and left out where it could not be masked."""

from __future__ import annotations

import json
import struct
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from tests.body.driver.logged import container, transfers
from tests.capture.trials import trial_of
from tests.schemas import valid
from tether.body.driver.exchange import COMMAND, DATA, EVENT, RESPONSE, Line
from tether.body.driver.known import KnownBody
from tether.body.driver.recording import EntrySeen, FileFetched, Recorded
from tether.body.protocol import Settings
from tether.body.responder.datasets import text
from tether.capture.trial_file import report_file
from tether.capture.trial_report import About
from tether.capture.trial_result import OneSet, SetTried

ABOUT = About(
    when=datetime(2026, 5, 4, 12, 0, tzinfo=UTC),
    library="libgphoto2 2.5.33",
    body_file="canon-eos",
    reason="the whole list",
    serial=True,
)
KNOWN = KnownBody(model="Body A", serial="SECRET-7", vendor="04a9", product="3250", usb_serial="USB-SERIAL-9")
PICTURE = b"\xff\xd8\xff" + bytes(range(200))
OK = container(RESPONSE, 0x2001)
RECORDED = Recorded(
    lines=(
        *transfers(
            ("to", container(COMMAND, 0x1015, struct.pack("<I", 0xD1AF))),
            ("from", container(DATA, 0x1015, text("SECRET-7"))),
            ("from", OK),
            ("to", container(COMMAND, 0x9153)),
            ("from", container(DATA, 0x9153, PICTURE)),
            ("from", OK),
            ("to", container(COMMAND, 0x1016, struct.pack("<I", 0x5007))),
            ("to", container(DATA, 0x1016, b"\x18\x01")),
            ("from", OK),
            ("interrupt", container(EVENT, 0x4002, struct.pack("<I", 9))),
        ),
        Line(at_s=2.0, level=2, source="gp_widget_set_value", text="Setting value of 'Serial' to 'SECRET-7'"),
        Line(at_s=2.1, level=0, source="ptp", text="SECRET-7 is away since 2026-05-04 12:00:00\n"),
        Line(at_s=2.2, level=2, source="ptp", text="prop d1af value == 'SECRET-7' (str)"),
    ),
    entries=(EntrySeen(name="iso", value="100", choices=("100", "200"), writable=True),),
    files=(FileFetched(at_s=3.0, name="JOHN0001.CR3", size=31_000_000),),
)
ASKED = Settings(time="1/60", aperture="f/8", iso="100")
TRIED = trial_of(
    settings=SetTried(
        count=1,
        median_s=0.1,
        otherwise=("1/30: SECRET-7 did not take it.",),
        right=frozenset(),
        each=(
            OneSet(asked=ASKED, read=ASKED, took_s=0.1),
            OneSet(asked=ASKED, said="SECRET-7 did not take it."),
        ),
    ),
    remarks=("It lies at /home/jo/trial.json.",),
)


def written(recorded: Recorded = RECORDED, known: KnownBody | None = KNOWN, **changed: Any) -> dict[str, Any]:
    return valid("trial-report", report_file(replace(TRIED, **changed), ABOUT, recorded, known))  # type: ignore[no-any-return]


def test_it_has_what_was_found_said_and_fetched_in_order() -> None:
    report = written()
    assert report["usb"] == {"vendor": "04a9", "product": "3250"}
    assert (report["trial"]["day"], report["trial"]["model"]) == ("2026-05-04", "Body A")
    assert report["entries"][0]["choices"] == ["100", "200"]
    assert [one["said"] is None for one in report["settings"]] == [True, False]
    assert report["settings"][0]["read"]["time"] == "1/60"
    told = [one.get("asked") or one.get("event") or "file" for one in report["exchange"]]
    assert told == ["0x1015", "0x9153", "0x1016", "0x4002", "file"]
    assert report["exchange"][2]["sent"] == "1801"
    assert report["exchange"][0]["answered"] == "0x2001"
    assert report["exchange"][-1]["file_bytes"] == 31_000_000
    assert report["left_out"] is None


def test_of_pictures_only_the_length_is_kept() -> None:
    assert written()["exchange"][1]["got_bytes"] == len(PICTURE)
    assert PICTURE[:3].hex() not in json.dumps(written())


def test_a_long_answer_that_is_the_same_again_is_not_written_again() -> None:
    def ask(got: bytes) -> tuple[tuple[str, bytes], ...]:
        return ("to", container(COMMAND, 0x9209)), ("from", container(DATA, 0x9209, got)), ("from", OK)

    one, other = b"\1\2" * 20, b"\3\4" * 20
    lines = tuple(transfers(*ask(one), *ask(one), *ask(other), *ask(one), *ask(b"\1"), *ask(b"\1")))
    exchange = written(replace(RECORDED, lines=lines, files=()))["exchange"]
    told = ["same" if "got_as_before" in step else step["got"] for step in exchange]
    assert told == [one.hex(), "same", other.hex(), one.hex(), "01", "01"]


def test_no_serial_number_name_hour_or_place_is_in_it_though_the_number_was_asked_for_on_paper() -> None:
    whole = report_file(TRIED, ABOUT, RECORDED, KNOWN)
    for secret in ("SECRET-7", "USB-SERIAL-9", "JOHN", "/home/jo", "12:00"):
        assert secret not in whole
        assert secret.encode().hex() not in whole
        assert secret.encode("utf-16-le").hex() not in whole


def test_the_librarys_log_is_told_without_what_stands_elsewhere() -> None:
    said = [line["text"] for line in written()["log"]]
    assert said == ["xxxxxx-0 is away since 0000-00-00 00:00:00", "prop d1af value == …"]


def test_what_can_not_be_masked_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tether.capture.trial_masks.Masks.data", lambda self, code, data: data)
    report = written()
    assert (report["log"], report["exchange"]) == ([], [])
    assert "could not be masked" in report["left_out"]


def test_without_a_recording_it_says_so() -> None:
    report = written(Recorded(), None)
    assert (report["usb"], report["exchange"]) == (None, [])
    assert "for a camera on USB only" in report["left_out"]
    asked = "Sending PTP_OC 0x1009 (PTP_OC_GetObject) (0x1) request..."  # said while a file is fetched, on networks too
    report = written(Recorded(lines=(Line(at_s=0.1, level=2, source="ptpip", text=asked, resting=True),)), None)
    assert (report["exchange"], "on USB only" in report["left_out"]) == ([], True)
