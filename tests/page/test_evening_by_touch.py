"""An evening from the phone alone, in a real browser: from a plan that is copied to a frame that is chosen."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Route, expect

from tests.page.rig import Page as Served
from tests.page.test_at_hand import FINGER_PX
from tests.page.test_chromium import DEAF_MS, PHONE, SOON_S, chromium, context_of, press, size
from tests.plan.plans import BASE, HEAD, SIX
from tether.body.layers import user_folder
from tether.control.client import say_to
from tether.control.registry import running
from tether.journal.telling import read_outing
from tether.page.evening import Places
from tether.plan.file import read_plan
from tether.report.choices import read_choices

pytestmark = pytest.mark.prove
__all__ = ["chromium", "size"]
#: What waits for a process, on a machine that has other things to do [ms].
LATE_MS = 3 * SOON_S * 1000
TEXT = (
    f'{HEAD}[place]\nwater = "coast"\n{BASE}frames = 0\n[rungs]\ntimes = ["1/125", "4"]\n'
    f'{SIX}[readings]\nregions = "none"\n[run]\nsettle_s = 40.0\n'
)
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}


@pytest.fixture
def places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Places:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    (tmp_path / "gorge.toml").write_text(TEXT)
    return Places(here=tmp_path, under=tmp_path / "outings")


@pytest.fixture
def page(chromium: Browser, size: tuple[int, int], places: Places) -> Iterator[Page]:
    with closing(Served(None, plans=places)) as served, context_of(chromium, size) as context:
        found = context.new_page()
        complaints: list[str] = []
        found.on("pageerror", lambda error: complaints.append(str(error)))
        found.goto(served.link())
        expect(found.locator("#plans li")).not_to_have_count(0)
        yield found
        assert complaints == []
    for run in running():
        say_to(run.socket, "drop everything")


def held(page: Page, size: tuple[int, int], what: str, ms: int) -> None:
    """Press something for so long, with a finger where there is touch."""
    element = page.locator(what)
    element.scroll_into_view_if_needed()
    element.evaluate("(one) => one.scrollIntoView({block: 'center'})")
    element.click(trial=True)  # waits until it keeps still, with nothing before it
    box = element.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    if size == PHONE:
        touches = page.context.new_cdp_session(page)
        touches.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        page.wait_for_timeout(ms)
        touches.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    else:
        page.mouse.move(x, y)
        page.mouse.down()
        page.wait_for_timeout(ms)
        page.mouse.up()


def drag(page: Page, size: tuple[int, int], start: tuple[float, float], end: tuple[float, float]) -> None:
    """Draw over the picture, from place to place in shares of it, with a finger where there is touch."""
    stage = page.locator("#stage")
    stage.evaluate("(one) => one.scrollIntoView({block: 'center'})")
    box = stage.bounding_box()
    assert box is not None
    way = [tuple(a + (b - a) * step / 4 for a, b in zip(start, end, strict=True)) for step in range(5)]
    points = [(box["x"] + x * box["width"], box["y"] + y * box["height"]) for x, y in way]
    if size == PHONE:
        touches = page.context.new_cdp_session(page)
        for number, (x, y) in enumerate(points):
            kind = "touchMove" if number else "touchStart"
            touches.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
        touches.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    else:
        page.mouse.move(*points[0])
        page.mouse.down()
        for x, y in points[1:]:
            page.mouse.move(x, y)
        page.mouse.up()


def mark_and_focus(page: Page, size: tuple[int, int]) -> None:
    """Take a frame of the base, mark the water and a rock, and focus by live view; all on the picture's place."""
    press(page, '[data-tab="picture"]')
    press(page, "#expose")
    expect(page.locator("#room-unit")).to_have_text("stops of headroom in the whole picture", timeout=LATE_MS)
    press(page, '[data-kind="water"]')
    drag(page, size, (0.5, 0.5), (0.51, 0.51))
    expect(page.locator("#marked")).to_contain_text("No rectangle is marked")
    drag(page, size, (0.2, 0.5), (0.7, 0.9))
    expect(page.locator("#room-unit")).to_have_text("stops of headroom in the water", timeout=LATE_MS)
    drag(page, size, (0.4, 0.6), (0.45, 0.55))  # within it: it is moved
    expect(page.locator("#marks rect.water")).to_have_attribute("x", "0.25", timeout=LATE_MS)
    press(page, '[data-kind="rock"]')
    page.locator("#stage").focus()
    for key in ("ArrowLeft", "Shift+ArrowUp", "Enter"):
        page.keyboard.press(key)
    expect(page.locator("#marked")).to_have_text("Water: long dashes. Rock: dots.", timeout=LATE_MS)
    expect(page.locator("#marks rect.rock")).to_have_attribute("x", "0.28")
    dashes = page.evaluate(
        "[...document.querySelectorAll('#marks rect.over')].map((one) => getComputedStyle(one).strokeDasharray)"
    )
    assert len(set(dashes)) == 2, "what they mark is told by their lines, whatever the colours"
    press(page, "#mark-keep")
    press(page, "#live")
    expect(page.locator("#picture-what")).to_contain_text("LIVE VIEW", timeout=LATE_MS)
    stage = page.locator("#stage")
    stage.evaluate("(one) => one.scrollIntoView({block: 'center'})")
    (stage.tap if size == PHONE else stage.click)(position={"x": 40, "y": 40})
    expect(page.locator("#picture-what")).to_contain_text("5 times magnified", timeout=LATE_MS)
    press(page, '[data-steps="1"]')
    expect(page.locator("#sharpness-share")).to_contain_text("%", timeout=LATE_MS)
    expect(page.locator("#trace polyline")).to_have_count(1, timeout=LATE_MS)
    expect(page.locator("#focus-caution")).to_contain_text("Never look at the sun")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    press(page, "#live")
    expect(page.locator("#focus-now")).to_be_hidden(timeout=LATE_MS)


