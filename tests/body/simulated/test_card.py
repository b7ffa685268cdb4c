"""What a simulated body keeps in its folder: states and exposures whole or not there, and its record line by line."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tether.body.protocol import CardFile, Settings
from tether.body.simulated.card import CardExposure, CardFolder, Spell, State, name_of
from tether.errors import LostError, TetherError

SET = Settings(time="1/60", aperture="f/11", iso="100")
STATE = State(
    origin_ns=1, seen_clock_ns=2, in_force=SET, shown=SET, found=SET, fitted=(), battery=0.5, struck={0: 2}, made=3
)


def spell(start_s: float, end_s: float) -> Spell:
    return Spell(start_s=start_s, end_s=end_s, fitted=(), capped=False, knock_px=(0.0, 0.0))


def exposure(number: int, *spells: Spell) -> CardExposure:
    return CardExposure(
        number=number,
        settings=SET,
        aperture=11.3,
        iso=100.0,
        opened_utc=datetime(2026, 5, 4, tzinfo=UTC),
        spells=spells or (spell(0.0, 1.0),),
        temperature_c=20.0,
        less_dark=False,
        exif_time_s=1.0,
        ready_ns=0,
    )


def test_an_exposure_was_open_from_its_first_spell_to_its_last() -> None:
    one = exposure(1, spell(10.0, 12.0), spell(12.0, 17.5))
    assert one.open_s == 7.5
    assert [part.open_s for part in one.spells] == [2.0, 5.5]


def test_a_file_has_the_bodys_number_in_its_name() -> None:
    assert exposure(12).file == CardFile(folder="/DCIM/100SIMUL", name="SIM_0012.DNG", number=12, size=None)
    assert name_of(12345) == "SIM_12345"


def test_what_was_left_is_found_and_a_new_folder_is_empty(tmp_path: Path) -> None:
    folder = CardFolder(tmp_path / "new" / "body")
    assert folder.load() is None
    assert folder.exposures() == ()
    folder.save(STATE)
    folder.keep(exposure(1))
    again = CardFolder(tmp_path / "new" / "body")
    assert again.load() == STATE
    assert again.exposures() == (exposure(1),)


def test_exposures_are_listed_oldest_first_also_past_four_digits(tmp_path: Path) -> None:
    folder = CardFolder(tmp_path)
    for number in (10_000, 9_999, 2):
        folder.keep(exposure(number))
    assert [one.number for one in folder.exposures()] == [2, 9_999, 10_000]


def test_nothing_half_written_is_left_beside(tmp_path: Path) -> None:
    folder = CardFolder(tmp_path)
    folder.save(STATE)
    folder.save(STATE.model_copy(update={"made": 4}))
    folder.keep(exposure(4))
    files = sorted(str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*") if path.is_file())
    assert files == ["card/SIM_0004.json", "state.json"]


def test_its_record_grows_line_by_line(tmp_path: Path) -> None:
    CardFolder(tmp_path).note("opened", number=1)
    CardFolder(tmp_path).note("closed", number=1, open_s=0.5)
    lines = [json.loads(line) for line in (tmp_path / "openings.jsonl").read_text().splitlines()]
    assert lines == [{"what": "opened", "number": 1}, {"what": "closed", "number": 1, "open_s": 0.5}]


@pytest.mark.parametrize("content", [b"{", b"{}", b'{"number": 1, "colour": "red"}', b"\xff"])
@pytest.mark.parametrize("name", ["state.json", "card/SIM_0001.json"])
def test_what_can_not_be_read_is_named(tmp_path: Path, name: str, content: bytes) -> None:
    folder = CardFolder(tmp_path)
    (tmp_path / name).write_bytes(content)
    read = folder.load if name == "state.json" else folder.exposures
    with pytest.raises(LostError, match=rf"{name} can't be read as part of a simulated body; use another folder"):
        read()


def test_a_folder_that_can_not_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "body").write_text("a file")
    with pytest.raises(TetherError, match="body"):
        CardFolder(tmp_path / "body")
