"""The page in a real browser, on a phone's screen and a wide one: what it asks for, shows, and does when touched."""

from __future__ import annotations

import queue
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image, ImageDraw
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.command.test_paging import port
from tests.journal.shown import exposed, home, readings, turn
from tests.page.rig import CLOCK, PLANNED, FakeRun
from tests.page.rig import Page as Served
from tether.command.paging import code_of
from tether.control import attachment
from tether.control.registry import live_path, own_folder
from tether.journal.records import (
    ExposeOutcome,
    FetchOutcome,
    FrameOpened,
    FrameRead,
    LadderBegun,
    RegionsShown,
    RungBegun,
    Said,
    StateChanged,
)

pytestmark = pytest.mark.prove
#: What a browser in a container without a network of its own needs.
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking", "--disable-sync"]
SOON_S = 20.0
PHONE, WIDE = (390, 844), (1280, 800)
TURN = turn(2, "fit Calder 6", "rung 2, 4:00 min, is made with Calder 6")
HOLDS_MS, DEAF_MS = 1000, 2000


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        yield browser
        browser.close()


@dataclass
class Opened:
    """A page that was opened by its link, with all it asked for and complained of."""

    run: FakeRun
    served: Served
    page: Page
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    @property
    def context(self) -> BrowserContext:
        return self.page.context


def context_of(chromium: Browser, size: tuple[int, int], scheme: str = "dark") -> BrowserContext:
    width, height = size
    context = chromium.new_context(
        viewport={"width": width, "height": height},
        has_touch=size == PHONE,
        is_mobile=size == PHONE,
        color_scheme="light" if scheme == "light" else "dark",
    )
    context.set_default_timeout(SOON_S * 1000)
    return context


@pytest.fixture(params=[PHONE, WIDE], ids=["phone", "wide"])
def size(request: pytest.FixtureRequest) -> tuple[int, int]:
    found: tuple[int, int] = request.param
    return found


