"""Your turn, taking it back, leaving, and a wet screen: on the page in a real browser, by touch and by mouse."""

from __future__ import annotations

import queue
import re
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.journal.planned import a_ladder
from tests.journal.shown import rung_ended, turn
from tests.page.rig import PLANNED, FakeRun
from tests.page.rig import Page as Served
from tests.page.test_chromium import (
    DEAF_MS,
    PHONE,
    SOON_S,
    Finger,
    Opened,
    chromium,
    context_of,
    hold,
    nothing_said,
    open_shutter,
    opened,
    press,
    size,
)
from tether.journal.records import LadderBegun, LadderEnded, RungBegun, StateChanged
from tether.page.evening import Places

pytestmark = pytest.mark.prove
__all__ = ["chromium", "opened", "size"]
#: Fifteen millimetres at 96 px to the inch.
FINGER_PX = 15 / 25.4 * 96
ASKED = replace(
    turn(2, "fit Calder 6", "rung 2, 4:00 min, is made with Calder 6"),
    fitted=["Calder 6"],
    otherwise="rung 2 is skipped from here on",
    light_stops_per_min=-0.1,
)
ANSWERED = replace(ASKED, state="answered")


def held_for(opened: Opened, size: tuple[int, int], what: str, ms: int) -> None:
    finger = Finger(opened, size, what)
    finger.down()
    opened.page.wait_for_timeout(ms)
    finger.up()


#: From a press on, keeps a page from drawing or hearing anything for so long [ms].
BUSY = """(ms) => addEventListener("pointerdown", () => setTimeout(() => {
    const end = performance.now() + ms; while (performance.now() < end); }, 30), {once: true})"""
#: What shows up below a question and lifts it from under a finger.
LIFTED = """() => addEventListener("pointerdown", () => setTimeout(() => {
    document.querySelector("#ask").style.transform = "translateY(-20rem)"; }, 100), {once: true})"""
#: A question comes up anew, and the page is busy for so long [ms] right after it.
ASKED_AND_BUSY = """(ms) => { askedAt = performance.now(); setTimeout(() => {
    const end = performance.now() + ms; while (performance.now() < end); }, 100); }"""


def asked_long_enough(opened: Opened) -> Page:
    opened.run.tell(LadderBegun(planned=PLANNED), ASKED)
    expect(opened.page.locator("#ask-done")).to_be_visible()
    opened.page.wait_for_timeout(DEAF_MS)
    return opened.page


def test_a_page_that_is_busy_while_a_button_is_held_acts_all_the_same(opened: Opened, size: tuple[int, int]) -> None:
    page = asked_long_enough(opened)
    page.evaluate(BUSY, 1600)
    held_for(opened, size, "#ask-done", 1200)
    assert said_next(opened) == "answer"


def test_a_page_that_is_busy_makes_no_press_of_a_touch(opened: Opened, size: tuple[int, int]) -> None:
    page = asked_long_enough(opened)
    page.evaluate(BUSY, 1600)
    held_for(opened, size, "#ask-done", 200)
    expect(page.locator("#ask-said")).to_contain_text("Not held long enough")
    assert nothing_said(opened.run)


def test_a_button_that_moves_from_under_a_finger_that_keeps_still_is_held(
    opened: Opened, size: tuple[int, int]
) -> None:
    page = asked_long_enough(opened)
    page.evaluate(LIFTED)
    held_for(opened, size, "#ask-done", 900)
    assert said_next(opened) == "answer"


def test_a_finger_that_goes_off_a_button_does_not_hold_it(opened: Opened, size: tuple[int, int]) -> None:
    page = asked_long_enough(opened)
    finger = Finger(opened, size, "#ask-done")
    finger.down()
    page.wait_for_timeout(200)
    finger.move(0, -400)
    page.wait_for_timeout(900)
    finger.up()
    expect(page.locator("#ask-said")).to_contain_text("Not held long enough")
    assert nothing_said(opened.run)


def test_a_page_that_is_busy_is_deaf_as_long_as_any(opened: Opened, size: tuple[int, int]) -> None:
    page = asked_long_enough(opened)
    finger = Finger(opened, size, "#ask-done")
    if size != PHONE:
        finger.move(0, 0)
    page.evaluate(ASKED_AND_BUSY, DEAF_MS + 500)
    page.wait_for_timeout(300)
    finger.press()  # heard when the page is no longer busy
    page.wait_for_timeout(900)
    finger.up()
    expect(page.locator("#ask-said")).to_contain_text("Too early")
    assert nothing_said(opened.run)


