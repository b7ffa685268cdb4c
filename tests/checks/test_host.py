"""What is said of the machine: disk, cable, variables, power, real-time scheduling."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from tether.body.connected import Connected
from tether.body.driver.known import KnownBody
from tether.body.driver.usb import UsbDevice
from tether.checks import host as machine
from tether.checks.host import Disk
from tether.checks.sleep import Inhibition

# As proc(5) describes mountinfo; the second line has an optional field, the third a space in its path.
MOUNTS = """\
22 1 8:1 / / rw,relatime - ext4 /dev/sda1 rw
40 22 8:17 / {folder} rw,nosuid shared:1 - exfat /dev/sdb1 rw
41 22 8:18 / /media/my\\040card rw - vfat /dev/sdc1 rw
"""
GB = 1_000_000_000


def test_the_file_system_is_that_of_the_nearest_mount(tmp_path: Path) -> None:
    mounts = tmp_path / "mountinfo"
    mounts.write_text(MOUNTS.format(folder=tmp_path))
    found = machine.disk_at(tmp_path / "not" / "there", mounts)
    assert (found.kind, found.writable) == ("exfat", True)
    assert found.free_bytes > 0
    assert machine.disk_at(Path("/"), mounts).kind == "ext4"
    assert machine.disk_at(tmp_path, tmp_path / "none").kind == ""


@pytest.mark.parametrize(
    ("disk", "frame_bytes", "verdict", "words"),
    [
        (Disk(free_bytes=50 * GB, kind="ext4", writable=True), 30_000_000, "ok", "20 frames need 0.7 GB"),
        (Disk(free_bytes=GB // 2, kind="ext4", writable=True), 30_000_000, "stop", "make room"),
        (Disk(free_bytes=50 * GB, kind="exfat", writable=True), 30_000_000, "note", "exfat"),
        (Disk(free_bytes=50 * GB, kind="ext4", writable=False), 30_000_000, "stop", "can't be written"),
        (Disk(free_bytes=50 * GB, kind="ext4", writable=True), None, "note", "not known"),
    ],
)
def test_the_disk_against_the_frames(disk: Disk, frame_bytes: int | None, verdict: str, words: str) -> None:
    finding = machine.disk(disk, 20, frame_bytes)
    assert finding.verdict == verdict
    assert words in finding.sentence


@pytest.mark.parametrize(
    ("under", "free_bytes", "verdict", "words"),
    [
        ("disk", 50 * GB, "note", "is on the same disk as the outing"),
        ("disk", GB // 2, "stop", "make room"),
        ("gone", 50 * GB, "stop", "gone is not there. Connect that disk"),
        ("weir", 50 * GB, "stop", "the copy would lie in the outing itself"),
        (".", 50 * GB, "stop", "the copy would lie in the outing itself"),
    ],
)
def test_the_folder_of_a_second_copy(
    tmp_path: Path, under: str, free_bytes: int, verdict: str, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The outing's folder need not be there yet."""
    (tmp_path / "disk").mkdir()
    (tmp_path / "weir" / "frames").mkdir(parents=True)
    monkeypatch.setattr(machine, "disk_at", lambda _: Disk(free_bytes=free_bytes, kind="ext4", writable=True))
    finding = machine.second_disk(tmp_path / under, tmp_path / "weir", 20, 30_000_000)
    assert (finding.what, finding.verdict) == ("second copy", verdict)
    assert words in finding.sentence


