"""Sidecars at the end of a ladder, where the plan asks for them: what they say is what the simulated world did."""

from __future__ import annotations

from pathlib import Path

import exiv2  # type: ignore[import-untyped]
import pytest

from tests.engine.rig import BASE, SIX, Worked, work, world
from tether.journal.records import LadderEnded, Said
from tether.report.choices import CHOICES_NAME, read_choices
from tether.report.sidecars import write_sidecars

ASKED = BASE.replace("frames = 0", "frames = 2\nagain = false") + SIX
PLAN = ASKED + '[rungs]\ntimes = ["1/125", "1/2"]\nframes = 1\n[readings]\nregions = "as proposed"\n'
SIDECARS = '[run]\nsidecars = true\ndark_frames = "none"\n'


def read(path: Path) -> dict[str, str]:
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    return {one.key(): one.toString() for one in image.xmpData()}


def said(worked: Worked) -> list[str]:
    """What was said, up to the end of the ladder."""
    end = next(at for at, event in enumerate(worked.events) if isinstance(event, LadderEnded))
    return [event.text for event in worked.events[:end] if isinstance(event, Said)]


def test_a_plan_that_does_not_ask_for_sidecars_gets_none(tmp_path: Path) -> None:
    worked = work(tmp_path, BASE + '[rungs]\ntimes = ["1/125"]\nframes = 1\n')
    assert list((worked.folder / "frames").glob("*.xmp")) == []


def test_they_are_written_before_it_ends_and_say_what_the_world_did(tmp_path: Path) -> None:
    """The filter takes 6 stops of green, 0.3 stop less of red and 0.2 stop more of blue; the light stays."""
    cast = {"Calder 6": {"stops": 6.0, "cast_stops": (-0.3, 0.0, 0.2)}}
    worked = work(tmp_path, PLAN + SIDECARS, truth=world(filters=cast))
    files = [file.name for frame in worked.frames for file in frame.files]
    assert f"{len(files)} sidecars are beside the raw files: {len(files)} new." in said(worked)
    frame = next(frame for frame in worked.frames if frame.filters and frame.kind == "rung")
    values = read((worked.folder / frame.files[0].name).with_suffix(".xmp"))
    assert values["Xmp.exif.ExposureTime"] == "1/2"
    assert values["Xmp.tether.Filters"] == "Calder 6"
    red, green, blue = map(float, values["Xmp.tether.ColourCast"].split(", "))
    assert (red, green, blue) == pytest.approx((0.3, 0.0, -0.2), abs=0.03)
    assert float(values["Xmp.tether.LightStops"]) == pytest.approx(0.0, abs=0.1)
    again = write_sidecars(worked.folder, worked.told, read_choices(worked.folder))
    assert again.states == {"same": len(files)}, "a run and an export say the same"


def test_a_ladder_ends_as_it_would_where_they_can_not_be_written(tmp_path: Path) -> None:
    outing = tmp_path / "evening"
    outing.mkdir()
    (outing / CHOICES_NAME).write_text("no TOML")
    worked = work(tmp_path, BASE + '[rungs]\ntimes = ["1/125"]\nframes = 1\n' + SIDECARS, outing=outing)
    assert worked.outcome == "done"
    assert any(text.startswith("No sidecars were written.") and CHOICES_NAME in text for text in said(worked))