def test_a_second_finger_or_a_key_beside_the_first_changes_nothing(opened: Opened, size: tuple[int, int]) -> None:
    page = asked_long_enough(opened)
    finger = Finger(opened, size, "#ask-done")
    finger.down()
    if size == PHONE:
        finger.beside()
    else:
        page.keyboard.press("Shift")
    page.wait_for_timeout(900)
    finger.up()
    assert said_next(opened) == "answer"


def test_a_button_that_does_nothing_just_then_can_not_be_held(opened: Opened, size: tuple[int, int]) -> None:
    page = asked_long_enough(opened)
    finger = Finger(opened, size, "#ask-done")
    page.evaluate('() => { document.querySelector("#ask-done").disabled = true; }')
    finger.down()
    page.wait_for_timeout(900)
    finger.up()
    assert nothing_said(opened.run)


def said_next(opened: Opened) -> str:
    return opened.run.said.get(timeout=SOON_S)


def test_a_filter_that_is_not_in_the_bag_is_said_by_holding_too(opened: Opened, size: tuple[int, int]) -> None:
    opened.run.tell(LadderBegun(planned=PLANNED), ASKED)
    opened.page.wait_for_timeout(DEAF_MS)
    held_for(opened, size, "#ask-missing", 2000)
    assert said_next(opened) == "not in the bag"
    opened.run.tell(replace(ASKED, what="take off Calder 6", fitted=[]))
    expect(opened.page.locator("#ask-missing")).to_be_hidden()


def test_the_instruction_is_the_largest_thing_and_waiting_and_no_say_what_they_cost(
    opened: Opened, size: tuple[int, int]
) -> None:
    opened.run.tell(LadderBegun(planned=PLANNED), ASKED)
    page = opened.page
    expect(page.locator("#ask-what")).to_have_text("fit Calder 6")
    expect(page.locator("#ask-waiting")).to_have_text("No hurry: the light falls by 0.1 stop a minute.")
    expect(page.locator("#ask-no")).to_contain_text("rung 2 is skipped from here on")
    sizes = page.evaluate(
        """() => [...document.querySelectorAll("body *")]
            .filter((one) => one.checkVisibility())
            .filter((one) => [...one.childNodes].some((part) => part.nodeType === 3 && part.data.trim()))
            .map((one) => [one.id, parseFloat(getComputedStyle(one).fontSize)])"""
    )
    largest = max(size for _, size in sizes)
    assert [name for name, size in sizes if size == largest] == ["ask-what"]
    for button in ("#ask-done", "#ask-no"):
        box = page.locator(button).bounding_box()
        assert box is not None
        assert box["height"] >= FINGER_PX
        assert box["y"] + box["height"] <= size[1]


def test_no_is_said_by_a_press_about_what_was_asked(opened: Opened, size: tuple[int, int]) -> None:
    opened.run.tell(LadderBegun(planned=PLANNED), ASKED)
    expect(opened.page.locator("#ask-no")).to_be_visible()
    opened.page.wait_for_timeout(DEAF_MS)
    press(opened.page, "#ask-no")
    expect(opened.page.locator("#ask-said")).to_contain_text("Not held long enough")
    assert nothing_said(opened.run)
    hold(opened, size, "#ask-no")
    assert said_next(opened) == "skip"


def test_a_task_is_taken_back_while_that_is_of_use_and_the_button_says_what_it_does(
    opened: Opened, size: tuple[int, int]
) -> None:
    page, back = opened.page, opened.page.locator("#back")
    opened.run.tell(LadderBegun(planned=PLANNED), RungBegun(rung=2, label="4:00 min", frames=1))
    expect(back).to_be_hidden()
    opened.run.tell(ASKED, ANSWERED)
    expect(back).to_contain_text("Take it back")
    box = back.bounding_box()
    assert box is not None
    assert box["height"] >= FINGER_PX
    assert box["y"] > size[1] / 2, "within the thumb's reach"
    hold(opened, size, "#back")
    assert said_next(opened) == "take back"
    opened.run.tell(replace(open_shutter(), rung=2))
    expect(back).to_contain_text("Wrong filter: close, keep, repeat")
    press(page, "#back")
    expect(page.locator("#answer")).to_contain_text("Not held long enough")
    hold(opened, size, "#back")
    assert said_next(opened) == "take back"
    opened.run.tell(rung_ended(2))
    expect(back).to_be_hidden()


