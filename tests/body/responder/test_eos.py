"""The dialect of Canon EOS bodies, by bytes laid out as libgphoto2's public source describes them."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.body.responder.client import OK, Client
from tests.body.responder.rig import Served, served, soon
from tether.body.responder.start import WireHow

VALUE, CHOICES, STATUS, ADDED, WANTED, BULB_TIME = 0xC189, 0xC18A, 0xC18B, 0xC181, 0xC186, 0xC194
APERTURE, TIME, ISO, DIAL, FOCUS = 0xD101, 0xD102, 0xD103, 0xD138, 0xD108
SHOTS, DESTINATION, FORMAT, OUTPUT = 0xD11B, 0xD11C, 0xD120, 0xD1B0
RELEASE_ON, RELEASE_OFF, REMOTE_RELEASE, BULB_START, BULB_END = 0x9128, 0x9129, 0x910F, 0x9125, 0x9126
PARTIAL, TRANSFER_COMPLETE, REQUEST = 0x9107, 0x9117, 0x9127
BULB, QUARTER, EIGHTH, SIXTEENTH = 0x0C, 0x48, 0x50, 0x58
ERROR, INVALID_OBJECT, INVALID_PARAMETER, NOT_READY = 0x2002, 0x2009, 0x201D, 0xA102
HALF, FULL, BOTH, WITHOUT_AF = 1, 2, 3, 1

Records = list[tuple[int, bytes]]


@pytest.fixture
def camera(tmp_path: Path) -> Iterator[Served]:
    with served(tmp_path, "eos") as camera:
        yield camera


@pytest.fixture
def client(camera: Served) -> Iterator[Client]:
    with Client(camera.port) as client:
        client.begin_queue()
        yield client


def values(records: Records) -> dict[int, int]:
    """Return the numbers that records of values tell, by property."""
    return dict(struct.unpack_from("<II", body) for code, body in records if code == VALUE)


def choices(records: Records, code: int) -> tuple[int, ...]:
    """Return what the last record of a property's choices offers."""
    (body,) = [body for kind, body in records if kind == CHOICES and body[:4] == struct.pack("<I", code)][-1:]
    assert struct.unpack_from("<I", body, 4) == (3,)
    return struct.unpack_from(f"<{struct.unpack_from('<I', body, 8)[0]}I", body, 12)


def added(client: Client) -> tuple[int, int, bytes]:
    """Wait until a file is told, and return its handle, its size and its name."""
    body = client.record(ADDED)
    (handle, storage, kind), (size, parent) = struct.unpack_from("<IIH", body), struct.unpack_from("<II", body, 0x14)
    assert (storage, kind, parent) == (0x10001, 0x3811, 0x1000_0001)
    return handle, size, body[0x20:].rstrip(b"\0")


def press_and_release(client: Client) -> None:
    for code, stage in ((RELEASE_ON, HALF), (RELEASE_ON, FULL), (RELEASE_OFF, FULL), (RELEASE_OFF, HALF)):
        assert client.ask(code, stage, 0).code == OK


def test_all_there_is_to_tell_comes_first_each_value_before_its_choices(camera: Served) -> None:
    with Client(camera.port) as client:
        records = client.begin_queue()
        told: list[bytes] = []
        for code, body in records:
            if code == VALUE:
                told.append(body[:4])
            elif code == CHOICES:
                assert body[:4] in told
        assert {TIME, APERTURE, ISO, SHOTS, DESTINATION, OUTPUT, DIAL, FOCUS, FORMAT} <= values(records).keys()
        assert values(records)[SHOTS] == 1000
        assert choices(records, TIME)[-1] == BULB
        assert len(choices(records, TIME)) == len(camera.physics.abilities.times) + 1
        assert client.records() == []


@pytest.mark.parametrize(("code", "number"), [(TIME, EIGHTH), (APERTURE, 0x38), (ISO, 0x50)])
def test_a_value_that_is_set_is_told(client: Client, code: int, number: int) -> None:
    assert client.set_eos(code, number) == OK
    records = client.records()
    assert values(records) == {code: number}
    assert number in choices(records, code)
    assert client.ask(REQUEST, code).code == OK
    assert values(client.records()) == {code: number}


