"""A session that was recorded, masked and replayed: the same is done with the body, and the same comes of it."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import Any

import pytest

from tests.schemas import valid
from tests.usb.camera import EOS, NIKON, Kind
from tests.usb.recorded import Answer
from tests.usb.replay import Script, Step, differences, picture, pictures_of, steps_of, tried_again
from tests.usb.rig import Rig
from tether.files.exif import read_exif

OK = 0x2001
TIMES = ("1/60", "1/8", "2")
USB_SERIAL = "USB-77-ABCD"


def step(code: int, *parameters: int, sent: bytes = b"", got: bytes | None = None) -> Step:
    return Step(code=code, parameters=parameters, sent=sent, answer=Answer(got, OK, ()))


def said(script: Script, code: int, *parameters: int, sent: bytes = b"") -> bytes | None:
    answer, _ = script.answer(code, parameters, sent)
    return answer.data if answer else None


# The script


def test_a_question_is_answered_as_it_was_at_that_place() -> None:
    ask = 0x1015
    script = Script([step(ask, 5, got=b"a"), step(0x1016, 5, sent=b"x"), step(ask, 5, got=b"b")])
    assert [said(script, ask, 5), said(script, ask, 5)] == [b"a", b"b"]
    script.begin()
    assert said(script, ask, 5) == b"a"
    said(script, 0x1016, 5, sent=b"x")
    assert [said(script, ask, 5) for _ in range(3)] == [b"b", b"b", b"b"], "asked more often, it is as at the last time"
    assert script.answer(ask, (6,), b"") == (None, None)


def test_a_question_is_not_answered_from_long_after_but_what_is_set_may_come_later() -> None:
    ask = 0x1015
    between = [step(0x1016, number, sent=b"x") for number in range(60)]
    script = Script([step(ask, 5, got=b"a"), *between, step(ask, 5, got=b"b")])
    assert [said(script, ask, 5), said(script, ask, 5)] == [b"a", b"a"]
    said(script, 0x1016, 59, sent=b"x")
    assert said(script, ask, 5) == b"b"


@pytest.mark.parametrize("ask", [0x9116, 0x90C7], ids=["eos", "nikon"])
def test_a_body_that_is_polled_more_often_has_nothing_to_tell_and_polled_less_often_tells_it_later(ask: int) -> None:
    close, nothing, came = 0x9129, step(ask, got=b"\0\0"), step(ask, got=b"a file came")
    script = Script([nothing, step(close), nothing, came, step(0x1008, 1), nothing])
    assert [said(script, ask) for _ in range(3)] == [b"\0\0"] * 3, "the file does not come before the close"
    said(script, close)
    said(script, 0x1008, 1)
    assert [said(script, ask) for _ in range(3)] == [b"a file came", b"\0\0", b"\0\0"]


def test_an_operation_whose_answer_was_left_out_is_answered_as_at_another_time() -> None:
    bare = Step(code=0x1007, parameters=(1,), sent=b"", answer=None)
    script = Script([step(0x1007, 1, got=b"list"), bare])
    assert [said(script, 0x1007, 1), said(script, 0x1007, 1)] == [b"list", b"list"]


def test_a_reports_exchange_is_read_with_what_was_told_unasked() -> None:
    exchange: list[dict[str, Any]] = [
        {"at_s": 0.1, "asked": "0x100e", "with": [0, 0], "answered": "0x2001", "returned": [], "took_s": 0.1},
        {"at_s": 0.2, "event": "0x4002", "with": [9]},
        {"at_s": 0.3, "asked": "0x1015", "with": [5], "got": "0102", "answered": "0x2001", "returned": [7]},
        {"at_s": 0.35, "asked": "0x1015", "with": [5], "got_as_before": True, "answered": "0x2001", "returned": [7]},
        {"at_s": 0.4, "asked": "0x1009", "with": [9]},
        {"at_s": 0.5, "file_bytes": 4000},
    ]
    first, second, again, third = steps_of(exchange)
    assert first.events == ((0x4002, (9,)),)
    assert second.answer == Answer(b"\1\2", OK, (7,))
    assert again == second
    assert third.answer is None


def test_made_up_pictures_are_as_long_as_those_were_and_say_the_same_time(tmp_path: Any) -> None:
    frames = [{"files": 2, "exif_s": 9.999}, {"files": 1, "exif_s": None}]
    report = {
        "exchange": [{"file_bytes": 5000}, {"file_bytes": 3000}, {"file_bytes": 2000}],
        "trial": {"frames": frames},
    }
    made = pictures_of(report)
    assert [len(one) for one in made] == [5000, 3000, 2000]
    path = tmp_path / "a.cr3"
    path.write_bytes(made[0])
    assert read_exif(path).time_s == pytest.approx(9.999)
    path.write_bytes(picture(2000, None))
    assert read_exif(path).time_s is None


# The whole


def recorded(usb: Rig, kind: Kind) -> tuple[dict[str, Any], str]:
    """Try a body as somebody far away would, and return the report as data and as text."""
    camera = usb.camera(kind, usb_serial=USB_SERIAL).plug()
    plan = usb.plan(kind, TIMES)
    tried = usb.tether("body", "try", "--quick", "--yes", "--needs", plan, "--report", "trial.json", within_s=110.0)
    assert tried.code == 0, tried
    text = (usb.folder / "trial.json").read_text()
    report = valid("trial-report", text)
    for secret in (camera.serial, USB_SERIAL, str(usb.folder), "20" + report["trial"]["day"][2:].replace("-", "")):
        for written in (secret, secret.encode().hex(), secret.encode("utf-16-le").hex()):
            assert written not in text
    camera.unplug()
    return report, text


@pytest.mark.prove
@pytest.mark.timeout(300)
@pytest.mark.parametrize("kind", [EOS, NIKON], ids=lambda kind: kind.dialect)
def test_a_session_that_was_recorded_and_masked_is_replayed_and_comes_out_the_same(usb: Rig, kind: Kind) -> None:
    report, _ = recorded(usb, kind)
    assert report["left_out"] is None
    assert [frame["way"] for frame in report["trial"]["frames"]] == ["timed", "held", "held"]
    again = tried_again(usb, report, usb.plan(kind, TIMES))  # written anew: what was measured went into its body file
    assert differences(report, again) == []
    assert sum("sent" in one for one in again["exchange"]) >= 9, "it was set three times three"
    other = deepcopy(again)
    other["settings"][0]["read"]["time"] = "1/2"
    other["exchange"] = [one for one in other["exchange"] if one.get("asked") not in ("0x9129", "0x920c")]
    other["entries"] = other["entries"][:-1]
    assert [one.partition(":")[0] for one in differences(report, other)] == [
        "its entries",
        "what was set",
        "what it was told to do",
    ]
    assert json.dumps(again) != json.dumps(report), "it is another session"