def test_countdown_and_stop_are_within_the_thumbs_reach_and_it_says_what_comes_then(
    opened: Opened, size: tuple[int, int]
) -> None:
    ladder = a_ladder(rungs=[{"rung": 1}, {"rung": 2}], turns=[{"before_rung": 2, "what": "take off six, fit ten"}])
    opened.run.tell(LadderBegun(planned=ladder), RungBegun(rung=1, label="4:00 min", frames=1))
    opened.run.tell(replace(open_shutter(), rung=1))
    then = opened.page.locator("#then")
    expect(then).to_contain_text("take off six, fit ten")
    assert re.match(r"In [34]:\d\d: take off six, fit ten", then.inner_text())
    for what in ("#countdown", "#leave", "#lock", '[data-verb="stop after this frame"]', '[data-verb="pause"]'):
        box = opened.page.locator(what).bounding_box()
        assert box is not None
        assert box["y"] >= size[1] / 2, what
        assert box["y"] + box["height"] <= size[1], what


def test_go_on_stands_where_pause_was_while_it_is_paused_and_at_the_end_nothing_is_to_be_steered(
    opened: Opened,
) -> None:
    pause, go_on = (opened.page.locator(f'[data-verb="{verb}"]') for verb in ("pause", "go on"))
    opened.run.tell(StateChanged(before="ready", state="setting", at_ns=1))
    expect(pause).to_be_visible()
    before = pause.bounding_box()
    opened.run.tell(StateChanged(before="setting", state="paused", at_ns=2))
    expect(pause).to_be_hidden()
    assert go_on.bounding_box() == before
    opened.run.tell(LadderEnded(ladder=1, outcome="closed and kept"))
    for gone in ("#steer", "#at-hand"):
        expect(opened.page.locator(gone)).to_be_hidden()


def test_what_came_of_a_touch_stands_at_its_button(opened: Opened) -> None:
    opened.run.tell(StateChanged(before="ready", state="setting", at_ns=1))
    press(opened.page, '[data-verb="brighter"]')
    brighter = opened.page.locator('[data-verb="brighter"]')
    expect(brighter).to_have_attribute("data-said", "The run is told: brighter.")
    expect(brighter.locator("small")).to_be_hidden()
    expect(opened.page.locator('[data-verb="darker"]')).not_to_have_attribute("data-said", "The run is told: brighter.")


def test_what_was_said_and_is_done_fades(opened: Opened) -> None:
    page = opened.page
    expect(page.locator("#link")).to_be_visible()
    page.evaluate("linkSaidAt = -1e9")  # it was said long ago
    expect(page.locator("#link")).to_be_hidden()
    press(page, '[data-verb="brighter"]')
    expect(page.locator("#answer")).to_have_text("The run is told: brighter.")
    expect(page.locator("#answer")).to_be_empty(timeout=8000)
    opened.run.close()
    expect(page.locator("#link")).to_be_visible()
    opened.run.begin()


def test_a_run_that_ended_as_asked_is_no_alarm_and_is_resumed_right_there(
    chromium: Browser, size: tuple[int, int], tmp_path: Path
) -> None:
    """Nothing was begun in this folder, so that resuming it says why not."""
    places = Places(here=tmp_path, under=tmp_path)
    with (
        closing(FakeRun(tmp_path / "weir")) as run,
        closing(Served(None, plans=places)) as served,
        context_of(chromium, size) as context,
    ):
        served.wait_for_run()
        page = context.new_page()
        page.goto(served.link())
        expect(page.locator("#link")).to_contain_text("Attached")
        expect(page.locator("#resume")).to_be_hidden()
        run.tell(LadderBegun(planned=PLANNED), LadderEnded(ladder=1, outcome="closed and kept"))
        run.close()
        expect(page.locator("#link")).to_have_text("The run has ended, as you asked.")
        assert "bad" not in (page.locator("#link").get_attribute("class") or "")
        held_for(Opened(run, served, page), size, "#resume", 1300)
        expect(page.locator("#resumed")).to_contain_text("the plan cannot be read", timeout=SOON_S * 1000)


def test_who_leaves_is_asked_once_more_and_then_the_frame_is_closed_and_kept(
    opened: Opened, size: tuple[int, int]
) -> None:
    opened.run.tell(LadderBegun(planned=PLANNED), ASKED)
    page = opened.page
    page.locator("#leave").scroll_into_view_if_needed()
    press(page, "#leave")  # while it is the person's turn: from anywhere
    expect(page.locator("#leaving-does")).to_contain_text("The run ends")
    press(page, "#stay")
    expect(page.locator("#leaving")).to_be_hidden()
    opened.run.tell(ANSWERED, replace(open_shutter(), rung=2))
    press(page, "#leave")
    expect(page.locator("#leaving-does")).to_contain_text("it is closed now, and the frame is kept")
    press(page, "#leave-now")
    expect(page.locator("#leaving-said")).to_contain_text("Not held for a second")
    assert nothing_said(opened.run)
    held_for(opened, size, "#leave-now", 1300)
    assert said_next(opened) == "stop now and keep"
    expect(page.locator("#leaving")).to_be_hidden()


