"""A recording of a session: the library's lines, the body's entries, and no data while a file is fetched."""

from __future__ import annotations

from pathlib import Path

import gphoto2 as gp
import pytest

from tests.body.driver.fakes import FakeSession, listed
from tether.body.driver.recording import EntrySeen, Recorded, Recording, StoredSetting, read_recording
from tether.body.driver.session import ConfigEntry


def speak() -> None:
    """Have the library say something to its log."""
    gp.CameraAbilitiesList().load(gp.Context())


def test_the_librarys_lines_are_kept_and_marked_while_a_file_is_fetched(tmp_path: Path) -> None:
    recording = Recording(tmp_path / "recording.jsonl")
    speak()
    with recording.fetching("IMG_0001.CR3") as came:
        speak()
        assert came(1234) == 1234
    recording.end()
    speak()
    found = read_recording(tmp_path / "recording.jsonl")
    assert {line.resting for line in found.lines} == {False, True}
    assert all("camera drivers" not in line.text or line.level == 2 for line in found.lines)
    said = [line.resting for line in found.lines if line.text.endswith("camera drivers.")]
    assert said == [False, True], "what is said after its end is not in it"
    assert [(one.name, one.size) for one in found.files] == [("IMG_0001.CR3", 1234)]
    assert [line.at_s for line in found.lines] == sorted(line.at_s for line in found.lines)


def test_every_entry_is_kept_as_it_read_and_one_that_can_not_be_read_with_the_reason(tmp_path: Path) -> None:
    class Session(FakeSession):
        def names(self) -> frozenset[str]:
            return frozenset((*self.entries, "gone"))

    entries = {"iso": listed("100", "100", "200"), "zoom": ConfigEntry(value=None, choices=(), writable=False)}
    recording = Recording(tmp_path / "recording.jsonl")
    recording.entries(Session(entries=entries))
    recording.end()
    assert read_recording(tmp_path / "recording.jsonl").entries == (
        EntrySeen(name="gone", failed="It can't be read."),
        EntrySeen(name="iso", value="100", choices=("100", "200"), writable=True),
        EntrySeen(name="zoom"),
    )


def test_without_a_place_nothing_is_recorded(tmp_path: Path) -> None:
    recording = Recording(None)
    recording.entries(FakeSession())
    with recording.fetching("a") as came:
        speak()
        assert came(1) == 1
    recording.end()
    assert read_recording(tmp_path / "recording.jsonl") == Recorded()


def test_what_the_library_keeps_for_cameras_on_usb_is_kept_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By that it decides whether it sends pictures to the computer first, so that the same session needs the same."""
    monkeypatch.setenv("HOME", str(tmp_path))
    (tmp_path / ".gphoto").mkdir()
    (tmp_path / ".gphoto" / "settings").write_text("ptp2_ip=guid=5b:a2\nptp2=capturetarget=card\nodd\n")
    Recording(tmp_path / "recording.jsonl").end()
    stored = read_recording(tmp_path / "recording.jsonl").stored
    assert stored == (StoredSetting(name="capturetarget", value="card"),)


def test_a_last_line_that_was_cut_off_is_left_out(tmp_path: Path) -> None:
    path = tmp_path / "recording.jsonl"
    path.write_text('{"entry": {"name": "iso"}}\n{"entry": {"na')
    assert read_recording(path).entries == (EntrySeen(name="iso"),)