def test_what_is_not_offered_or_not_known_is_refused(client: Client) -> None:
    assert client.set_eos(TIME, 0x01) != OK
    assert client.set_eos(0xD1FF, 0x01) != OK
    assert client.set_eos(OUTPUT, 0x08) != OK
    assert client.ask(0x9110, data=b"short").code != OK
    assert client.ask(0x9110, data=struct.pack("<IIB", 12, TIME, 0)).code != OK
    assert client.ask(REQUEST, 0xD1FF).code == ERROR


def test_a_timed_frame_is_told_with_its_size_and_got_in_pieces(camera: Served, client: Client) -> None:
    assert client.set_eos(TIME, QUARTER) == OK
    press_and_release(client)
    assert struct.unpack("<I", client.record(STATUS)) == (1,)
    handle, size, name = added(client)
    assert name == b"SIM_0001.DNG"
    pieces = [client.ask(PARTIAL, handle, at, 16_384).data or b"" for at in range(0, size, 16_384)]
    assert b"".join(pieces) == (camera.folder / "wire" / "SIM_0001.DNG").read_bytes()
    assert client.ask(TRANSFER_COMPLETE, handle).code == OK
    assert values(client.records()).get(SHOTS, 999) == 999


def test_a_half_press_takes_nothing(camera: Served, client: Client) -> None:
    assert client.ask(RELEASE_ON, HALF, 0).code == client.ask(RELEASE_OFF, HALF).code == OK
    assert camera.physics.made == 0


def test_a_held_frame_counts_its_seconds_and_ends_with_the_release(camera: Served, client: Client) -> None:
    assert client.set_eos(TIME, BULB) == OK
    assert client.ask(RELEASE_ON, BOTH, WITHOUT_AF).code == OK
    assert client.set_eos(TIME, EIGHTH) == 0x2019
    assert struct.unpack("<I", client.record(BULB_TIME)) == (1,)
    assert camera.physics.held_open
    assert client.ask(RELEASE_OFF, HALF).code == OK
    assert camera.physics.held_s() is not None
    assert client.ask(RELEASE_OFF, BOTH).code == OK
    assert camera.physics.held_s() is None
    assert added(client)[2] == b"SIM_0001.DNG"


def test_press_and_release_on_bulb_is_a_very_short_frame(camera: Served, client: Client) -> None:
    assert client.set_eos(TIME, BULB) == OK
    press_and_release(client)
    assert not camera.physics.held_open
    assert camera.physics.made == 1


def test_an_open_shutter_outlives_its_client_and_the_next_one_closes_it(camera: Served) -> None:
    with Client(camera.port) as client:
        client.begin_queue()
        assert client.set_eos(TIME, BULB) == client.ask(RELEASE_ON, BOTH, WITHOUT_AF).code == OK
    with Client(camera.port) as client:
        assert (STATUS, struct.pack("<I", 1)) in client.begin_queue()
        assert client.ask(RELEASE_OFF, BOTH).code == OK
        assert added(client)[2] == b"SIM_0001.DNG"


def test_off_the_manual_mode_there_is_no_bulb_and_the_turn_of_the_dial_is_told(tmp_path: Path) -> None:
    with served(tmp_path, "eos", WireHow(mode="Av")) as camera, Client(camera.port) as client:
        records = client.begin_queue()
        assert values(records)[DIAL] == 2
        assert BULB not in choices(records, TIME)
        assert client.set_eos(TIME, BULB) != OK
        camera.physics.mode = "M"
        records = client.records()
        assert values(records)[DIAL] == 3
        assert BULB in choices(records, TIME)


def test_on_bulb_with_the_dial_turned_away_the_release_fails(camera: Served, client: Client) -> None:
    assert client.set_eos(TIME, BULB) == OK
    camera.physics.mode = "Av"
    assert client.ask(RELEASE_ON, BOTH, WITHOUT_AF).code == ERROR
    assert camera.physics.made == 0


