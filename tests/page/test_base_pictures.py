"""Pictures of the base before a run: for those who may steer, kept by nobody, and none that is not there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.page.rig import Browser, Page
from tests.page.test_base_view import FRAME, LIVE
from tests.page.test_evening import Keeper, browser, opened, page, places
from tether.control.registry import live_path, own_folder

__all__ = ["browser", "page", "places"]
PICTURES = ("base.jpg", "base.svg", "live.jpg", "framed.jpg")


@pytest.fixture
def keeper(browser: Browser, tmp_path: Path) -> Iterator[Keeper]:
    """A draft with a frame of the base, and live view on, over a place that was framed before."""
    keeper = opened(browser)
    for name in ("base-1.jpg", "last.jpg"):
        (tmp_path / name).write_bytes(name.encode())
    own_folder(live_path().parent)
    live_path().write_bytes(b"live")
    keeper.tell(replace(FRAME, picture=str(tmp_path / "base-1.jpg")))
    keeper.tell(replace(LIVE, picture=str(live_path()), framed=str(tmp_path / "last.jpg")))
    yield keeper
    live_path().unlink(missing_ok=True)


def status(browser: Browser, name: str) -> int:
    return browser.ask("GET", f"/evening/{name}").status


def test_they_are_shown_to_who_may_steer_and_kept_by_nobody(browser: Browser, keeper: Keeper) -> None:
    got = {name: browser.ask("GET", f"/evening/{name}") for name in PICTURES}
    assert {name: one.status for name, one in got.items()} == dict.fromkeys(PICTURES, 200)
    assert {one.headers["Cache-Control"] for one in got.values()} == {"no-store"}
    assert [got[name].text for name in ("base.jpg", "live.jpg", "framed.jpg")] == ["base-1.jpg", "live", "last.jpg"]
    assert "Raw, water" in got["base.svg"].text


def test_a_phone_that_watches_and_a_stranger_get_none(page: Page, keeper: Keeper) -> None:
    watcher = Browser.let_in(page, may_steer=False, attached=False)
    for name in PICTURES:
        assert status(watcher, name) == 403
        assert status(Browser(page), name) == 403
    assert watcher.ask("GET", "/live.jpg").status == 403


def test_what_is_not_there_is_not_shown(browser: Browser, keeper: Keeper) -> None:
    keeper.tell(replace(LIVE, picture=""))
    assert [status(browser, name) for name in PICTURES] == [200, 200, 404, 404]
    Path(keeper.start.path).with_name("base-1.jpg").unlink()
    assert status(browser, "base.jpg") == 404


def test_before_anything_was_taken_there_are_no_pictures(browser: Browser) -> None:
    opened(browser)
    assert [status(browser, name) for name in PICTURES] == [404] * 4
