"""Values and records of the queue as the family writes them, laid out as libgphoto2's public source has them."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from tether.body.responder.card import Stored
from tether.body.responder.codes import DNG, JPEG
from tether.body.responder.eos_records import (
    END,
    RAW,
    RAW_AND_JPEG,
    added,
    aperture_code,
    choices,
    eighths,
    iso_code,
    record,
    time_code,
    wanted,
)
from tether.exposure.marks import Mark, Step, aperture_marks, iso_marks, time_marks

FILE = Stored(handle=0x2000_0010, number=1, kind=DNG, path=Path("/x/SIM_0001.DNG"), size=70_000, in_memory=False)


def labelled(marks: tuple[Mark, ...], label: str) -> Mark:
    return next(mark for mark in marks if mark.label == label)


def test_codes_are_those_of_the_family() -> None:
    times, isos = time_marks(Step.THIRD), iso_marks(Step.THIRD)
    apertures = aperture_marks(Step.THIRD)
    assert {label: time_code(labelled(times, label)) for label in ("30", "1", "0.3", "1/60", "1/8000")} == {
        "30": 0x10, "1": 0x38, "0.3": 0x45, "1/60": 0x68, "1/8000": 0xA0,
    }  # fmt: skip
    assert time_code(labelled(times, "40")) is None
    assert [aperture_code(labelled(apertures, label)) for label in ("f/2.8", "f/8", "f/9")] == [0x20, 0x38, 0x3B]
    assert aperture_code(labelled(apertures, "f/0.95")) is None
    assert [iso_code(labelled(isos, label)) for label in ("50", "100", "125", "6400")] == [0x40, 0x48, 0x4B, 0x78]
    assert time_code(labelled(time_marks(Step.HALF), "1/45")) == 0x64


@pytest.mark.parametrize(
    ("stops", "told"),
    [(0, 0), (1 / 3, 3), (0.5, 4), (2 / 3, 5), (1, 8), (-1 / 3, -3), (-2, -16), (10 / 3, 27), (0.25, None)],
)
def test_thirds_and_halves_are_told_in_eighths_and_nothing_else_is(stops: float, told: int | None) -> None:
    assert eighths(stops) == told


def test_the_longest_time_with_a_code_is_30_s() -> None:
    times = time_marks(Step.THIRD)
    assert min(code for mark in times if (code := time_code(mark)) is not None) == time_code(labelled(times, "30"))


def test_a_record_is_its_length_its_code_and_what_it_says_in_whole_words() -> None:
    assert record(0xC189, b"abcd") == struct.pack("<II", 12, 0xC189) + b"abcd"
    assert record(0xC189, b"abcde") == struct.pack("<II", 16, 0xC189) + b"abcde" + bytes(3)
    assert record(0, b"") == END


def test_choices_are_counted_behind_their_property() -> None:
    assert choices(0xD103, (0x48, 0x50)) == struct.pack("<7I", 28, 0xC18A, 0xD103, 3, 2, 0x48, 0x50)


def test_a_file_on_the_card_is_told_with_its_place_and_size() -> None:
    told = added(FILE)
    length, code = struct.unpack_from("<II", told)
    body = told[8:]
    assert (length, code) == (len(told), 0xC181)
    assert len(told) % 4 == 0
    assert struct.unpack_from("<IIH", body) == (0x2000_0010, 0x0001_0001, 0x3811)
    assert struct.unpack_from("<II", body, 0x14) == (70_000, 0x1000_0001)
    assert body[0x20:].rstrip(b"\0") == b"SIM_0001.DNG"


@pytest.mark.parametrize(("kind", "told"), [(DNG, 0xB103), (JPEG, 0x3801)])
def test_a_file_in_memory_is_told_in_the_familys_own_format(kind: int, told: int) -> None:
    body = wanted(Stored(handle=7, number=1, kind=kind, path=Path("A.DNG"), size=9, in_memory=True))[8:]
    assert struct.unpack_from("<IH", body) == (7, told)
    assert struct.unpack_from("<I", body, 0x0C) == (9,)
    assert body[0x14:].rstrip(b"\0") == b"A.DNG"


def test_a_format_says_how_many_files_and_each_in_its_length() -> None:
    for packed, files in ((RAW, 1), (RAW_AND_JPEG, 2)):
        assert struct.unpack_from("<I", packed) == (files,)
        assert len(packed) == 4 + 16 * files
