"""Datasets, against bytes written by hand from ISO 15740."""

from __future__ import annotations

import pytest

from tether.body.responder.datasets import (
    array,
    device_info,
    object_info,
    property_description,
    read_value,
    storage_info,
    text,
    value,
)


def test_a_text_is_its_length_with_the_closing_zero_and_utf_16() -> None:
    assert text("aé") == b"\x03a\x00\xe9\x00\x00\x00"
    assert text("") == b"\x00"
    assert text("x" * 300)[0] == 255


def test_an_array_is_its_length_and_its_numbers() -> None:
    assert array("u16", (1, 0x1234)) == b"\x02\x00\x00\x00\x01\x00\x34\x12"


@pytest.mark.parametrize(("kind", "one"), [("u8", 200), ("u16", 60_000), ("u32", 4_000_000_000), ("text", "20260101")])
def test_a_value_is_read_as_it_was_written(kind: str, one: int | str) -> None:
    assert read_value(kind, value(kind, one)) == one  # type: ignore[arg-type]


@pytest.mark.parametrize(("kind", "data"), [("u8", b""), ("u16", b"1"), ("u32", b"123"), ("text", b"")])
def test_too_few_bytes_are_no_value(kind: str, data: bytes) -> None:
    with pytest.raises(ValueError, match="no value"):
        read_value(kind, data)  # type: ignore[arg-type]


def test_a_property_with_choices_a_range_or_neither() -> None:
    head = b"\x0f\x50" + b"\x04\x00" + b"\x01" + b"\x64\x00" * 2
    assert property_description(0x500F, "u16", 100, (100, 200), writable=True) == head + b"\x02\x02\x00\x64\x00\xc8\x00"
    spanned = property_description(0x500F, "u16", 100, range(201), writable=True)
    assert spanned == head + b"\x01" + b"\x00\x00\xc8\x00\x01\x00"
    read_only = property_description(0x500F, "u16", 100, (), writable=False)
    assert read_only == head[:4] + b"\x00" + head[5:] + b"\x00"


def test_device_info_has_its_parts_in_order() -> None:
    info = device_info(
        vendor=0x0B,
        operations=(0x1001,),
        events=(0x4002,),
        properties=(0x500D,),
        formats=(0x3801,),
        who=("m", "o", "1", "s"),
    )
    one = b"\x01\x00\x00\x00"
    assert info == (
        b"\x64\x00\x0b\x00\x00\x00\x64\x00\x00\x00\x00"
        + one + b"\x01\x10" + one + b"\x02\x40" + one + b"\x0d\x50" + (one + b"\x01\x38") * 2
        + b"".join(b"\x02" + letter + b"\x00\x00\x00" for letter in (b"m", b"o", b"1", b"s"))
    )  # fmt: skip


def test_storage_info_tells_of_a_removable_card() -> None:
    told = storage_info(1000, 600, 6)
    assert told[:26] == (
        b"\x04\x00\x02\x00\x00\x00"
        + (1000).to_bytes(8, "little") + (600).to_bytes(8, "little") + (6).to_bytes(4, "little")
    )  # fmt: skip


def test_object_info_has_size_parent_and_name_in_their_places() -> None:
    told = object_info(storage=0x10001, kind=0x3811, size=70_000, parent=9, folder=False, name="A.DNG")
    assert told[0:4] == (0x10001).to_bytes(4, "little")
    assert told[4:6] == b"\x11\x38"
    assert told[8:12] == (70_000).to_bytes(4, "little")
    assert told[38:42] == (9).to_bytes(4, "little")
    assert told[42:44] == b"\x00\x00"
    assert told[52:] == text("A.DNG") + b"\x00" * 3
    assert object_info(storage=1, kind=0x3001, size=0, parent=0, folder=True, name="D")[42:44] == b"\x01\x00"
