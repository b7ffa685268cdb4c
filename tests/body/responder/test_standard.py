"""What all dialects share: the card and its files, and the properties of the standard."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.body.responder.client import OK, Answer, Client
from tests.body.responder.rig import Served, served, soon
from tether.body.dialects import Dialect
from tether.body.protocol import SceneChange
from tether.body.responder.start import WireHow

ROOT, FOLDER, STORAGE, EVERYWHERE = 0x1000_0000, 0x1000_0001, 0x0001_0001, 0xFFFF_FFFF
ADDED, COMPLETE = 0x4002, 0x400D
BUSY, INVALID_OBJECT, INVALID_VALUE, NO_STORE = 0x2019, 0x2009, 0x201C, 0x2013
TIME, APERTURE, ISO, PROGRAM = 0x500D, 0x5007, 0x500F, 0x500E


@pytest.fixture
def camera(tmp_path: Path) -> Iterator[Served]:
    with served(tmp_path, "plain") as camera:
        yield camera


@pytest.fixture
def client(camera: Served) -> Iterator[Client]:
    with Client(camera.port) as client:
        yield client


def handles(client: Client, parent: int) -> tuple[int, ...]:
    answer = client.ask(0x1007, STORAGE, 0, parent)
    assert answer.code == OK
    assert answer.data is not None
    return struct.unpack(f"<{len(answer.data) // 4}I", answer.data)[1:]


def take(client: Client) -> int:
    """Take a frame, and return the handle of its file."""
    assert client.ask(0x100E).code == OK
    told = client.event()
    assert told is not None
    code, handle = told
    assert code == ADDED
    return handle


def description(answer: Answer, kind: str) -> tuple[int, tuple[int, ...]]:
    """Return the current value and the choices in a description."""
    assert answer.data is not None
    size = struct.calcsize(kind)
    (now,) = struct.unpack_from(f"<{kind}", answer.data, 5 + size)
    assert answer.data[5 + 2 * size] == 2
    (count,) = struct.unpack_from("<H", answer.data, 6 + 2 * size)
    return now, struct.unpack_from(f"<{count}{kind}", answer.data, 8 + 2 * size)


def test_a_frame_is_told_listed_and_got_whole_and_in_pieces(camera: Served, client: Client) -> None:
    handle = take(client)
    assert client.event() == (COMPLETE, 0)
    assert handles(client, EVERYWHERE) == (ROOT,)
    assert handles(client, ROOT) == (FOLDER,)
    assert handles(client, FOLDER) == (handle,)
    assert handles(client, 0) == (ROOT, FOLDER, handle)
    assert client.ask(0x1006, STORAGE, 0, FOLDER).parameters == (1,)
    whole = client.ask(0x1009, handle).data
    info = client.ask(0x1008, handle).data
    assert whole is not None
    assert info is not None
    assert whole[:4] == b"II*\0"
    assert struct.unpack_from("<I", info, 8) == (len(whole),)
    assert "SIM_0001.DNG".encode("utf-16-le") in info
    pieces = [client.ask(0x101B, handle, at, 30_000) for at in range(0, len(whole), 30_000)]
    assert b"".join(piece.data or b"" for piece in pieces) == whole
    assert [piece.parameters[0] for piece in pieces] == [len(piece.data or b"") for piece in pieces]
    assert client.ask(0x101B, handle, len(whole) + 5, 10).data == b""
    assert whole == (camera.folder / "wire" / "SIM_0001.DNG").read_bytes()


def test_a_frame_can_be_a_raw_file_and_a_jpeg(tmp_path: Path) -> None:
    with served(tmp_path, "plain", WireHow(two_files=True)) as camera, Client(camera.port) as client:
        raw = take(client)
        second = client.event()
        assert second is not None
        assert client.event() == (COMPLETE, 0)
        assert handles(client, FOLDER) == (raw, second[1])
        jpeg = client.ask(0x1009, second[1]).data
        assert jpeg is not None
        assert jpeg[:3] == b"\xff\xd8\xff"


def test_while_a_shutter_is_open_the_card_is_not_touched(client: Client) -> None:
    handle = take(client)
    assert client.ask(0x1016, TIME, data=struct.pack("<I", 2500)).code == OK
    assert client.ask(0x100E).code == OK
    for code, parameters in ((0x1007, (STORAGE, 0, FOLDER)), (0x1009, (handle,)), (0x100E, ()), (0x1016, (TIME,))):
        data = struct.pack("<I", 1250) if code == 0x1016 else None
        assert client.ask(code, *parameters, data=data).code == BUSY


def test_what_is_not_there_is_no_object(client: Client) -> None:
    for code in (0x1008, 0x1009, 0x101B, 0x100B):
        assert client.ask(code, 77).code == INVALID_OBJECT


def test_nothing_is_deleted_from_the_card(client: Client) -> None:
    handle = take(client)
    assert client.ask(0x100B, handle).code != OK
    assert handles(client, FOLDER) == (handle,)


def test_a_new_card_is_empty_and_numbers_go_on(camera: Served, client: Client) -> None:
    take(client)
    client.event()
    camera.physics.stage(SceneChange(new_card=True))
    assert handles(client, FOLDER) == ()
    take(client)
    info = client.ask(0x1008, *handles(client, FOLDER)).data
    assert info is not None
    assert "SIM_0002.DNG".encode("utf-16-le") in info


def test_the_storage_says_how_many_frames_fit(tmp_path: Path) -> None:
    with served(tmp_path, "plain", card_frames=7) as camera, Client(camera.port) as client:
        data = client.ask(0x1005, STORAGE).data
        assert data is not None
        assert struct.unpack_from("<QI", data, 14) == (7 * 60_000_000, 7)


def test_without_a_card_there_is_no_storage_until_one_is_put_in(tmp_path: Path) -> None:
    with served(tmp_path, "plain", WireHow(card=False)) as camera, Client(camera.port) as client:
        assert client.ask(0x1004).data == bytes(4)
        assert client.ask(0x1005, STORAGE).code == NO_STORE
        assert client.ask(0x100E).code == NO_STORE
        camera.physics.stage(SceneChange(new_card=True))
        assert client.ask(0x1004).data == struct.pack("<II", 1, STORAGE)
        take(client)


@pytest.mark.parametrize(("code", "kind", "wanted"), [(TIME, "I", 1250), (APERTURE, "H", 800), (ISO, "H", 200)])
def test_time_aperture_and_iso_are_offered_set_and_read_back(client: Client, code: int, kind: str, wanted: int) -> None:
    _, choices = description(client.ask(0x1014, code), kind)
    assert wanted in choices
    assert client.ask(0x1016, code, data=struct.pack(f"<{kind}", wanted)).code == OK
    assert client.ask(0x1015, code).data == struct.pack(f"<{kind}", wanted)
    assert description(client.ask(0x1014, code), kind)[0] == wanted


def test_what_is_not_offered_is_refused(client: Client) -> None:
    assert client.ask(0x1016, ISO, data=struct.pack("<H", 123)).code == INVALID_VALUE
    assert client.ask(0x1016, ISO, data=b"1").code == INVALID_VALUE
    assert client.ask(0x1016, TIME, data=struct.pack("<I", 0xFFFF_FFFF)).code == INVALID_VALUE


@pytest.mark.parametrize("dialect", ["nikon", "plain"])
def test_only_the_hand_turns_the_dial(tmp_path: Path, dialect: Dialect) -> None:
    with served(tmp_path, dialect, WireHow(mode="Av")) as camera, Client(camera.port) as client:
        assert client.ask(0x1015, PROGRAM).data == b"\x03\x00"
        assert client.ask(0x1016, PROGRAM, data=b"\x01\x00").code == INVALID_VALUE
        camera.physics.mode = "M"
        assert client.ask(0x1016, PROGRAM, data=b"\x01\x00").code == OK


def test_news_that_come_while_nobody_listens_are_lost(camera: Served) -> None:
    with Client(camera.port) as client:
        assert client.ask(0x100E).code == OK
    assert soon((camera.folder / "wire" / "SIM_0001.DNG").exists)
    with Client(camera.port) as client:
        assert client.event(0.1) is None
        assert len(handles(client, FOLDER)) == 1