@pytest.fixture
def opened(
    chromium: Browser, size: tuple[int, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Opened]:
    monkeypatch.setattr(attachment, "LOOKS_EVERY_S", 0.05)
    for part in ("frames", "previews"):
        (tmp_path / part).mkdir()
    with closing(FakeRun(tmp_path)) as run, closing(Served(tmp_path)) as served, context_of(chromium, size) as context:
        found = Opened(run, served, context.new_page())
        found.page.on("request", lambda request: found.asked.append(request.url))
        found.page.on("console", lambda said: found.complaints.append(said.text))
        found.page.on("pageerror", lambda error: found.complaints.append(str(error)))
        found.page.goto(served.link())
        expect(found.page.locator("#link")).to_contain_text("Attached")
        yield found


def press(page: Page, what: str) -> None:
    """Touch where there is touch, else click."""
    element = page.locator(what)
    if page.evaluate("navigator.maxTouchPoints"):
        element.tap()
    else:
        element.click()


def open_shutter(frame: int = 1, closes_in_s: float = 240.0) -> FrameOpened:
    now = CLOCK.now_ns()
    closes = now + round(closes_in_s * 1e9)
    return FrameOpened(frame=frame, rung=2, kind="rung", way="held", open_s=240.0, at_ns=now, closes_at_ns=closes)


def seconds(text: str) -> float:
    """Return the seconds of a countdown."""
    if text.endswith(" s"):
        return float(text[:-2])
    minutes, rest = text.split(":")
    return 60 * int(minutes) + int(rest)


def nothing_said(run: FakeRun) -> bool:
    return run.said.empty()


def frame_home(outing: Path, number: int = 1) -> list[ExposeOutcome | FetchOutcome | FrameRead]:
    """Return what a frame tells that is home, and leave its preview."""
    Image.new("RGB", (1200, 800), (90, 120, 130)).save(outing / "previews" / f"weir_{number}.jpg")
    said = readings(water=(0.6, 0.0), off_stops=-0.21, moved=(0.3, 0.4), lost=0.01)
    return [
        exposed(number, 1, "rung"),
        home(number, f"weir_{number}.dng"),
        FrameRead(frame=number, readings=said),
    ]


# Who is let in -------------------------------------------------------------------------------------------------------


def test_it_asks_this_server_alone_and_nothing_goes_wrong(opened: Opened) -> None:
    opened.run.tell(LadderBegun(planned=PLANNED), *frame_home(opened.run.outing), TURN)
    expect(opened.page.locator("#preview")).to_be_visible()
    expect(opened.page.locator("#ask")).to_be_visible()
    assert len(opened.asked) > 4
    assert all(url.startswith(f"http://{opened.served.host}/") for url in opened.asked)
    # The door is a 403, and this frame has no raw file to make a histogram of.
    unexpected = [one for one in opened.complaints if "403" not in one and "404" not in one]
    assert unexpected == []
    assert not any("#" in url for url in opened.asked[1:])
    assert "#" not in opened.page.url


def test_without_the_link_or_with_one_that_was_used_there_is_nothing(chromium: Browser, opened: Opened) -> None:
    used = opened.served.link()
    with context_of(chromium, PHONE) as first, context_of(chromium, PHONE) as second:
        one, other = first.new_page(), second.new_page()
        answer = one.goto(f"http://{opened.served.host}/")
        assert answer is not None
        assert answer.status == 403
        expect(one.locator("p")).to_contain_text("by its link only")
        one.goto(used)
        expect(one.locator("#link")).to_contain_text("Attached")
        other.goto(used)
        expect(other.locator("p")).to_contain_text("used before")
        answer = other.goto(f"http://{opened.served.host}/static/page.js")
        assert answer is not None
        assert answer.status == 403


def test_the_secret_can_not_be_read_by_a_script(opened: Opened) -> None:
    assert opened.page.evaluate("document.cookie") == ""
    (cookie,) = opened.context.cookies()
    assert cookie["httpOnly"]
    assert cookie["sameSite"] == "Strict"


def test_a_phone_that_watches_sees_all_and_has_no_buttons_to_steer(chromium: Browser, opened: Opened) -> None:
    with context_of(chromium, PHONE) as context:
        page = context.new_page()
        page.goto(opened.served.link(may_steer=False))
        expect(page.locator("#link")).to_contain_text("watches only")
        opened.run.tell(TURN)
        expect(page.locator("#ask-what")).to_contain_text("fit Calder 6")
        expect(page.locator("#ask-done")).to_be_hidden()
        expect(page.locator("#steer")).to_be_hidden()


# What is shown and done ----------------------------------------------------------------------------------------------


class Finger:
    """A finger, or the mouse's button, on the middle of something."""

    def __init__(self, opened: Opened, size: tuple[int, int], what: str) -> None:
        element = opened.page.locator(what)
        element.click(trial=True)  # waits until it keeps still, with nothing before it
        box = element.bounding_box()
        assert box is not None
        self._at = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        self._page = opened.page
        self._touches = opened.context.new_cdp_session(opened.page) if size == PHONE else None

    def down(self) -> None:
        if not self._touches:
            self.move(0, 0)
        self.press()

    def press(self) -> None:
        """Go down where it is."""
        x, y = self._at
        if self._touches:
            self._touches.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        else:
            self._page.mouse.down()

    def move(self, right_px: float, down_px: float) -> None:
        x, y = self._at[0] + right_px, self._at[1] + down_px
        if self._touches:
            self._touches.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y}]})
        else:
            self._page.mouse.move(x, y)

    def beside(self) -> None:
        """Tap with a second finger, near the first."""
        assert self._touches is not None
        first = {"x": self._at[0], "y": self._at[1], "id": 0}
        second = {"x": self._at[0] + 30, "y": self._at[1], "id": 1}
        for what, points in (("touchStart", [first, second]), ("touchMove", [first])):
            self._touches.send("Input.dispatchTouchEvent", {"type": what, "touchPoints": points})

    def up(self) -> None:
        if self._touches:
            self._touches.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        else:
            self._page.mouse.up()


def hold(opened: Opened, size: tuple[int, int], what: str) -> None:
    """Press something until it has acted: its bar has gone back to nothing."""
    finger = Finger(opened, size, what)
    finger.down()
    opened.page.wait_for_timeout(900)
    finger.up()


def test_your_turn_is_answered_by_a_press_and_by_no_stray_touch(opened: Opened, size: tuple[int, int]) -> None:
    opened.run.tell(TURN)
    expect(opened.page.locator("#ask-head")).to_have_text("YOUR TURN")
    expect(opened.page).to_have_title("YOUR TURN: fit Calder 6")
    box = opened.page.locator("#ask-done").bounding_box()
    assert box is not None
    assert box["height"] >= 100
    assert box["width"] >= 100
    hold(opened, size, "#ask-done")
    expect(opened.page.locator("#ask-said")).to_contain_text("Too early")
    assert nothing_said(opened.run)
    opened.page.wait_for_timeout(DEAF_MS)
    press(opened.page, "#ask-done")
    expect(opened.page.locator("#ask-said")).to_contain_text("Not held long enough")
    assert nothing_said(opened.run)
    hold(opened, size, "#ask-done")
    assert opened.run.said.get(timeout=SOON_S) == "answer"
    opened.run.tell(turn(5, TURN.what, "", "answered"))
    expect(opened.page.locator("#ask")).to_be_hidden()