def pause_and_go_on(page: Page) -> None:
    expect(page.locator("#countdown")).not_to_be_empty(timeout=LATE_MS)
    press(page, '[data-verb="pause"]')
    expect(page.locator("#state")).to_contain_text("Paused", timeout=LATE_MS)
    press(page, '[data-verb="go on"]')
    expect(page.locator("#state")).not_to_contain_text("Paused", timeout=LATE_MS)


def choose_one(page: Page, outing: Path) -> None:
    page.locator("#after a").click()
    page.get_by_role("link", name="Choose among the frames").click()
    press(page, '[data-verdict="keep"]')
    expect(page.locator("#kept")).to_contain_text("keep")
    assert [one.verdict for one in read_choices(outing).values()] == ["keep"]
    page.go_back()


def put(page: Page, key: str, value: str) -> None:
    field = page.locator(f"#key-{key}")
    field.fill(value)
    field.dispatch_event("change")


def answer_the_task(page: Page, size: tuple[int, int]) -> None:
    expect(page.locator("#ask-what")).to_contain_text("fit", timeout=LATE_MS)
    page.wait_for_timeout(DEAF_MS)
    held(page, size, "#ask-done", 2500)
    expect(page.locator("#back")).to_be_visible(timeout=LATE_MS)


def leave(page: Page, size: tuple[int, int]) -> None:
    """Close and keep, from wherever it is."""
    page.locator("#leave").click()
    held(page, size, "#leave-now", 2500)
    expect(page.locator("#after a")).to_be_visible(timeout=LATE_MS)
    expect(page.locator("#link")).not_to_contain_text("Attached", timeout=LATE_MS)


