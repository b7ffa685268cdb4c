"""What a picture made of frames says of one: by the journal first, by the frame's own file where that knows more."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.page.choosing import write_evening
from tether.files.dng import exif_fields
from tether.journal.story import FrameStory
from tether.journal.telling import read_outing
from tether.report.facts import facts_of


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    return write_evening(tmp_path)


def frame_of(outing: Path) -> FrameStory:
    return next(one for one in read_outing(outing).ladders[0].frames if one.rung == 2)


def test_the_journal_tells_how_it_was_made_and_the_file_by_what(outing: Path) -> None:
    frame = frame_of(outing)
    facts = facts_of(outing, frame)
    assert (facts.time_s, facts.aperture, facts.iso) == (frame.believed_open_s, frame.aperture, frame.iso)
    assert facts.taken_at == datetime.fromisoformat(frame.opened_utc or "")
    assert (facts.make, facts.model) == ("Tether", "Drawn")


def test_what_is_not_known_is_left_out(outing: Path) -> None:
    frame = frame_of(outing)
    nothing = {"exif": None, "read_back": None, "opened_utc": None, "way": "held"}
    unknown = replace(frame, **nothing, open_s=replace(frame.open_s, held=None, exif=None, light=None))  # type: ignore[arg-type]
    facts = facts_of(outing, unknown)
    assert facts.time_s is None
    assert facts.taken_at == datetime(2026, 10, 3, 18, 4, 5, tzinfo=UTC), "as the file says"


@pytest.mark.parametrize("time_s", [0.125, None])
def test_a_time_that_is_not_known_is_not_written(outing: Path, time_s: float | None) -> None:
    fields = exif_fields(replace(facts_of(outing, frame_of(outing)), time_s=time_s))
    assert fields.get("Exif.Photo.ExposureTime") == (None if time_s is None else "1/8")