def test_a_second_copy_on_another_disk_is_in_order(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """/proc is a file system of its own on every Linux; the outing is to lie in it."""
    monkeypatch.setattr(machine, "disk_at", lambda _: Disk(free_bytes=50 * GB, kind="ext4", writable=True))
    finding = machine.second_disk(tmp_path, Path("/proc/weir"), 20, 30_000_000)
    assert (finding.what, finding.verdict) == ("second copy", "ok")
    assert finding.sentence == f"At {tmp_path}: 50.0 GB free, 20 frames need 0.7 GB."


def camera(port: str, hindrance: str | None = None) -> Connected:
    return Connected(model="Body A", port=port, hindrance=hindrance)


@pytest.mark.parametrize(
    ("port", "cameras", "verdict", "words"),
    [
        ("", [camera("usb:001,004")], "ok", "Body A at usb:001,004"),
        ("", [], "stop", "No camera is found"),
        ("usb:001,009", [camera("usb:001,004")], "stop", "No camera is found at usb:001,009"),
        ("", [camera("usb:001,004"), camera("usb:001,005")], "stop", "--port usb:001,004 or usb:001,005"),
        ("usb:001,005", [camera("usb:001,004"), camera("usb:001,005")], "ok", "usb:001,005"),
        ("", [camera("usb:001,004", "This account may not open it.")], "stop", "may not open it"),
    ],
)
def test_the_cable_is_looked_at_before_the_camera_is_opened(
    port: str, cameras: list[Connected], verdict: str, words: str
) -> None:
    (finding,) = machine.connection(port, cameras)
    assert finding.verdict == verdict
    assert words in finding.sentence


def test_the_body_that_a_ladder_was_begun_on_is_looked_for_wherever_it_is() -> None:
    known = KnownBody(model="Body A", serial="1", vendor="04a9", product="3250", place="1-1")
    seen = UsbDevice(name="A", node=Path("/dev/null"), port="usb:001,009", place="1-2", vendor="04a9", product="3250")
    own, other = replace(camera("usb:001,009"), device=seen), camera("usb:001,004")
    (finding,) = machine.connection("usb:001,003", [other, own], known)
    assert (finding.verdict, "usb:001,009" in finding.sentence) == ("ok", True)
    (finding,) = machine.connection("", [other], known)
    assert (finding.verdict, "usb:001,004 is another camera" in finding.sentence) == ("stop", True)


def test_a_camera_on_a_network_is_not_looked_for() -> None:
    assert machine.connection("ptpip:192.168.1.5", []) == ()


def test_variables_that_spoil_the_library_are_named(tmp_path: Path) -> None:
    every = {"VCAMERADIR": "x", "IOLIBS": "x", "CAMLIBS": "x", "HOME": "x"}
    assert machine.variables({"HOME": "x"}, tmp_path / "none").verdict == "ok"
    assert "VCAMERADIR, CAMLIBS, IOLIBS set" in machine.variables(every, tmp_path / "none").sentence
    # With parts of its own the binding sets the other two itself.
    assert machine.variables(every, tmp_path).sentence.startswith("VCAMERADIR set")


@pytest.mark.parametrize(
    ("said", "verdict", "words"),
    [
        ("throttled=0x0\n", "ok", "strong enough"),
        ("throttled=0x50005\n", "note", "too weak now; it is slowed down now; the supply was too weak since"),
        ("throttled=0x80000\n", "ok", "strong enough"),
        ("what?", "note", "does not tell"),
    ],
)
def test_a_pi_tells_of_its_supply(said: str, verdict: str, words: str) -> None:
    (finding,) = machine.power(lambda: said)
    assert finding.verdict == verdict
    assert words in finding.sentence


def test_other_machines_tell_nothing_of_theirs() -> None:
    assert machine.power(lambda: None) == ()


def test_real_time_scheduling_is_found_out_by_asking(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(os, "sched_setscheduler", refused)
    finding = machine.real_time()
    assert finding.verdict == "note"
    assert "rtprio" in finding.sentence
    monkeypatch.setattr(os, "sched_setscheduler", lambda *_: None)
    assert machine.real_time().verdict == "ok"


def test_a_machine_that_may_sleep_is_a_note() -> None:
    assert machine.awake(Inhibition(held=True, sentence="Kept.")).verdict == "ok"
    assert machine.awake(Inhibition(held=False, sentence="Not kept.")).verdict == "note"
