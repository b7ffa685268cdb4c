"""Pictures of the evening on the page: drawn for the width that is asked for, worked out anew when there is more."""

from __future__ import annotations

import json
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.journal.outings import START, ladder_started, run_started, write_outing
from tests.page.rig import Browser, Page
from tests.report.test_audit import base
from tests.report.test_evening import bare
from tests.report.test_histogram import FOUND
from tether.journal.records import FrameRead, Kept
from tether.journal.store import Journal
from tether.page import plots, serving


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_outing(tmp_path, [run_started(), ladder_started(), *base(), *bare(2, -0.5)])
    return tmp_path


def pictures(browser: Browser, width: str = "358") -> dict[str, str]:
    answer = browser.ask("GET", f"/plots?w={width}")
    assert answer.status == 200, answer.text
    told: dict[str, Any] = json.loads(answer.text)
    return dict(told["pictures"])


def test_pictures_are_drawn_for_a_width_and_anew_when_the_journal_has_more(folder: Path) -> None:
    with closing(Page(folder)) as page:
        browser = Browser.let_in(page, attached=False)
        light = pictures(browser)["light"]
        assert 'width="358"' in light
        assert light.count('class="bare"') == 3  # two frames, and what explains them
        assert 'width="1400"' in pictures(browser, "99999")["light"]
        with closing(Journal.open(folder)) as journal:
            for record in bare(3, -1.0):
                assert isinstance(record, Kept)
                journal.add(record, utc=START, mono_ns=0)
        assert pictures(browser)["light"].count('class="bare"') == 4


def test_nothing_is_drawn_of_an_outing_without_a_journal(tmp_path: Path) -> None:
    with closing(Page(tmp_path)) as page:
        assert pictures(Browser.let_in(page, attached=False)) == {}


def test_the_histogram_is_the_one_that_the_journal_has(folder: Path) -> None:
    """Of a frame that a run is still to read there is none; of one that no run will read any more it is looked for."""
    with closing(Page(folder)) as page, closing(Journal.open(folder)) as journal:
        browser = Browser.let_in(page, attached=False)
        assert browser.ask("GET", "/frames/2/histogram.svg").status == 204
        journal.add(FrameRead(frame=2, readings=None, histogram=FOUND), utc=START, mono_ns=0)
        got = browser.ask("GET", "/frames/2/histogram.svg")
        assert "2.4 % clips" in got.text
        assert got.headers["Content-Type"].startswith("image/svg+xml")
        for record in bare(3, -1.0)[:-1]:
            assert isinstance(record, Kept)
            journal.add(record, utc=START, mono_ns=0)
        assert browser.ask("GET", "/frames/3/histogram.svg").status == 204
        assert "Frame 2: raw, water" in browser.ask("GET", "/frames/3/histogram.svg?or=before").text
        assert browser.ask("GET", "/frames/99/histogram.svg").status == 404


def test_a_page_that_ends_while_pictures_are_worked_out_says_so_and_leaves_no_trouble(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    begun = tmp_path / "begun"
    script = "import pathlib, sys, time; pathlib.Path(sys.argv[1]).touch(); time.sleep(600)"
    monkeypatch.setattr(plots, "command_for", lambda _outing: (sys.executable, "-c", script, begun))
    monkeypatch.setattr(serving, "_WORKS_ON_S", 0.0)
    with closing(Page(tmp_path)) as page, ThreadPoolExecutor() as pool:
        browser = Browser.let_in(page, attached=False)
        asked = pool.submit(browser.ask, "GET", "/plots?w=360")
        while not begun.exists():
            time.sleep(0.01)
        page.close()
        assert (asked.result().status, asked.result().text) == (503, "The page has ended.")
    assert capfd.readouterr().err == ""


@pytest.mark.parametrize("width", ["", "x", "-5", "1e3", "999999"])
def test_what_is_no_width_is_refused(page: Page, width: str) -> None:
    assert Browser.let_in(page).ask("GET", f"/plots?w={width}").status == 400
