"""Which body it is: what tells it from another before it is opened and after, and what is kept of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tether.body.driver.known import NAME, KnownBody, forget, keep, kept, seen_at
from tether.body.driver.usb import UsbDevice
from tether.errors import TetherError

ONE = KnownBody(model="Canon EOS 6D", serial="123", firmware="1.2", vendor="04a9", product="3250", place="1-1")


def device(number: int = 4, place: str = "1-1", product: str = "3250", serial: str = "") -> UsbDevice:
    return UsbDevice(
        name="Maker",
        node=Path("/dev/null"),
        port=f"usb:001,{number:03}",
        place=place,
        vendor="04a9",
        product=product,
        serial=serial,
    )


# What tells it from another


def test_a_body_that_tells_its_serial_number_no_more_is_not_it() -> None:
    assert ONE.same_as(replace(ONE, firmware="1.3"))
    assert not ONE.same_as(replace(ONE, serial=""))
    assert not ONE.same_as(replace(ONE, model="Nikon DSC D850"))


@pytest.mark.parametrize(
    ("ours", "its", "same"), [("", "", True), ("A", "", True), ("", "A", True), ("A", "A", True), ("A", "B", False)]
)
def test_a_number_on_usb_that_both_tell_must_agree(ours: str, its: str, same: bool) -> None:
    known = replace(ONE, usb_serial=ours)
    assert known.same_as(replace(ONE, usb_serial=its)) is same
    assert known.may_be(device(serial=its)) is same


def test_a_device_of_another_kind_is_not_it() -> None:
    assert ONE.may_be(device(place="3-2"))
    assert not ONE.may_be(device(product="3251"))
    assert not ONE.may_be(replace(device(), vendor="04b0"))


def test_a_number_of_either_kind_tells_it_wherever_it_is() -> None:
    assert ONE.tells_serial
    assert replace(ONE, serial="", usb_serial="A").tells_serial
    assert not replace(ONE, serial="").tells_serial


# Which device it surely is


def test_the_address_at_which_it_was_last_opened_goes_before_all_else() -> None:
    known = replace(ONE, usb_serial="A")
    there, numbered = device(4), device(5, "1-2", serial="A")
    assert known.surely([there, numbered], there.port) is there
    assert known.surely([there, numbered]) is numbered


def test_by_its_number_it_is_found_among_others_at_any_place() -> None:
    known = replace(ONE, usb_serial="A")
    own = device(7, "2-4", serial="A")
    assert known.surely([device(5, serial="B"), own, device(6, "1-2")]) is own


def test_without_a_number_it_is_at_its_own_place_and_alone_of_its_kind() -> None:
    own, other = device(9, "1-1"), device(8, "1-2")
    assert ONE.surely([own]) is own
    assert ONE.surely([own, device(8, "1-2", product="9999")]) is own
    assert ONE.surely([own, other]) is None
    assert ONE.surely([other]) is None
    assert ONE.surely([]) is None


def test_what_two_devices_answer_to_is_not_sure() -> None:
    known = replace(ONE, usb_serial="A")
    assert known.surely([device(4, "1-2", serial="A"), device(5, "1-3", serial="A")]) is None


def test_an_address_tells_nothing_of_a_device_of_another_kind() -> None:
    assert ONE.surely([device(4, product="9999")], "usb:001,004") is None


def test_what_is_seen_on_usb_is_added_to_what_the_body_tells() -> None:
    told = KnownBody(model="Canon EOS 6D", serial="123", firmware="1.2")
    assert seen_at(told, device(4)) == ONE
    assert seen_at(told, device(4, "1-3", serial="A")) == replace(ONE, place="1-3", usb_serial="A")
    assert seen_at(ONE, None) is ONE


# Keeping


def test_it_is_kept_until_it_is_forgotten(tmp_path: Path) -> None:
    assert kept(tmp_path) is None
    keep(tmp_path, replace(ONE, place="1-9"))
    keep(tmp_path, ONE)
    assert kept(tmp_path) == ONE
    forget(tmp_path)
    forget(tmp_path)
    assert kept(tmp_path) is None


@pytest.mark.parametrize("text", ['{"model": ', "{}", '{"model": "A", "colour": "red"}', "[]"])
def test_what_was_kept_and_can_not_be_read_is_not_known(tmp_path: Path, text: str) -> None:
    (tmp_path / NAME).write_text(text)
    assert kept(tmp_path) is None


def test_where_it_can_not_be_kept_the_place_is_said(tmp_path: Path) -> None:
    with pytest.raises(TetherError, match=NAME):
        keep(tmp_path / "gone", ONE)
