"""Pictures of the evening in a real browser: whole labels on a phone and a wide screen, in a light and a dark look."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.journal.outings import FENWICK, applied, frame_begun, ladder_started, run_started, write_outing
from tests.page.rig import CLOCK, SOON_S, FakeRun
from tests.page.rig import Page as Served
from tests.page.test_chromium import PHONE, WIDE, chromium, context_of
from tests.report.test_audit import read
from tests.report.test_histogram import FOUND, READINGS
from tether.control import attachment
from tether.journal.records import ExposeOutcome, FrameRead, Kept, Record, SuppliesSeen
from tether.journal.store import Journal

pytestmark = pytest.mark.prove
__all__ = ["chromium"]  # a fixture
#: Labels that reach out of their picture, the moving one where it stands.
OUTSIDE = """() => [...document.querySelectorAll("svg.plot text")].filter((label) => {
  const [box, room] = [label.getBoundingClientRect(), label.ownerSVGElement.getBoundingClientRect()];
  const [beside, above] = [box.left < room.left - 1 || box.right > room.right + 1, box.top < room.top - 1];
  return beside || above || box.bottom > room.bottom + 1;
}).map((label) => label.textContent)"""
#: Labels of one picture that touch one another.
TOUCHING = """() => [...document.querySelectorAll("svg.plot")].flatMap((svg) => {
  const labels = [...svg.querySelectorAll("text")].map((label) => [label.textContent, label.getBoundingClientRect()]);
  return labels.flatMap(([one, a], at) => labels.slice(at + 1)
    .filter(([, b]) => a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 3 && b.top < a.bottom - 3)
    .map(([other]) => `${one} / ${other}`));
})"""


def exposed(number: int, minutes_ago: float, open_s: float) -> ExposeOutcome:
    opened = CLOCK.utc() - timedelta(minutes=minutes_ago)
    return ExposeOutcome(
        frame=number,
        outcome="made",
        held_s=open_s,
        realtime=None,
        closed_by="planned",
        open_called_ns=None,
        open_returned_ns=None,
        close_called_ns=None,
        close_returned_ns=None,
        opened_utc=opened.isoformat(),
        closed_utc=(opened + timedelta(seconds=open_s)).isoformat(),
    )


def of_an_evening() -> list[Record]:
    """Base, then rungs of which the light fell by a stop; with a battery that was seen three times."""
    records: list[Record] = [run_started(), ladder_started()]
    eighth = applied(2**-3, "1/8")
    frames = (
        (1, None, 30.0, 0.0, ()),
        (2, 2, 24.0, -0.2, ()),
        (3, 3, 12.0, -0.6, (FENWICK,)),
        (4, 4, 3.0, -1.0, (FENWICK,)),
    )
    for number, rung, ago, off, filters in frames:
        kind = "rung" if rung else "base"
        records += frame_begun(number, rung, eighth, kind=kind, way="held", filters=filters)  # type: ignore[arg-type]
        records += [exposed(number, ago, 2**-3), read(number, off, 0.0)]
        records += [
            SuppliesSeen(
                battery=1 - number / 8, card_frames=9, temperature_c=None, disk_bytes=1, disk_frames=1, to_come=3
            )
        ]
    return [*records, FrameRead(frame=4, readings=READINGS, histogram=FOUND)]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(attachment, "LOOKS_EVERY_S", 0.05)
    write_outing(tmp_path, [one for one in of_an_evening() if isinstance(one, Kept)])
    return tmp_path


@pytest.fixture(params=[(PHONE, "dark"), (PHONE, "light"), (WIDE, "dark"), (WIDE, "light")], ids=lambda one: f"{one}")
def page(request: pytest.FixtureRequest, chromium: Browser, folder: Path) -> Iterator[Page]:
    """The page of a run that goes on: a writer has its journal open."""
    size, scheme = request.param
    with (
        closing(FakeRun(folder)),
        closing(Journal.open(folder)),
        closing(Served(folder)) as served,
        context_of(chromium, size, scheme) as context,
    ):
        opened = context.new_page()
        opened.goto(served.link())
        expect(opened.locator("#plots svg")).to_have_count(3, timeout=SOON_S * 1000)
        yield opened


def test_labels_are_whole_and_touch_nothing_and_what_is_now_moves_on(page: Page) -> None:
    assert page.evaluate(OUTSIDE) == []
    assert page.evaluate(TOUCHING) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert [one.get_attribute("data-name") for one in page.locator("#plots figure").all()] == [
        "rungs",
        "light",
        "battery",
    ]
    now = page.locator('#plots [data-name="rungs"] .now')
    before = now.get_attribute("transform") or ""
    expect(now).not_to_have_attribute("transform", before, timeout=SOON_S * 1000)
    assert Axe().run(page, "#course").response["violations"] == []


def test_a_chosen_frame_shows_its_histogram_whole(page: Page, folder: Path) -> None:
    page.evaluate("document.dispatchEvent(new CustomEvent('looked', {detail: {frame: 4}}))")
    page.evaluate("document.getElementById('last').hidden = false")
    expect(page.locator("#histogram svg")).to_be_visible(timeout=SOON_S * 1000)
    assert page.evaluate(OUTSIDE) == []
    assert page.evaluate(TOUCHING) == []
