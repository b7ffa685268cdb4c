"""A whole evening by commands alone: plan at a place, checks, ladder into dusk with troubles, choosing, handing over.

On the simulated body; a tripod that is knocked, a cable that drops while the shutter is open, light that falls.
"""

from __future__ import annotations

import json
import os
import queue
import shutil
import subprocess
import sys
import tomllib
from collections import Counter
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rawpy
from PIL import Image

from tests.files.test_outside_readers import said
from tether.editor.messages import EditorEvent, Nudge, PictureShown, ShowLive, Start
from tether.editor.process import DraftProcess
from tether.report.choices import Choice, choose

pytestmark = [pytest.mark.prove, pytest.mark.timeout(600)]

TETHER = (sys.executable, "-P", "-c", "from tether.command import main; main()")
WORLD = """
seed = 11
light = [[0, 0.0], [600, -1.0], [3000, -6.0]]

[sensor]
window_px = [720, 480]

[filters."Calder 6"]
stops = 6.3
[filters."Calder 10"]
stops = 9.7

[[knocks]]
before_frame = 9
right_px = 3.0
down_px = 2.0

[[faults]]
what = "vanishes"
at_frame = 12
after_s = 0.5
for_s = 5.0
"""
NEW = (
    *("--title", "Weir at dusk", "--place", "47.0,8.0", "--focal", "35", "--time", "1/60", "--shortest", "1/60"),
    *("--longest", "30s", "--filter", "Calder 6=6", "--filter", "Calder 10=10"),
)