def test_steering_words_go_to_the_run(opened: Opened) -> None:
    opened.run.tell(StateChanged(before="ready", state="setting", at_ns=1))
    press(opened.page, '[data-verb="brighter"]')
    assert opened.run.said.get(timeout=SOON_S) == "brighter"
    expect(opened.page.locator("#answer")).to_have_text("The run is told: brighter.")
    for hidden in ("longer", "shorter", "close and keep", "go on"):
        expect(opened.page.locator(f'[data-verb="{hidden}"]')).to_be_hidden()
    opened.run.tell(open_shutter())
    press(opened.page, '[data-verb="longer"]')
    assert opened.run.said.get(timeout=SOON_S) == "longer"


def test_the_countdown_goes_by_the_runs_clock_whatever_the_phones_says(opened: Opened) -> None:
    opened.context.add_init_script("const now = Date.now; Date.now = () => now() - 7200e3;")
    opened.page.reload()
    expect(opened.page.locator("#link")).to_contain_text("Attached")
    event = open_shutter(closes_in_s=900.0)
    opened.run.tell(event)
    shown = opened.page.locator("#countdown")
    expect(shown).not_to_be_empty()
    before_ns = CLOCK.now_ns()
    first = seconds(shown.inner_text())
    after_ns = CLOCK.now_ns()
    assert (event.closes_at_ns - after_ns) / 1e9 - 1 <= first <= (event.closes_at_ns - before_ns) / 1e9 + 120
    opened.page.wait_for_function(
        "(before) => document.getElementById('countdown').textContent !== before", arg=shown.inner_text()
    )
    assert seconds(shown.inner_text()) < first


def test_stop_is_said_when_it_was_held_for_a_second_and_not_before(opened: Opened, size: tuple[int, int]) -> None:
    opened.run.tell(open_shutter())
    button = opened.page.locator('[data-verb="stop now and keep"]')
    expect(button).to_be_enabled()
    finger = Finger(opened, size, '[data-verb="stop now and keep"]')
    finger.down()
    finger.up()
    expect(opened.page.locator("#answer")).to_contain_text("Not held for a second")
    assert nothing_said(opened.run)
    began = opened.page.evaluate("performance.now()")
    finger.down()
    opened.page.wait_for_function(
        "() => document.querySelector('[data-verb=\"stop now and keep\"] progress').value > 0.2"
    )
    assert opened.run.said.get(timeout=SOON_S) == "stop now and keep"
    assert opened.page.evaluate("performance.now()") - began >= HOLDS_MS
    finger.up()
    with pytest.raises(queue.Empty):
        opened.run.said.get_nowait()


def test_stop_is_held_by_keys_too(opened: Opened) -> None:
    opened.run.tell(open_shutter())
    button = opened.page.locator('[data-verb="stop after this frame"]')
    expect(button).to_be_enabled()
    button.focus()
    opened.page.keyboard.press("Enter")
    expect(opened.page.locator("#answer")).to_contain_text("Not held for a second")
    assert nothing_said(opened.run)
    opened.page.keyboard.down(" ")
    assert opened.run.said.get(timeout=SOON_S) == "stop after this frame"
    opened.page.keyboard.up(" ")


def test_everything_fits_the_width_and_buttons_are_large_enough_for_a_wet_finger(opened: Opened) -> None:
    opened.run.tell(LadderBegun(planned=PLANNED), RungBegun(rung=2, label="4:00 min", frames=1), open_shutter())
    expect(opened.page.locator("#countdown")).not_to_be_empty()
    assert opened.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    boxes = [one.bounding_box() for one in opened.page.locator("button:visible").all()]
    assert len(boxes) > 12
    assert all(box and box["height"] >= 56 and box["width"] >= 100 for box in boxes)
    tall = opened.page.evaluate("parseFloat(getComputedStyle(document.getElementById('countdown')).fontSize)")
    assert tall >= 90


# Away, lost, and back ------------------------------------------------------------------------------------------------


def test_a_run_that_goes_and_comes_back_is_told_and_heals(opened: Opened) -> None:
    opened.run.close()
    expect(opened.page.locator("#link")).to_contain_text("waits for")
    opened.run.begin()
    expect(opened.page.locator("#link")).to_contain_text("Attached")


def test_what_went_on_while_the_phone_was_away_is_shown(opened: Opened) -> None:
    opened.run.tell(Said(about="note", text="before"))
    expect(opened.page.locator("#lines")).to_contain_text("before")
    opened.page.goto("about:blank")
    opened.run.tell(*frame_home(opened.run.outing), Said(about="note", text="meanwhile"))
    opened.page.go_back()
    missed = opened.page.locator("#missed-lines")
    expect(missed).to_contain_text("meanwhile")
    expect(missed).to_contain_text("Copied: weir_1.dng")
    expect(missed).not_to_contain_text("before")
    press(opened.page, "#seen")
    expect(opened.page.locator("#missed")).to_be_hidden()


