"""What is masked in a recorded session, and what is left as it is."""

from __future__ import annotations

import struct

import pytest

from tether.body.driver.recording import EntrySeen
from tether.body.responder.datasets import array, device_info, object_info, text
from tether.capture.trial_masks import DEVICE_INFO, Masks, covered, masks_of, serial_of, text_at

SERIAL, OWNER, USB = "6120041", "Jo Bö", "00c0ffee6120041a"
ENTRIES = (
    EntrySeen(name="serialnumber", value=SERIAL),
    EntrySeen(name="ownername", value=OWNER),
    EntrySeen(name="datetime", value=1_795_777_049),
    EntrySeen(name="d090", value="my fall"),
    EntrySeen(name="availableshots", value="1000"),
    EntrySeen(name="cameramodel", value="Body A"),
    EntrySeen(name="imagesize", value="6000x4000", choices=("6000x4000", "3000x2000")),
    EntrySeen(name="iso", value="102400", choices=("100", "102400")),
)
INFO = device_info(
    vendor=11,
    operations=(0x1001, 0x4A4F, 0x4A4F, 0x4A4F),
    events=(),
    properties=(),
    formats=(),
    who=("Maker", "Body A", "1-2.3", USB),
)
EOS_EVENT = 0x9116


@pytest.fixture
def masks() -> Masks:
    return masks_of(ENTRIES, ("", "S7"), INFO)


def test_what_is_somebodys_own_is_known_from_entries_and_from_what_the_body_says_of_itself(masks: Masks) -> None:
    assert set(masks.secrets) == {SERIAL, OWNER, USB, "my fall", "c0ffee6120041a"}


def test_what_says_nothing_is_no_secret() -> None:
    """A serial number of zeros, or one that was masked before: else it would be found to be left in."""
    entries = (EntrySeen(name="serialnumber", value="0000000"), EntrySeen(name="ownername", value="xxx xxxx"))
    assert masks_of(entries, (), None).secrets == ()


def test_a_mask_is_as_long_as_what_it_covers_and_keeps_what_numbers_a_file() -> None:
    assert covered("Jo Bö 12-a") == "xx xx 00-x"
    assert covered("ABCD0042.CR3") == "FILE0042.CR3"
    assert covered("100JOHNS") == "100XXXXX"


def test_entries_lose_what_is_somebodys_own_and_nothing_else(masks: Masks) -> None:
    shown = {one.name: masks.entry(one).value for one in ENTRIES}
    assert shown == {
        "serialnumber": "0000000",
        "ownername": "xx xx",
        "datetime": None,
        "d090": "xx xxxx",
        "availableshots": "1000",
        "cameramodel": "Body A",
        "imagesize": "6000x4000",
        "iso": "102400",
    }


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        (f"Session with Body A, serial {SERIAL}.", "Session with Body A, serial 0000000."),
        ("ISO 102400, 1/8000 s, f/2.8 were refused.", "ISO 102400, 1/8000 s, f/2.8 were refused."),
        ("Frame of 2026:11:27 10:57:31 and 20261127T105731", "Frame of 0000:00:00 00:00:00 and 00000000x000000"),
        ("It is in /home/jo/pictures/a.cr3 now", "It is in /… now"),
        ("handle 0x20000010 at 1795777049", "handle 0x20000010 at 0000000000"),
    ],
)
def test_sentences_lose_numbers_times_and_places_and_keep_values(masks: Masks, said: str, shown: str) -> None:
    assert masks.text(said) == shown


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("prop d1d0 value == 'John' (str)", "prop d1d0 value == …"),
        ("prop d113 value == 0x6b09643e (u32)", "prop d113 value == …"),
        ("prop d102 value == 0x0048 (u16)", "prop d102 value == 0x0048 (u16)"),
        ("size is '6000x4000', name is 'Mary'", "size is '6000x4000', name is 'xxxx'"),
        ("taken by 'a person' of 'Body A'", "taken by 'x xxxxxx' of 'Body A'"),
    ],
)
def test_lines_of_the_log_lose_every_quoted_text_that_is_not_the_librarys(masks: Masks, said: str, shown: str) -> None:
    assert masks.line(said) == shown


