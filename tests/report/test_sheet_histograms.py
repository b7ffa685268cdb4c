"""The sheet has the raw histogram of each frame whose histogram the journal has, beside its headroom and streak."""

from __future__ import annotations

import re
from contextlib import closing
from pathlib import Path

from tests.journal.outings import START
from tests.report.test_histogram import FOUND
from tests.report.test_sheet_page import outing, page
from tests.report.test_sidecars import READ
from tether.journal.records import FrameRead
from tether.journal.store import Journal

__all__ = ["outing"]  # a fixture


def test_the_raw_histogram_of_a_frame_stands_with_its_headroom_and_streak(outing: Path) -> None:
    with closing(Journal.open(outing)) as journal:
        journal.add(FrameRead(frame=8, readings=READ, histogram=FOUND), utc=START, mono_ns=0)
    text, read = page(outing)
    said = read.of("frame-8")
    for part in ("Headroom | 0.8 stops until it clips", "Streak | 42 ±0 px", "Raw, water", "2.4 % clips"):
        assert part in said
    assert [tag for tag, _ in read.tags].count("svg") == 1, "of the others the journal has none"
    assert not re.search(r"https?:", text)