def test_leaving_is_asked_for_from_the_page_of_choosing_too(opened: Opened, size: tuple[int, int]) -> None:
    opened.run.tell(LadderBegun(planned=PLANNED), replace(open_shutter(), rung=2))
    opened.page.goto(f"http://{opened.served.host}/choosing")
    opened.page.get_by_role("link", name="I’m leaving").click()
    expect(opened.page.locator("#leaving-does")).to_contain_text("it is closed now, and the frame is kept")
    assert opened.page.url.endswith("/")
    held_for(opened, size, "#leave-now", 1300)
    assert said_next(opened) == "stop now and keep"
    expect(opened.page.locator("#leaving")).to_be_hidden()


def test_a_locked_screen_answers_to_nothing_but_a_press_of_two_seconds_and_shows_the_countdown(
    opened: Opened, size: tuple[int, int]
) -> None:
    page = opened.page
    opened.run.tell(LadderBegun(planned=PLANNED), replace(open_shutter(), rung=2))
    expect(page.locator("#countdown")).not_to_be_empty()
    places = [page.locator(what).bounding_box() for what in ("#leave", '[data-verb="stop after this frame"]', "#lock")]
    press(page, "#lock")
    expect(page.locator("#locked-countdown")).not_to_be_empty()
    assert page.evaluate("at('locked-countdown').textContent === at('countdown').textContent")
    for box in places:
        assert box is not None
        touch_at(page, size, box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.keyboard.press("Tab")
    page.keyboard.press("Escape")
    expect(page.locator("#locked")).to_be_visible()
    expect(page.locator("#leaving")).to_be_hidden()
    assert nothing_said(opened.run)
    assert page.evaluate("document.activeElement.id") in ("", "unlock")
    opened.run.tell(replace(ASKED, rung=3))
    expect(page.locator("#locked-ask")).to_have_text("fit Calder 6")
    page.reload()
    expect(page.locator("#locked")).to_be_visible()
    held_for(opened, size, "#unlock", 1000)
    expect(page.locator("#locked-said")).to_contain_text("still locked")
    held_for(opened, size, "#unlock", 2300)
    expect(page.locator("#locked")).to_be_hidden()
    with pytest.raises(queue.Empty):
        opened.run.said.get_nowait()


def touch_at(page: Page, size: tuple[int, int], x: float, y: float) -> None:
    if size == PHONE:
        page.touchscreen.tap(x, y)
    else:
        page.mouse.click(x, y)


def test_it_rings_less_often_once_it_has_rung_twice(opened: Opened) -> None:
    assert opened.page.evaluate("[0, 1, 2, 3, 9].map(ringsAgainAfter)") == [20, 20, 60, 60, 60]


def test_three_looks_are_legible_and_the_one_chosen_is_kept(opened: Opened) -> None:
    """By axe-core: contrast and names in each look, while open, at the person's turn, locked and when leaving."""
    page = opened.page
    page.emulate_media(reduced_motion="reduce")
    rules = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
    opened.run.tell(LadderBegun(planned=PLANNED), ASKED, ANSWERED, replace(open_shutter(), rung=2))
    expect(page.locator("#back")).to_be_visible()
    for look in ("bright", "dark red", "automatic"):
        press(page, "#look")
        expect(page.locator("#look")).to_have_text(f"Look: {look}")
        for show, hide in (
            ("1", "1"),
            ("at('leaving').showModal()", "at('leaving').close()"),
            ("lock(true)", "lock(false)"),
        ):
            page.evaluate(show)
            found = Axe().run(page, options=rules)
            assert found.violations_count == 0, found.generate_report()
            page.evaluate(hide)
    press(page, "#look")
    page.reload()
    expect(page.locator("#look")).to_have_text("Look: bright")


def test_where_the_browser_lets_it_the_page_keeps_the_screen_on_while_a_run_goes_on_and_says_so(opened: Opened) -> None:
    """A browser lets a page do so where it is encrypted, and on the machine itself, as here."""
    awake = opened.page.locator("#awake")
    opened.run.tell(LadderBegun(planned=PLANNED))
    expect(awake).to_have_text("This page keeps the screen on while a run is active.")
    expect(awake).to_be_visible()
    opened.run.tell(LadderEnded(ladder=1, outcome="done"))
    expect(awake).to_be_hidden()