class Evening:
    """A folder, and the commands that are given in it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.outing = folder / "weir"

    def tether(self, *words: str | Path) -> str:
        """Run a command that must end well, and return what it prints."""
        done = subprocess.run(
            (*TETHER, *map(str, words)),
            cwd=self.folder,
            env={**os.environ, **{f"XDG_{one}_HOME": str(self.folder / one) for one in ("STATE", "CONFIG", "DATA")}},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
            timeout=300,
        )
        assert done.returncode == 0, (words, done.stdout[-3000:], done.stderr[-3000:])
        return done.stdout


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Evening:
    """The evening, up to the last frame and the choice: the frame of the longest rung, and one in reserve."""
    evening = Evening(tmp_path_factory.mktemp("evening"))
    evening.tether("new", "weir.toml", *NEW)
    plan = (evening.folder / "weir.toml").read_text().replace("# sidecars = true", "sidecars = true")
    plan = plan.replace("[readings] ", '[readings]\nregions = "as proposed"\n#')
    (evening.folder / "weir.toml").write_text(f'{plan}\ncopy_to = "{evening.folder / "second"}"\n')
    (evening.folder / "world.toml").write_text(WORLD)
    (evening.folder / "second").mkdir()
    evening.tether("rehearse", "weir.toml", "--pace", "max", "--world", "world.toml", "--outing", evening.outing)
    frames = [one for one in log(evening) if one["kind"] == "rung" and one["outcome"] == "made"]
    choose(evening.outing, frames[-1]["frame"], Choice(verdict="keep", note="the veil"))
    choose(evening.outing, frames[-2]["frame"], Choice(verdict="maybe"))
    return evening


def log(evening: Evening) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(evening.tether("log", evening.outing, "--json"))["ladders"][0]["frames"]
    return found


def test_the_sun_is_told_before(evening: Evening) -> None:
    assert "unset" in evening.tether("light", "weir.toml", "--date", "2026-10-03")


def test_the_body_is_checked_and_the_base_found_and_written(evening: Evening) -> None:
    assert "stop" not in evening.tether("body", "check", "weir.toml").split()
    shutil.copy(evening.folder / "weir.toml", evening.folder / "found.toml")
    evening.tether("base", "found.toml", "--world", "world.toml", "--start", "1/15", "--write")
    base = tomllib.loads((evening.folder / "found.toml").read_text())["base"]
    assert base["headroom_stops"] >= 0.3
    assert "Weir at dusk" in evening.tether("ladder", "found.toml")


def test_the_focus_is_moved_until_the_picture_is_sharp(evening: Evening) -> None:
    """By live view, as the desk does it; sharpness by the spread of second differences in its picture."""
    soft = evening.folder / "soft.toml"
    soft.write_text(WORLD.replace("seed = 11", "seed = 11\nfocus_off_px = 4.0"))
    told: list[EditorEvent] = []
    start = Start(path=str(evening.folder / "weir.toml"), world=str(soft), under=str(evening.folder), pace=60)
    process = DraftProcess(start, queue.SimpleQueue(), told.append, evening.folder)

    def sharp() -> float:
        (*_, shown) = [one for one in told if isinstance(one, PictureShown)]
        with Image.open(shown.picture) as picture:
            return float(np.var(np.diff(np.asarray(picture.convert("F")), n=2, axis=1)))

    try:
        process.do(ShowLive(), 1)
        seen = [sharp()]
        for _ in range(6):
            process.do(Nudge(steps=-2), 2)
            seen.append(sharp())
    finally:
        process.end()
    assert max(seen) > 1.5 * seen[0]


def test_every_raw_file_has_a_second_copy(evening: Evening) -> None:
    for frame in log(evening):
        for file in frame["files"]:
            (copy,) = (evening.folder / "second").rglob(Path(file["name"]).name)
            assert sha256(copy.read_bytes()).hexdigest() == file["sha256"]


def test_every_rung_has_its_frames_though_the_cable_dropped_and_the_tripod_was_knocked(evening: Evening) -> None:
    frames = log(evening)
    of_rungs = {one["rung"] for one in frames if one["kind"] == "rung" and one["files"]}
    ladder = json.loads(evening.tether("ladder", "weir.toml", "--json"))
    assert of_rungs == {one["rung"] for one in ladder["rungs"]}
    told = evening.tether("log", evening.outing)
    assert "The tripod was likely knocked" in told
    assert "it has gone from the bus" in told


def test_rungs_are_as_bright_as_the_base_in_their_files_by_libraw(evening: Evening) -> None:
    """Still rock at the right edge of every frame; the light fell by stops, filters are off by a third."""

    def level(name: object) -> float:
        with rawpy.imread(str(evening.outing / str(name))) as raw:
            mosaic = raw.raw_image_visible.astype(np.float64) - raw.black_level_per_channel[0]
        return float(np.median(mosaic[20:-20, -60:-20]))

    frames = log(evening)
    base = level(next(one["files"][0]["name"] for one in frames if one["kind"] == "base"))
    made = [one for one in frames if one["kind"] == "rung" and one["files"]]
    off = [np.log2(level(one["files"][0]["name"]) / base) for one in made]
    assert len(off) == 20
    assert max(map(abs, off)) < 1 / 6 + 0.07, off


def test_the_choice_goes_on_with_sheet_average_sidecars_and_copies(evening: Evening) -> None:
    evening.tether("sheet", evening.outing, "--to", "sheet.html")
    assert "the veil" in (evening.folder / "sheet.html").read_text()
    ((rung, frames),) = Counter(one["rung"] for one in log(evening) if one["kind"] == "rung").most_common(1)
    assert frames == 3
    evening.tether("average", evening.outing, "--rung", str(rung), "--to", "mean.dng")
    with rawpy.imread(str(evening.folder / "mean.dng")) as raw:
        assert raw.raw_image_visible.shape == (480, 720)
    evening.tether("picks", evening.outing, "--to", "picks")
    (kept,) = (evening.folder / "picks").glob("*.dng")
    assert said("exiftool", "-s3", "-n", "-XMP-xmp:Rating", kept.with_suffix(".xmp")) == "5"


def test_the_next_plan_is_like_it(evening: Evening) -> None:
    evening.tether("new", "next.toml", "--like", evening.outing)
    plan = tomllib.loads((evening.folder / "next.toml").read_text())
    assert plan["title"] == "Weir at dusk"
    assert evening.tether("ladder", "next.toml").count("Calder")