@pytest.mark.timeout(400)
def test_an_evening_is_planned_and_begun_from_the_phone_and_its_run_is_followed(
    page: Page, size: tuple[int, int], places: Places
) -> None:
    row = page.locator("#plans li", has_text="gorge.toml")
    row.get_by_role("button", name="Copy").click()
    page.locator("#copy-title").fill("Sunday")
    press(page, "#copy-now")
    expect(page.locator("#title")).to_have_text("Sunday", timeout=LATE_MS)
    copy = user_folder("plans") / "sunday.toml"
    page.locator("#pace").select_option("10 times as fast")
    expect(page.locator("#ending")).to_contain_text("10 times as fast", timeout=LATE_MS)
    # Times: a wrong one is said at its place and kept there; a right one changes the ladder.
    put(page, "rungs-times", "1/125, soon")
    expect(page.locator(".wrong", has_text="soon")).to_be_visible(timeout=LATE_MS)
    put(page, "rungs-times", "1/125, 60, 120")
    expect(page.locator("#unreached")).to_contain_text("4 s, the nearest possible, is made", timeout=LATE_MS)
    # A filter more: with it the time can be had.
    put(page, "filter-new", "Fenwick 14 = 14 stops")
    expect(page.locator("#groups label", has_text="Fenwick 14")).to_be_visible(timeout=LATE_MS)
    expect(page.locator("#rows .time").last).to_have_text("2:00 min", timeout=LATE_MS)
    expect(page.locator("#unreached")).to_be_empty()
    mark_and_focus(page, size)
    press(page, '[data-tab="plan"]')
    press(page, "#save")
    expect(page.locator("#said")).to_contain_text("is written", timeout=LATE_MS)
    assert [mark.label for mark in read_plan(copy).rungs.times] == ["1/125", "1:00", "2:00"]
    assert [one.name for one in read_plan(copy).filter] == ["Calder 6", "Fenwick 14"]
    assert [one.kind for one in read_plan(copy).region] == ["water", "rock"]
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    # Beginning: what it is, what to pack, take care, checks.
    press(page, '[data-tab="begin"]')
    expect(page.locator("#ending")).to_contain_text("rehearsed now, 10 times as fast, it ends at")
    expect(page.locator("#fit")).to_contain_text("before rung 2")
    expect(page.locator("#cautions")).to_contain_text("tide table")
    expect(page.locator("#cautions li").last).to_contain_text("Local signs, wardens and rules")
    press(page, "#check")
    expect(page.locator("#checked")).to_contain_text("Checked at", timeout=LATE_MS)
    expect(page.locator("#begin-how")).to_contain_text("A REHEARSAL: no camera is used")
    page.locator("#who").fill("Anna, until 22:00")
    press(page, "#begin")
    expect(page.locator("#said")).to_contain_text("nothing was begun")
    assert not places.under.exists()
    held(page, size, "#begin", 2500)
    expect(page.locator("#link")).to_contain_text("Attached to the run", timeout=LATE_MS)
    expect(page.locator("#title")).to_have_text("Sunday")
    (outing,) = places.under.iterdir()
    assert (outing / "who-knows.txt").read_text() == "Anna, until 22:00\n"
    # Its task: answered, taken back, answered again; a pause; then it is left while the shutter is open.
    answer_the_task(page, size)
    held(page, size, "#back", 2500)
    answer_the_task(page, size)
    pause_and_go_on(page)
    expect(page.locator("#countdown")).not_to_be_empty(timeout=LATE_MS)
    leave(page, size)
    # Resumed from what comes afterwards, and worked to its end: the cap is left off.
    press(page, "#after a")
    expect(page.locator("#resume")).to_be_enabled()
    held(page, size, "#resume", 2500)
    expect(page.locator("#link")).to_contain_text("Attached to the run", timeout=LATE_MS)
    expect(page.locator("#ask:visible, #after a:visible")).to_have_count(1, timeout=LATE_MS)
    if page.locator("#ask").is_visible():
        leave(page, size)
    told = read_outing(outing).ladders[-1]
    said = [one.verb for one in told.steering]
    assert said[:6] == ["answer", "take back", "answer", "pause", "go on", "stop now and keep"]
    choose_one(page, outing)
    # The end of it all.
    expect(page.locator("#power")).to_contain_text("The system allows it")
    press(page, "#finish")
    expect(page.locator("#found li")).not_to_have_count(0, timeout=LATE_MS)
    expect(page.locator("#after-part")).not_to_contain_text("tether run")


def test_who_goes_elsewhere_while_the_page_still_asks_for_the_plans_stays_there(
    page: Page, size: tuple[int, int]
) -> None:
    asked: list[Route] = []
    page.route("**/evening/plans", lambda route: asked.append(route), times=1)
    with page.expect_request("**/evening/plans"):
        page.reload()
    press(page, '[data-tab="after"]')
    asked[0].continue_()
    expect(page.locator("#finish")).to_be_enabled()
    expect(page.locator("#shut-down")).to_be_visible()
    expect(page.locator("#plans-part")).to_be_hidden()


def test_the_computer_is_shut_down_after_a_question_of_its_own(
    page: Page, size: tuple[int, int], logind: list[str]
) -> None:
    press(page, '[data-tab="after"]')
    expect(page.locator("#shut-down")).to_be_visible()
    press(page, "#shut-down")
    press(page, "#shut-down-now")
    expect(page.locator("#sure-said")).to_contain_text("it stays on")
    assert "PowerOff" not in logind
    held(page, size, "#shut-down-now", 2400)
    expect(page.locator("#sure-said")).to_contain_text("shuts down")
    assert logind[-1] == "PowerOff"
    logind.clear()


@pytest.mark.timeout(300)
def test_every_part_is_legible_in_three_looks_and_large_enough_for_a_finger(page: Page) -> None:
    page.locator("#plans li", has_text="gorge.toml").get_by_role("button").first.click()
    expect(page.locator("#rows .time")).to_have_count(2, timeout=LATE_MS)
    press(page, '[data-tab="picture"]')
    press(page, "#expose")
    expect(page.locator("#picture")).to_be_visible(timeout=LATE_MS)
    press(page, '[data-kind="water"]')
    for look in ("bright", "dark red", "automatic"):
        press(page, "#look")
        expect(page.locator("#look")).to_have_text(f"Look: {look}")
        for tab in ("plans", "plan", "picture", "begin", "after"):
            press(page, f'[data-tab="{tab}"]')
            found = Axe().run(page, options=RULES)
            assert found.violations_count == 0, (tab, look, found.generate_report())
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), tab
            small = page.evaluate(
                """(least) => [...document.querySelectorAll("button, input, select, summary")]
                    .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < least)
                    .map((one) => one.id || one.textContent)""",
                FINGER_PX,
            )
            assert small == [], tab
