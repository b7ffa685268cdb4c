"""Draws the README's pictures of the desk and the page, from a ladder rehearsed on the simulated body.

The processes are the real ones; the desk has no terminal but the one that is drawn. It needs Chromium::

    python -m tests.pictures
"""

from __future__ import annotations

import asyncio
import os
import shutil
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright
from textual.pilot import Pilot

from tests.page.rig import Page as Served
from tests.page.test_chromium import FLAGS, PHONE
from tether.desk.app import Desk
from tether.desk.strip_row import StripRow
from tether.editor.messages import Start

ROOT = Path(__file__).parents[1]
INTO = ROOT / "docs" / "pictures"
PACE = 20.0
SOON_S = 120.0
SIZE = (110, 36)
#: Of the picture of choosing [px].
CHOOSING = (1180, 1010)
#: The letters that are there wherever Chromium is; the library would fetch its own from afar.
_LETTERS = "DejaVu Sans Mono"


class Sitting:
    """A person at the desk, who leaves a drawing now and then."""

    def __init__(self, desk: Desk, pilot: Pilot[None], into: Path) -> None:
        self.desk = desk
        self.pilot = pilot
        self.into = into

    async def until(self, so: Callable[[], object]) -> None:
        """Wait until something is so."""
        until_s = time.monotonic() + SOON_S
        while not so():
            if time.monotonic() > until_s:
                raise SystemExit("It did not come about.")
            await asyncio.sleep(0.05)
        await self.pilot.pause()

    def draw(self, name: str) -> None:
        """Keep what is on the screen."""
        (self.into / f"{name}.svg").write_text(self.desk.export_screenshot(title="tether desk"), encoding="utf-8")


async def evening(folder: Path, on_run: Callable[[Path, str], None]) -> None:
    """Go through an evening at the desk; `on_run` is told the outing and what goes on: "turn", "open", "over"."""
    start = Start(path="weir.toml", pace=PACE)
    desk = Desk(None, start=start)
    async with desk.run_test(size=SIZE) as pilot:
        person = Sitting(desk, pilot, folder)
        await person.until(lambda: desk.draft.known.checked)
        await pilot.press("2", "e")
        await person.until(lambda: desk.draft.known.frames and not desk.draft.known.doing)
        fall = (*["right"] * 2, *["up"] * 22, *["shift+left"] * 4, *["shift+down"] * 14)
        await pilot.press("w", *fall, "enter")
        await pilot.press("f")
        await person.until(lambda: desk.draft.known.said.startswith("Base:"))
        person.draw("desk-base")
        await pilot.press("3", "tab", "down", "down", "down", "down")
        person.draw("desk-ladder")
        await pilot.press("B", "enter")
        await person.until(lambda: desk.sight.snapshot.turn)
        outing = desk.sight.outing
        assert outing is not None
        await asyncio.to_thread(on_run, outing, "turn")
        asked = None
        while not desk.sight.snapshot.over:
            snapshot = desk.sight.snapshot
            if snapshot.turn and snapshot.turn != asked:
                asked = snapshot.turn
                desk.action_say("answer")
            long = snapshot.open and snapshot.open.way == "held" and snapshot.open.open_s > 200
            if long and len(snapshot.frames) > 8 and snapshot.open and not (folder / "desk-run.svg").exists():
                await pilot.press("escape", "4")
                await asyncio.sleep(1.0)
                person.draw("desk-run")
                await asyncio.to_thread(on_run, outing, "open")
            await asyncio.sleep(0.05)
        await frames(person)
    await asyncio.to_thread(desk.draft.wait)


async def frames(person: Sitting) -> None:
    """Draw two frames side by side above the strip, once that has all its pictures."""
    await person.pilot.press("5", *["down"] * 3, "c", *["right"] * 10)
    strip = person.desk.screen.query_one(StripRow)
    await person.until(lambda: strip._frames and len(strip._pictures) == len(strip._frames))
    person.draw("desk-frames")


def photograph(browser: Browser, folder: Path) -> None:
    """Turn the drawings into pictures."""
    page = browser.new_page(viewport={"width": 1200, "height": 900}, device_scale_factor=1)
    for drawing in folder.glob("desk-*.svg"):
        text = drawing.read_text(encoding="utf-8").replace("Fira Code", _LETTERS)
        page.set_content(f"<body style='margin:0'>{text}</body>")
        page.locator("svg").first.screenshot(path=INTO / f"{drawing.stem}.png")


def main() -> None:
    """Draw them all anew."""
    os.environ.pop("XDG_CONFIG_HOME", None)
    with tempfile.TemporaryDirectory() as text, sync_playwright() as playwright:
        folder = Path(text)
        os.environ["XDG_CONFIG_HOME"], os.environ["XDG_DATA_HOME"] = str(folder / "config"), str(folder / "data")
        os.chdir(folder)
        shutil.copy(ROOT / "profiles" / "plans" / "demo.toml", folder / "weir.toml")
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        photos: list[tuple[Path, str]] = []
        wanted, done = threading.Event(), threading.Event()

        def on_run(outing: Path, what: str) -> None:
            photos.append((outing, what))
            wanted.set()
            done.wait()
            done.clear()

        sitting = threading.Thread(target=lambda: asyncio.run(evening(folder, on_run)))
        sitting.start()
        served: Served | None = None
        phone = browser.new_page(viewport={"width": PHONE[0], "height": PHONE[1]}, color_scheme="dark", is_mobile=True)
        while sitting.is_alive():
            if not wanted.wait(0.2):
                continue
            wanted.clear()
            outing, what = photos[-1]
            if served is None:
                served = Served(outing)
                phone.goto(served.link())
            time.sleep(1.5)
            phone.screenshot(path=INTO / f"page-{what}.png")
            done.set()
        if served is not None:
            phone.set_viewport_size({"width": CHOOSING[0], "height": CHOOSING[1]})
            phone.goto(f"http://{served.host}/choosing")
            phone.wait_for_timeout(6000)
            phone.screenshot(path=INTO / "page-choosing.png")
            served.close()
        photograph(browser, folder)
        browser.close()


if __name__ == "__main__":
    main()
