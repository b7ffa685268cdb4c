"""Choosing on the page: what is answered to whom, and that what is thought of a frame is kept in the outing."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.page.choosing import write_evening
from tests.page.rig import Answer, Browser, Page
from tether.report.choices import Choice, read_choices


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_evening(tmp_path_factory.mktemp("outings") / "evening")


@pytest.fixture(scope="module")
def page(evening: Path) -> Iterator[Page]:
    """The page of an outing that nothing runs in."""
    with closing(Page(evening)) as page:
        yield page


@pytest.fixture(scope="module")
def browser(page: Page) -> Browser:
    return Browser.let_in(page, attached=False)


def choose(browser: Browser, body: object) -> Answer:
    return browser.ask("POST", "/choose", json.dumps(body), {**browser.own(), "X-Tether-Token": browser.token})


def test_an_outing_without_a_run_has_its_frames(browser: Browser) -> None:
    told = json.loads(browser.ask("GET", "/candidates").text)
    assert [one["frame"] for one in told["candidates"]] == [2, 3, 4, 5, 6, 8, 9]
    assert told["candidates"][-2]["time"] == "1:41 min"
    assert told["may_choose"]
    assert told["size"] == [180, 120]


def test_the_same_part_of_each_is_a_picture(browser: Browser) -> None:
    for frame in (2, 9):
        answer = browser.ask_bytes(f"/crops/{frame}.jpg?x=0.5&y=0.5&w=32&h=24&step=1")
        assert answer[:3] == b"\xff\xd8\xff"


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/crops/1.jpg?x=0.5&y=0.5&w=32&h=24&step=1", 404),  # the base is not to be chosen
        ("/crops/77.jpg?x=0.5&y=0.5&w=32&h=24&step=1", 404),
        ("/crops/2.jpg?x=0.5&y=0.5&w=32&h=24&step=3", 400),
        ("/crops/2.jpg?x=1.5&y=0.5&w=32&h=24&step=1", 400),
        ("/crops/2.jpg?x=nan&y=0.5&w=32&h=24&step=1", 400),
        ("/crops/2.jpg?x=0.5&y=0.5&w=99999&h=24&step=1", 400),
        ("/crops/2.jpg", 400),
    ],
)
def test_what_is_no_part_of_a_frame_is_refused(browser: Browser, path: str, status: int) -> None:
    assert browser.ask("GET", path).status == status


def test_a_choice_and_a_note_are_kept_in_the_outing_and_taken_back(browser: Browser, evening: Path) -> None:
    answer = choose(browser, {"frame": 5, "choice": "keep", "note": "the thread"})
    assert json.loads(answer.text) == {"choice": "keep", "note": "the thread"}
    assert read_choices(evening) == {5: Choice(verdict="keep", note="the thread")}
    told = json.loads(browser.ask("GET", "/candidates").text)["candidates"]
    assert [(one["choice"], one["note"]) for one in told if one["frame"] == 5] == [("keep", "the thread")]
    assert choose(browser, {"frame": 5, "choice": None, "note": ""}).status == 200
    assert read_choices(evening) == {}


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"frame": 1, "choice": "keep"}, 404),
        ({"frame": "5", "choice": "keep"}, 400),
        ({"frame": 5, "choice": "best"}, 400),
        ({"frame": 5, "choice": ["keep"]}, 400),
        ({"frame": 5, "choice": "no", "note": 3}, 400),
        ([], 400),
    ],
)
def test_what_is_no_choice_is_refused(browser: Browser, evening: Path, body: object, status: int) -> None:
    assert choose(browser, body).status == status
    assert read_choices(evening) == {}


def test_who_may_watch_only_may_look_and_not_choose(page: Page, evening: Path) -> None:
    watcher = Browser.let_in(page, may_steer=False, attached=False)
    assert not json.loads(watcher.ask("GET", "/candidates").text)["may_choose"]
    assert choose(watcher, {"frame": 5, "choice": "keep"}).status == 403
    assert read_choices(evening) == {}


def test_nobody_sees_a_frame_without_a_link(page: Page) -> None:
    stranger = Browser(page)
    for path in ("/choosing", "/candidates", "/crops/2.jpg?x=0.5&y=0.5&w=32&h=24&step=1"):
        assert stranger.ask("GET", path).status == 403


def test_its_page_and_what_it_loads_are_there(browser: Browser) -> None:
    html = browser.ask("GET", "/choosing").text
    assert "By shutter time" in html
    for name in ("choosing.css", "choosing.js"):
        assert f"/static/{name}" in html
        assert browser.ask("GET", f"/static/{name}").status == 200