@pytest.mark.parametrize(
    "written",
    [
        SERIAL.encode(),
        SERIAL.encode("utf-16-le"),
        struct.pack("<I", int(SERIAL)),
        OWNER.encode(),
        OWNER.encode("latin-1"),
        OWNER.encode("utf-16-le"),
        bytes.fromhex(USB),
        b"20261127T105731",
        "20261127T105731".encode("utf-16-le"),
    ],
)
def test_data_lose_it_however_it_is_written_and_keep_their_length(masks: Masks, written: bytes) -> None:
    data = b"\1\2\3" + written + b"\0\0\7"
    shown = masks.data(0x1015, data)
    assert len(shown) == len(data)
    assert written not in shown
    assert (shown[:3], shown[-3:]) == (data[:3], data[-3:])


def test_of_what_the_body_says_of_itself_the_number_goes_and_all_else_stays(masks: Masks) -> None:
    packed = INFO
    shown = masks.data(DEVICE_INFO, packed)
    assert serial_of(packed) == USB
    assert serial_of(shown) == covered(USB)
    assert shown[: packed.index(text(USB))] == packed[: packed.index(text(USB))]
    assert masks.data(DEVICE_INFO, b"\1\2") == b"\1\2"
    assert serial_of(b"") == ""


def test_names_of_files_keep_their_number_and_free_texts_nothing(masks: Masks) -> None:
    info = object_info(storage=1, kind=0x3811, size=40, parent=2, folder=False, name="JOHN0001.CR3")
    assert text_at(masks.data(0x1008, info)[52:79]) == "FILE0001.CR3"
    shown = masks.data(0x1014, b"\0\1" + text("6000x4000") + text("Aunt Mary's house"))
    assert shown == b"\0\1" + text("6000x4000") + text("xxxx xxxx'x xxxxx")


def test_numbers_that_could_be_read_as_letters_stay_what_they_are(masks: Masks) -> None:
    lists = array("u16", (0x48, 0x50, 0x58, 0x60, 0x4142, 0x4344)) + array("u32", (0x48, 0x50, 0x58))
    assert masks.data(0x1014, lists) == lists


def record(code: int, kind: int, value: bytes) -> bytes:
    return struct.pack("<III", 12 + len(value), code, kind) + value


def test_events_of_the_eos_family_lose_owner_number_clock_and_times_of_files(masks: Masks) -> None:
    clock, taken = struct.pack("<I", 1_795_777_049), struct.pack("<I", 1_795_777_050)
    end = struct.pack("<II", 8, 0)
    value, added = 0xC189, 0xC181
    file = struct.pack("<8I", 1, 2, 3, 0, 0, 40, 5, 6)
    events = (
        record(value, 0xD115, b"Bob\0"),
        record(value, 0xD113, clock),
        record(value, 0xD102, struct.pack("<I", 0x48)),
        record(added, 0x20000010, file + b"JOHN0001.CR3\0\0\0\0" + taken),
    )
    shown = masks.data(EOS_EVENT, b"".join(events) + end)
    assert shown == b"".join(
        (
            record(value, 0xD115, b"xxx\0"),
            record(value, 0xD113, bytes(4)),
            events[2],
            record(added, 0x20000010, file + b"FILE0001.CR3\0\0\0\0" + bytes(4)),
            end,
        )
    )


def test_an_owner_that_is_set_is_masked_too(masks: Masks) -> None:
    sent = struct.pack("<II", 12, 0xD1D0) + b"Bob\0"
    assert masks.data(0x9110, sent) == struct.pack("<II", 12, 0xD1D0) + b"xxx\0"
    time = struct.pack("<III", 12, 0xD102, 0x48)
    assert masks.data(0x9110, time) == time


def test_what_is_left_is_found(masks: Masks) -> None:
    assert masks.left_in(f"it is {SERIAL}.", ()) == (SERIAL,)
    assert masks.left_in("", (b"\0" + OWNER.encode("utf-16-le"),)) == (OWNER,)
    assert masks.left_in("it is 90000.", (b"\1\2",)) == ()
