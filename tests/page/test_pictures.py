"""Histograms of frames, made once each and not for nobody; and the picture of a live view, while it is live."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest

from tests.journal.shown import exposed, home
from tests.page.rig import Browser, FakeRun, Page, next_change
from tether.body.simulated.world import World
from tether.control.registry import live_path, own_folder
from tether.files.state import state_folder
from tether.journal.telling import read_outing
from tether.page import pictures
from tether.page.pictures import Histograms
from tether.service.rehearsal import rehearse

PLAN = """
title = "Weir"
darker_by = "nothing"
[body]
file = "simulated"
[lens]
focal_mm = 24
widest = "f/2.8"
narrowest = "f/22"
[base]
time = "1/125"
aperture = "f/8"
iso = 100
[rungs]
times = ["1/125"]
frames = 1
[run]
proof = false
[[region]]
kind = "water"
left = 0.2
top = 0.5
right = 0.9
bottom = 1.0
"""


def test_the_histogram_is_of_the_raw_file_and_of_its_water(tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN)
    done = rehearse(plan, outing=tmp_path / "weir", world=World.model_validate({"sensor": {"window_px": [288, 192]}}))
    frame = max(read_outing(done.folder).ladders[-1].frames, key=lambda one: one.frame)
    with closing(FakeRun(done.folder)) as run, closing(Page(done.folder)) as page:
        browser = Browser.let_in(page)
        with browser.events() as events:
            next(events)
            run.tell(exposed(frame.frame), home(frame.frame, Path(frame.files[0].name).name))
            next_change(events)
            next_change(events)
        got = browser.ask("GET", f"/frames/{frame.frame}/histogram.svg")
    assert got.status == 200
    assert got.headers["Content-Type"].startswith("image/svg+xml")
    assert "raw, water" in got.text


def test_why_a_histogram_could_not_be_drawn_is_kept(tmp_path: Path) -> None:
    assert asyncio.run(Histograms().of(tmp_path, "none.dng")) is None
    said = (state_folder() / "page.log").read_text()
    assert "a histogram is made of none.dng" in said
    assert str(tmp_path) in said


def test_each_is_made_once_and_no_more_than_some_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[str] = []

    async def make(command: Sequence[str | Path], _what: str) -> bytes | None:
        name = str(command[-1])
        made.append(name)
        return None if name == "broken" else name.encode()

    monkeypatch.setattr(pictures, "worked_out", make)
    names = [f"{number}.dng" for number in range(17)]

    async def asked() -> list[bytes | None]:
        histograms = Histograms()
        wanted = [*names, names[-1], names[0], "broken", "broken"]
        return [await histograms.of(Path("/outing"), name) for name in wanted]

    got = asyncio.run(asked())
    assert got == [*(name.encode() for name in names), b"16.dng", b"0.dng", None, None]
    # The first went when the seventeenth came; what can't be made is tried again.
    assert made == [*names, "0.dng", "broken", "broken"]


def test_a_live_picture_is_shown_while_it_is_live(browser: Browser) -> None:
    assert browser.ask("GET", "/live.jpg").status == 404
    own_folder(live_path().parent)
    live_path().write_bytes(b"a picture")
    try:
        assert browser.ask("GET", "/live.jpg").text == "a picture"
        with browser.events() as events:
            assert next(events)["live"]
        os.utime(live_path(), (0, 0))
        assert browser.ask("GET", "/live.jpg").status == 404, "it is old, so it is not live"
    finally:
        live_path().unlink()