def test_a_server_that_hangs_is_told_and_heals_and_one_that_was_begun_anew_asks_for_a_link(
    chromium: Browser, tmp_path: Path
) -> None:
    """The page's own process is stopped and goes on; then it is another one, which knows nobody."""
    command = [sys.executable, "-m", "tether.command", "page", str(tmp_path), "--page-port", port()]
    with closing(FakeRun(tmp_path)) as run, context_of(chromium, PHONE) as context:
        page = context.new_page()
        for number in range(2):
            with subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
            ) as process:
                try:
                    assert process.stdout is not None
                    link = process.stdout.readline().strip()
                    if number == 0:
                        page.goto(link)
                        expect(page.locator("#link")).to_contain_text("Attached")
                        process.send_signal(signal.SIGSTOP)
                        expect(page.locator("#link")).to_contain_text("No word from the page’s server for")
                        run.tell(Said(about="note", text="meanwhile"))
                        process.send_signal(signal.SIGCONT)
                        expect(page.locator("#link")).to_contain_text("Attached")
                        expect(page.locator("#lines")).to_contain_text("meanwhile")
                    else:
                        expect(page.locator("#link")).to_contain_text("does not let this phone in any more")
                        page.goto(link)
                        expect(page.locator("#link")).to_contain_text("Attached")
                finally:
                    process.kill()


# Contrast and names --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("scheme", ["dark", "light"])
def test_contrast_and_names_are_as_the_guidelines_ask(opened: Opened, scheme: str) -> None:
    """By axe-core, all its rules of WCAG 2.2 A and AA: while open, when lost, and when it is the person's turn."""
    opened.page.emulate_media(color_scheme="light" if scheme == "light" else "dark", reduced_motion="reduce")
    rules = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}

    def look() -> None:
        found = Axe().run(opened.page, options=rules)
        assert found.violations_count == 0, found.generate_report()
        assert found.response["passes"]

    opened.run.tell(LadderBegun(planned=PLANNED), *frame_home(opened.run.outing), open_shutter())
    expect(opened.page.locator("#preview")).to_be_visible()
    look()
    opened.run.tell(TURN)
    expect(opened.page.locator("#ask-done")).to_be_enabled()
    look()
    opened.run.tell(turn(5, TURN.what, "", "answered"))
    opened.run.close()
    expect(opened.page.locator("#link")).to_contain_text("waits for")
    look()
    opened.run.begin()


def test_the_code_in_the_terminal_is_read_by_another_program(tmp_path: Path) -> None:
    link = "http://192.168.178.120:8437/#Zk3-_x0" + "a" * 25
    lines = code_of(link).splitlines()
    side = 8
    picture = Image.new("L", (len(lines[0]) * side, len(lines) * 2 * side), 0)
    draw = ImageDraw.Draw(picture)
    for row, line in enumerate(lines):
        for column, block in enumerate(line):
            for half in (0, 1):
                if block == "█" or block == "▀▄"[half]:
                    top = (2 * row + half) * side
                    draw.rectangle([column * side, top, (column + 1) * side - 1, top + side - 1], fill=255)
    picture.save(tmp_path / "code.png")
    read = subprocess.run(
        ["zbarimg", "--quiet", "--raw", str(tmp_path / "code.png")],  # noqa: S607 - from the system's packages
        capture_output=True,
        text=True,
        check=True,
    )
    assert read.stdout.strip() == link


def test_water_and_rock_are_shown_beside_the_run_and_judged_at_any_time(opened: Opened, size: tuple[int, int]) -> None:
    picture = opened.run.outing / "regions.jpg"
    Image.new("RGB", (900, 600), (90, 120, 130)).save(picture)
    shown = RegionsShown(picture=picture.name, found="water 20%, rock 40% of the picture", state="asked")
    opened.run.tell(LadderBegun(planned=PLANNED), shown)
    section = opened.page.locator("#regions")
    expect(section).to_contain_text("Proposed and in use: water 20%, rock 40% of the picture")
    expect(section.locator("img")).to_be_visible()
    expect(opened.page.locator("#ask")).to_be_hidden()
    press(opened.page, '#regions [data-verb="regions wrong"]')
    assert opened.run.said.get(timeout=SOON_S) == "regions wrong"
    opened.run.tell(replace(shown, state="wrong"))
    expect(section).to_contain_text("You said: wrong.")


def test_the_live_view_of_a_body_is_shown_while_there_is_one(opened: Opened) -> None:
    section = opened.page.locator("#seen-live")
    expect(section).to_be_hidden()
    own_folder(live_path().parent)
    Image.new("RGB", (600, 400), (200, 40, 40)).save(live_path())
    expect(section).to_be_visible()
    assert opened.page.evaluate("document.getElementById('live').naturalWidth") == 600
    live_path().unlink()
    expect(section).to_be_hidden()
