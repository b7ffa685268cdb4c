"""Choosing by eye in a real browser, on a phone by touch alone and on a wide screen."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Route, expect

from tests.page.choosing import write_evening
from tests.page.rig import SOON_S
from tests.page.rig import Page as Served
from tests.page.test_chromium import chromium, context_of, press, size
from tether.report.choices import Choice, read_choices

pytestmark = pytest.mark.prove
__all__ = ["chromium", "size"]


@pytest.fixture
def evening(tmp_path: Path) -> Path:
    return write_evening(tmp_path / "evening")


@pytest.fixture
def page(chromium: Browser, size: tuple[int, int], evening: Path) -> Iterator[Page]:
    with closing(Served(evening)) as served, context_of(chromium, size) as context:
        found = context.new_page()
        complaints: list[str] = []
        found.on("pageerror", lambda error: complaints.append(str(error)))
        found.goto(served.link())
        expect(found.locator("#link")).to_contain_text("No run of this outing")
        press(found, "nav a")
        expect(found.locator("#said")).to_contain_text("7 frames", timeout=SOON_S * 1000)
        yield found
        assert complaints == []


def come(page: Page, what: str) -> None:
    """Wait until a picture has come, and see that it is one."""
    expect(page.locator(what)).to_have_js_property("complete", True, timeout=SOON_S * 1000)
    assert page.locator(what).evaluate("one => one.naturalWidth") > 0


def test_every_rung_shows_the_same_part_on_a_true_axis(page: Page) -> None:
    buttons = page.locator("#axis > button")
    expect(buttons).to_have_count(6)
    come(page, "#axis [aria-selected=true] img")
    lefts = page.evaluate("[...document.querySelectorAll('#axis > button')].map(one => parseFloat(one.style.left))")
    # 1/1000 s, 1/8 s twice, 2 s, 33.6 s, 101 s and 1980 s: 7, 4, 4.07, 1.59 and 4.29 stops lie between them.
    steps = [(lefts[to] - lefts[to - 1]) / (lefts[4] - lefts[3]) for to in (1, 2, 3, 5)]
    for found, stops in zip(steps, (7.0, 4.0, 4.07, 4.29), strict=True):
        assert found == pytest.approx(stops / 1.59, abs=0.02)
    sources = page.evaluate("[...document.querySelectorAll('#axis img')].map(one => new URL(one.src).search)")
    assert len(set(sources)) == 1


def test_faster_or_slower_leads_to_one_that_is_kept_and_a_reserve(page: Page, evening: Path) -> None:
    expect(page.locator("#question")).to_contain_text("Faster or slower than this?")
    press(page, "#slower")
    press(page, "#faster")
    expect(page.locator("#question")).to_contain_text("is left")
    press(page, "#this-one")
    expect(page.locator("#question")).to_contain_text("is kept")
    kept = read_choices(evening)
    assert sorted(one.verdict or "" for one in kept.values()) == ["keep", "maybe"]


def test_frames_of_one_time_take_one_place_and_come_up_one_after_the_other(page: Page) -> None:
    eighth = page.locator("#axis > button").nth(1)
    expect(page.locator("#several")).to_contain_text("touch it again")
    for number in (3, 4, 3):
        eighth.evaluate("one => one.click()")
        expect(page.locator("#of")).to_contain_text(f"1/8 s: f/11, ISO 100, rung 2, frame {number}")
        expect(eighth).to_contain_text("1 of 2" if number == 3 else "2 of 2")
    expect(page.locator("#views figure.up figcaption")).to_contain_text("frame 3")
    expect(page.locator("#views figure:not(.up) figcaption")).to_contain_text("frame 4")
    tops = page.evaluate("[...document.querySelectorAll('#axis > button')].map(one => one.offsetTop)")
    assert set(tops) == {0}


def test_faster_and_slower_say_which_time_they_show(page: Page) -> None:
    """Halving from 2 s, of the six times: 1:41 min is the middle of the slower ones, then 33.6 s is left."""
    expect(page.locator("#of")).to_contain_text("2 s:")
    expect(page.locator("#slower")).to_contain_text("shows 1:41 min")
    press(page, "#slower")
    expect(page.locator("#of")).to_contain_text("1:41 min:")
    expect(page.locator("#faster")).to_contain_text("shows 33.6 s")
    press(page, "#faster")
    expect(page.locator("#of")).to_contain_text("33.6 s:")
    expect(page.locator("#faster")).to_contain_text("none is left")
    expect(page.locator("#faster")).to_be_disabled()


def test_which_place_is_compared_is_marked_until_it_is_moved(page: Page) -> None:
    page.route("**/candidates", with_places)
    page.reload()
    water, rock = (page.locator(f'[data-place="{name}"]') for name in ("water", "rock"))
    expect(water).to_have_attribute("aria-pressed", "true", timeout=SOON_S * 1000)
    press(page, '[data-place="rock"]')
    expect(rock).to_have_attribute("aria-pressed", "true")
    expect(water).to_have_attribute("aria-pressed", "false")
    page.locator("#overview").click(position={"x": 20, "y": 20})
    expect(rock).to_have_attribute("aria-pressed", "false")


def with_places(route: Route) -> None:
    told = route.fetch().json()
    route.fulfill(json={**told, "places": {"water": [0.25, 0.5], "rock": [0.75, 0.5]}})


def test_two_frames_are_flipped_and_moved_together(page: Page) -> None:
    up = page.locator("#views figure.up img")
    before = up.get_attribute("src")
    press(page, "#flip")
    assert up.get_attribute("src") != before
    page.locator("#views").scroll_into_view_if_needed()
    box = page.locator("#views").bounding_box()
    assert box is not None
    across, down = box["x"] + box["width"] / 4, box["y"] + box["height"] / 3
    page.mouse.move(across, down)
    page.mouse.down()
    page.mouse.move(across + 40, down + 40)
    page.mouse.up()
    shown = [page.locator(f"{one} img").get_attribute("src") or "" for one in ("#first", "#second")]
    places = [one.split("?")[1] for one in shown]
    assert places[0] == places[1]
    assert places[0] not in (before or "")


def test_keep_maybe_no_and_a_note_are_kept_and_taken_back(page: Page, evening: Path) -> None:
    press(page, '[data-verdict="maybe"]')
    expect(page.locator("#kept")).to_contain_text("maybe")
    page.locator("#note").fill("the thread <b>beside</b> the stone")
    page.locator("#note").blur()
    expect(page.locator("#kept")).to_contain_text("with a note")
    (kept,) = read_choices(evening).values()
    assert kept == Choice(verdict="maybe", note="the thread <b>beside</b> the stone")
    press(page, '[data-verdict="maybe"]')
    expect(page.locator('[data-verdict="maybe"]')).to_have_attribute("aria-pressed", "false")


def test_it_can_be_read_and_touched_by_everyone(page: Page) -> None:
    come(page, "#first img")
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    small = page.evaluate(
        "[...document.querySelectorAll('button')].filter(one => one.offsetHeight && one.offsetHeight < 44)"
        ".map(one => one.textContent)"
    )
    assert small == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
