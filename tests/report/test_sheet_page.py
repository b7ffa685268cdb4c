"""The sheet as a page: all in one file, nothing asked for, all text escaped, frames by how long they were open."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import sync_playwright

from tests.journal.outings import weir, write_outing
from tests.page.choosing import write_evening
from tests.report.test_sheet import SHADES, paint
from tests.report.test_sidecars import READ
from tether.journal.records import FrameRead, LadderStarted
from tether.report.choices import Choice, choose
from tether.report.sheet import make_sheet

#: What a browser in a container without a network of its own needs.
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking", "--disable-sync"]
TITLE = 'Grüne <Weir> & "Söhne"</title><script>alert(1)</script>\x1b[2J'


@dataclass
class Read(HTMLParser):
    """What a browser would make of a page: tags with their attributes, and its text by the article it is in."""

    tags: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    text: dict[str, list[str]] = field(default_factory=dict)
    at: str = "head"

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "article":
            self.at = dict(attrs)["id"] or ""

    def handle_data(self, data: str) -> None:
        self.text.setdefault(self.at, []).append(data)

    def of(self, article: str) -> str:
        return " | ".join(part for part in self.text[article] if part.strip())

    def articles(self) -> list[str]:
        return [attributes["id"] or "" for tag, attributes in self.tags if tag == "article"]


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    records = [replace(one, title=TITLE) if isinstance(one, LadderStarted) else one for one in weir()]
    write_outing(tmp_path / "weir", [*records, FrameRead(frame=8, readings=READ)])
    paint(tmp_path / "weir", set(SHADES) - {9}, size=(1500, 1000))
    choose(tmp_path / "weir", 8, Choice(verdict="keep", note="<img src=x onerror=alert(1)> & 'so'"))
    choose(tmp_path / "weir", 1, Choice(verdict="no"))
    return tmp_path / "weir"


def page(outing: Path, rungs: list[int] | None = None) -> tuple[str, Read]:
    path = outing.parent / "sheet.html"
    make_sheet(outing, 1, path, rungs=rungs)
    read = Read()
    read.feed(path.read_text(encoding="utf-8"))
    return path.read_text(encoding="utf-8"), read


def test_frames_stand_by_how_long_they_were_open_and_others_only_where_chosen(outing: Path) -> None:
    """By rung: 1/1000 s, 1/8 s twice, 2 s, 33.6 s, 101 s, 1980 s; the base frame of 1/8 s was chosen, the test not."""
    _, read = page(outing)
    assert read.articles() == [f"frame-{number}" for number in (2, 1, 3, 4, 5, 6, 8, 9)]
    links = [attributes["href"] for tag, attributes in read.tags if tag == "a"]
    assert links == [f"#frame-{number}" for number in (2, 3, 4, 5, 6, 8, 9)]  # the strip is of rungs


def test_a_frame_says_how_it_was_exposed_what_it_says_and_what_is_thought_of_it(outing: Path) -> None:
    text = page(outing)[1].of("frame-8")
    for part in (
        "2:04 min  | rung 5, frame 8",
        "Exposure | 101.00 s, f/11, ISO 100",
        "Planned | 2:04 min; opened 0.30 stop shorter than planned",
        "Filters | Calder 10 (10 stops)",
        "Headroom | 0.8 stops until it clips",
        "In the water | 0.6 stops until it clips",
        "Streak | 42 ±0 px",
        "Outcome | closed early",
        "Log | Closed by the person.",
        "Choice | keep",
        "Note | <img src=x onerror=alert(1)> & 'so'",
    ):
        assert part in text


def test_nothing_is_asked_of_anywhere_and_no_text_becomes_a_tag(outing: Path) -> None:
    text, read = page(outing)
    assert {tag for tag, _ in read.tags} == {
        *(
            "html",
            "head",
            "meta",
            "title",
            "style",
            "body",
            "header",
            "h1",
            "p",
            "nav",
            "a",
            "img",
            "span",
            "b",
            "small",
        ),
        *("main", "article", "h2", "dl", "dt", "dd", "div"),
    }
    assert all((attributes.get("src") or "data:image/jpeg;base64,").startswith("data:image/jpeg;base64,")
               for _, attributes in read.tags)  # fmt: skip
    assert all((attributes.get("href") or "#").startswith("#") for _, attributes in read.tags)
    assert not any(key.startswith("on") for _, attributes in read.tags for key in attributes)
    assert not re.search(r"https?:|url\(|@import", text)
    assert "\x1b" not in text
    policy = next(a["content"] for _, a in read.tags if a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    assert policy.startswith("default-src 'none'")


def test_it_fits_a_phone_and_says_that_it_is_simulated(outing: Path) -> None:
    text, read = page(outing)
    assert ("meta", {"name": "viewport", "content": "width=device-width, initial-scale=1"}) in read.tags
    assert text.startswith("<!DOCTYPE html>")
    assert "SIMULATED" in read.of("head")


def test_pictures_are_in_it_and_one_that_is_missing_is_said(outing: Path) -> None:
    _, read = page(outing)
    sources = [a["src"] or "" for tag, a in read.tags if tag == "img" and a.get("loading") == "lazy"]
    assert len(sources) == 6
    with Image.open(io.BytesIO(base64.b64decode(sources[0].partition(",")[2]))) as picture:
        assert picture.size == (1000, 667)
        assert picture.getexif() == {}
    assert "no preview" in read.of("frame-9")


def test_only_the_rungs_asked_for_are_shown(outing: Path) -> None:
    assert page(outing, rungs=[2, 5])[1].articles() == ["frame-3", "frame-4", "frame-8"]


def test_the_strip_is_laid_out_by_open_time_and_of_previews_it_is_said(outing: Path) -> None:
    """1/1000 s stands at the edge; 1/8 s, 7 stops on, twice, one below the other; 2 s 4 stops further, as wide each."""
    text, read = page(outing)
    places = [attributes["style"] or "" for tag, attributes in read.tags if tag == "a"]
    left, top = ([int(re.search(rf"{side}: (\d+)px", one)[1]) for one in places] for side in ("left", "top"))  # type: ignore[index]
    assert left[0] == 0
    assert left[1] == left[2]
    assert (top[1], top[2] > 0) == (0, True)
    assert (left[3] - left[1]) / (left[1] - left[0]) == pytest.approx(4 / 7, rel=0.01)
    assert "The middle of each preview, as the camera made it." in text
    assert "rung 5, keep" in read.text["head"]


def test_where_raw_frames_are_there_the_strip_is_of_the_same_part_of_each(tmp_path: Path) -> None:
    outing = write_evening(tmp_path / "weir")
    make_sheet(outing, 1, tmp_path / "sheet.html", rungs=[1, 2], part=(0.5, 0.5))
    text = (tmp_path / "sheet.html").read_text()
    assert "Shown is the same part, 1:1; brightness and colour are matched by the rock" in text
    sources = re.findall(r'<img src="data:image/jpeg;base64,([^"]+)" alt="A part of frame', text)
    assert len(sources) == 3
    sizes = {Image.open(io.BytesIO(base64.b64decode(one))).size for one in sources}
    assert sizes == {(112, 120)}  # the drawn frames are 120 high


@pytest.mark.prove
@pytest.mark.parametrize("screen", [(390, 844), (1280, 800)], ids=["phone", "wide"])
def test_a_browser_shows_it_and_asks_for_nothing(outing: Path, screen: tuple[int, int]) -> None:
    page(outing)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        opened = browser.new_page(viewport={"width": screen[0], "height": screen[1]})
        asked: list[str] = []
        complaints: list[str] = []
        opened.on("request", lambda request: asked.append(request.url))
        opened.on("console", lambda message: complaints.append(message.text))
        opened.on("dialog", lambda dialog: complaints.append(dialog.message))
        opened.goto((outing.parent / "sheet.html").as_uri())
        opened.locator("#frame-8").scroll_into_view_if_needed()
        assert [url for url in asked if not url.startswith("data:")] == [(outing.parent / "sheet.html").as_uri()]
        assert complaints == []
        assert opened.evaluate("document.documentElement.scrollWidth") <= screen[0]
        assert opened.title() == TITLE.replace("\x1b", "␛")
        assert Axe().run(opened).response["violations"] == []
        browser.close()
