"""Every screen looks as it was last looked at; see tests/desk/seen.py for how to draw them anew."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk.seen import IN_LOOKS, SCENES, SEEN, draw, make_outing, sizes_of
from tether.desk.looks import LOOKS


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("seen")
    make_outing(folder / "outings")
    return folder


@pytest.mark.parametrize("name", SCENES)
def test_it_looks_as_it_did(name: str, folder: Path) -> None:
    for file, drawing in draw(name, folder).items():
        assert drawing == (SEEN / file).read_text(encoding="utf-8"), f"{file} is another now"


def test_every_drawing_is_of_a_scene_and_every_screen_bears_the_mark() -> None:
    drawn = {f"{name}-{width}x{height}.txt" for name in SCENES for width, height in sizes_of(name)}
    assert {file.name for file in SEEN.glob("*.txt")} == drawn
    assert {file.name for file in SEEN.glob("*.svg")} == {f"{name}-{look}.svg" for name in IN_LOOKS for look in LOOKS}
    for file in SEEN.glob("*.txt"):
        lines = file.read_text(encoding="utf-8").splitlines()
        _, _, width = file.stem.rpartition("-")
        columns, rows = map(int, width.split("x"))
        assert "SIMULATED" in lines[0], file
        assert len(lines) == rows
        assert all(len(line) <= columns for line in lines)