def test_with_the_lens_on_auto_only_a_release_without_focusing_opens(camera: Served, client: Client) -> None:
    camera.physics.focus = "af"
    assert values(client.records())[FOCUS] == 0
    assert client.ask(RELEASE_ON, HALF, 0).code == client.ask(RELEASE_ON, BOTH, 0).code == ERROR
    assert client.ask(RELEASE_ON, BOTH, WITHOUT_AF).code == OK
    assert camera.physics.made == 1


def test_to_the_host_a_frame_is_in_memory_until_it_was_taken(camera: Served, client: Client) -> None:
    assert client.set_eos(DESTINATION, 4) == OK
    assert values(client.records())[DESTINATION] == 4
    press_and_release(client)
    body = client.record(WANTED)
    (handle, kind), (size,) = struct.unpack_from("<IH", body), struct.unpack_from("<I", body, 0x0C)
    assert (kind, body[0x14:].rstrip(b"\0")) == (0xB103, b"SIM_0001.DNG")
    assert client.ask(0x1006, 0x10001, 0, 0x1000_0001).parameters == (0,)
    assert len(client.ask(0x101B, handle, 0, 1 << 20).data or b"") == size
    assert client.ask(TRANSFER_COMPLETE, handle).code == OK
    assert client.ask(0x101B, handle, 0, 1 << 20).code == INVALID_OBJECT


def test_the_format_is_set_as_the_family_packs_it(camera: Served, client: Client) -> None:
    both = struct.pack("<9I", 2, 16, 6, 0, 4, 16, 1, 0, 3)
    assert client.ask(0x9110, data=struct.pack("<II", 8 + len(both), FORMAT) + both).code == OK
    assert any(code == VALUE and body == struct.pack("<I", FORMAT) + both for code, body in client.records())
    press_and_release(client)
    names = [client.record(ADDED)[0x20:].rstrip(b"\0")]
    assert soon(lambda: (camera.folder / "wire" / "SIM_0001.JPG").exists())
    assert names == [b"SIM_0001.DNG"]
    assert client.ask(0x9110, data=struct.pack("<III", 12, FORMAT, 7)).code != OK


def test_the_older_form_holds_with_a_start_and_an_end(tmp_path: Path) -> None:
    with served(tmp_path, "eos-old") as camera, Client(camera.port) as client:
        client.begin_queue()
        assert client.ask(RELEASE_ON, BOTH, WITHOUT_AF).code == 0x2005
        assert client.ask(BULB_START).code == ERROR
        assert client.set_eos(TIME, BULB) == OK
        assert client.ask(REMOTE_RELEASE).code == ERROR
        assert client.ask(BULB_START).parameters == (0,)
        assert camera.physics.held_open
        assert client.ask(BULB_END).parameters == (0,)
        assert added(client)[2] == b"SIM_0001.DNG"
        assert client.set_eos(TIME, SIXTEENTH) == OK
        assert client.ask(REMOTE_RELEASE).parameters == (0,)
        assert added(client)[2] == b"SIM_0002.DNG"


def test_live_view_is_a_record_with_a_jpeg_while_its_output_is_on_and_focus_moves_on_af_only(
    camera: Served, client: Client
) -> None:
    assert client.ask(0x9153, 0x20_0000, 0, 0).code == NOT_READY
    assert client.set_eos(OUTPUT, 2) == OK
    assert values(client.records())[OUTPUT] == 2
    data = client.ask(0x9153, 0x20_0000, 0, 0).data
    assert data is not None
    assert struct.unpack_from("<II", data) == (len(data), 1)
    assert data[8:10] == b"\xff\xd8"
    assert client.ask(0x9155, 1).code == ERROR
    camera.physics.focus = "af"
    assert client.ask(0x9155, 0x8001).code == client.ask(0x9158, 5).code == client.ask(0x9159, 100, 100).code == OK
    assert client.ask(0x9158, 10).code == client.ask(0x9155, 4).code == INVALID_PARAMETER
    assert client.ask(RELEASE_ON, BOTH, WITHOUT_AF).code == OK
    assert values(client.records())[OUTPUT] == 0
    assert client.ask(0x9153, 0x20_0000, 0, 0).code == NOT_READY
