"""Planning and beginning an evening on the page: who may, what is passed on, what is refused."""

from __future__ import annotations

import asyncio
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar, cast

import pytest
from starlette.requests import Request

from tests.page.rig import Browser, FakeRun, Page
from tests.page.test_evening_view import CHECKED, STATE
from tests.plan.plans import BASE, HEAD
from tether.editor.messages import Begin, Begun, Edit, EditorEvent, EditorRequest, Start, WishAnswer
from tether.page import evening
from tether.page.evening import Evening, Places

TEXT = HEAD + BASE + '[rungs]\ntimes = ["1/125"]\n'
POSTS = ("copy", "open", "wish", "begin", "finish", "fetch", "resume", "again", "shut-down")
GETS = ("", "/plans", "/draft", "/power")


class Keeper:
    """Stands in for the draft process: tells a plan at once, and answers each wish."""

    made: ClassVar[list[Keeper]] = []

    def __init__(self, start: Start, tell: Callable[[EditorEvent], None]) -> None:
        self.start, self.tell = start, tell
        self.wishes: list[EditorRequest] = []
        self.closed = False
        self.made.append(self)

    def open(self) -> None:
        self.tell(replace(STATE, path=self.start.path, simulated=self.start.simulated))

    def wish(self, wish: EditorRequest) -> int:
        self.wishes.append(wish)
        number = len(self.wishes)
        if isinstance(wish, Begin):
            self.tell(Begun(outing=str(Path(self.start.under) / "weir")))
        refused = isinstance(wish, Edit) and wish.value == "wrong"
        self.tell(WishAnswer(to=number, ok=not refused, sentence="It is no time." if refused else "Done."))
        return number

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Places:
    monkeypatch.setattr(evening, "Drafting", Keeper)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    Keeper.made.clear()
    (tmp_path / "gorge.toml").write_text(TEXT)
    return Places(here=tmp_path, under=tmp_path / "outings")


@pytest.fixture
def page(places: Places) -> Iterator[Page]:
    with closing(Page(None, plans=places)) as page:
        yield page


@pytest.fixture
def browser(page: Page) -> Browser:
    return Browser.let_in(page, attached=False)


def post(browser: Browser, path: str, **body: Any) -> tuple[int, Any]:
    got = browser.ask("POST", f"/evening/{path}", json.dumps(body), {**browser.own(), "X-Tether-Token": browser.token})
    try:
        return got.status, json.loads(got.text)
    except ValueError:
        return got.status, got.text


def get(browser: Browser, path: str) -> Any:
    return json.loads(browser.ask("GET", f"/evening{path}").text)


def key_of(browser: Browser, file: str) -> str:
    (found,) = (one["key"] for one in get(browser, "/plans")["plans"] if one["file"] == file)
    return str(found)


def opened(browser: Browser) -> Keeper:
    status, _ = post(browser, "open", plan=key_of(browser, "gorge.toml"), rehearse=True)
    assert status == 200
    return Keeper.made[-1]


# Who may


def test_strangers_get_nothing_and_nothing_is_done_without_the_pages_token(page: Page, browser: Browser) -> None:
    stranger = Browser(page)
    for path in GETS:
        assert stranger.ask("GET", f"/evening{path}").status == 403
    for path in POSTS:
        body = json.dumps({"plan": "x", "sure": True})
        assert stranger.ask("POST", f"/evening/{path}", body, stranger.own()).status == 403
        assert browser.ask("POST", f"/evening/{path}", body, browser.own()).status == 403, "no token"
        elsewhere = {**browser.own(), "X-Tether-Token": browser.token, "Origin": "http://evil.example"}
        assert browser.ask("POST", f"/evening/{path}", body, elsewhere).status == 403
        assert browser.ask("GET", f"/evening/{path}").status == 405
    assert Keeper.made == []


def test_a_phone_that_watches_sees_the_plans_and_begins_nothing(page: Page) -> None:
    watcher = Browser.let_in(page, may_steer=False, attached=False)
    assert get(watcher, "/plans")["may_steer"] is False
    for path in POSTS:
        assert post(watcher, path, sure=True)[0] == 403
    assert Keeper.made == []


def test_a_page_of_one_outing_has_no_plans(tmp_path: Path) -> None:
    with closing(Page(tmp_path)) as page:
        browser = Browser.let_in(page, attached=False)
        assert browser.ask("GET", "/evening").status == 404
        assert "/evening" not in browser.ask("GET", "/").text


# Plans and wishes


def test_without_a_run_the_plans_come_first(browser: Browser) -> None:
    got = browser.ask("GET", "/")
    assert (got.status, got.headers["Location"]) == (303, "/evening")
    titles = [one["title"] for one in get(browser, "/plans")["plans"]]
    assert titles[0] == "A test"
    assert "Weir at evening" in titles


def test_with_a_run_the_run_comes_first(places: Places, tmp_path: Path) -> None:
    with closing(FakeRun(tmp_path / "weir")), closing(Page(None, plans=places)) as page:
        browser = Browser.let_in(page)
        got = browser.ask("GET", "/")
        assert got.status == 200
        assert 'href="/evening"' in got.text
        assert 'id="resume"' in got.text


def test_a_plan_is_copied_under_another_name_and_never_over_one(browser: Browser) -> None:
    demo = key_of(browser, "demo.toml")
    status, made = post(browser, "copy", plan=demo, title="Sunday")
    assert (status, made["title"], made["file"], made["may_edit"]) == (200, "Sunday", "sunday.toml", True)
    status, said = post(browser, "copy", plan=demo, title="Sunday")
    assert status == 409
    assert "another name" in said
    assert post(browser, "copy", plan="../../etc/passwd", title="x")[0] == 404


def test_a_draft_is_opened_and_what_is_wished_is_passed_on(browser: Browser, places: Places) -> None:
    keeper = opened(browser)
    assert (keeper.start.path, keeper.start.simulated) == (str(places.here / "gorge.toml"), True)
    assert keeper.start.under == str(places.under)
    _, got = post(browser, "wish", wish="edit", key="rungs.from", value="1/250")
    assert keeper.wishes == [Edit(key="rungs.from", value="1/250")]
    assert (got["said"], got["refused"]) == ("Done.", False)
    _, got = post(browser, "wish", wish="edit", key="rungs.from", value="wrong")
    assert (got["said"], got["refused"]) == ("It is no time.", True)
    for nonsense in ({"wish": "fly"}, {"wish": "edit", "key": 1, "value": "x"}, {}, {"wish": ["undo"]}):
        assert post(browser, "wish", **nonsense)[0] == 400


def test_nothing_is_wished_of_a_plan_that_is_not_open(browser: Browser) -> None:
    assert get(browser, "/draft") == {"open": False, "plan": None, "begun": None}
    assert post(browser, "wish", wish="check")[0] == 409
    assert post(browser, "begin", despite={}, who="")[0] == 409


def test_what_comes_with_the_program_is_not_written_over(browser: Browser) -> None:
    post(browser, "open", plan=key_of(browser, "demo.toml"), rehearse=True)
    status, said = post(browser, "wish", wish="save")
    assert status == 409
    assert "copy it" in said
    assert Keeper.made[-1].wishes == []


def test_the_same_plan_is_opened_in_another_way_with_what_was_not_saved(browser: Browser) -> None:
    first = opened(browser)
    post(browser, "open", rehearse=False, pace=1)
    assert first.closed
    assert (Keeper.made[-1].start.simulated, Keeper.made[-1].start.text) == (False, STATE.text)
    post(browser, "open", rehearse=True, pace=60)
    assert Keeper.made[-1].start.pace == 60.0
    post(browser, "open", rehearse=True, pace=1e9)
    assert Keeper.made[-1].start.pace == 1.0


# Beginning


def test_a_run_is_begun_with_who_knows_and_the_page_turns_to_it(browser: Browser, places: Places) -> None:
    keeper = opened(browser)
    _, got = post(browser, "begin", despite={}, who="Anna, until 22:00")
    assert keeper.wishes == [Begin(despite={}, who_knows="Anna, until 22:00")]
    assert got["begun"] == "weir"
    assert keeper.closed, "the camera is the run's"
    with closing(FakeRun(places.under / "weir")) as run, browser.events() as events:
        assert next(one for one in events if one["link"]["state"] == "attached")
        assert browser.ask("GET", "/").status == 200
        assert browser.say("pause").status == 200
        assert run.said.get(timeout=5) == "pause"


def test_a_check_that_stops_needs_a_reason(browser: Browser) -> None:
    keeper = opened(browser)
    keeper.tell(CHECKED)
    status, said = post(browser, "begin", despite={}, who="")
    assert status == 409
    assert "Stopped by: focus" in said
    assert keeper.wishes == []
    status, _ = post(browser, "begin", despite={"focus": "a manual lens", "camera": " "}, who="")
    assert status == 200
    assert keeper.wishes == [Begin(despite={"focus": "a manual lens"})]


def test_a_camera_is_never_begun_at_a_rehearsals_pace(browser: Browser) -> None:
    keeper = opened(browser)
    post(browser, "open", rehearse=False, pace=60)
    status, said = post(browser, "begin", despite={}, who="")
    assert status == 409
    assert "real time" in said
    assert Keeper.made[-1].wishes == keeper.wishes == []


@pytest.mark.parametrize("body", [{"despite": []}, {"despite": {"focus": 1}}, {"who": 3}])
def test_nonsense_begins_nothing(browser: Browser, body: dict[str, Any]) -> None:
    keeper = opened(browser)
    assert post(browser, "begin", **body)[0] == 400
    assert keeper.wishes == []


# Afterwards


def test_the_computer_is_shut_down_only_where_that_was_confirmed_and_no_run_goes_on(
    browser: Browser, tmp_path: Path, logind: list[str]
) -> None:
    logind.clear()
    assert post(browser, "shut-down", sure="yes")[0] == 400
    assert post(browser, "shut-down")[0] == 400
    assert logind == []
    with closing(FakeRun(tmp_path / "weir")):
        assert get(browser, "/power")["allowed"] is False
        assert post(browser, "shut-down", sure=True)[0] == 409
    assert logind == []
    assert get(browser, "/power")["allowed"] is True
    status, got = post(browser, "shut-down", sure=True)
    assert (status, got["sentence"]) == (200, "The computer shuts down. This page ends with it.")
    assert logind == ["CanPowerOff", "CanPowerOff", "PowerOff"]


@pytest.mark.parametrize("what", ["finish", "fetch", "resume", "again"])
def test_there_is_nothing_to_finish_or_to_resume_before_an_outing(browser: Browser, what: str) -> None:
    assert post(browser, what) == (409, "No outing has begun yet.")


@pytest.mark.parametrize("what", ["finish", "fetch", "resume", "again"])
def test_nothing_is_finished_or_resumed_while_its_run_is_active(places: Places, tmp_path: Path, what: str) -> None:
    with closing(FakeRun(tmp_path / "weir")), closing(Page(None, plans=places)) as page:
        status, said = post(Browser.let_in(page), what)
    assert status == 409
    assert "still active" in said


def test_what_can_not_be_resumed_is_said_as_the_command_says_it(places: Places, tmp_path: Path) -> None:
    """A folder in which nothing was begun: the program's own sentence, and no run."""
    outing = tmp_path / "weir"
    with closing(Page(None, plans=places)) as page:
        with closing(FakeRun(outing)):
            browser = Browser.let_in(page)
        status, got = post(browser, "resume")
    assert (status, got["done"]) == (200, False)
    assert "weir" in got["said"]


@pytest.mark.parametrize("code", [0, 1, 5])
def test_how_an_outing_ends_is_told_for_a_phone(
    places: Places, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    found = {"found": [{"what": "pack", "verdict": "note", "sentence": "Take off Calder 6."}]}
    script = f"import sys; print('{json.dumps(found)}'); print('Said.', sys.argv[1:], file=sys.stderr); exit({code})"
    monkeypatch.setattr(evening, "_PROGRAM", (sys.executable, "-c", script))
    with closing(Page(None, plans=places)) as page:
        with closing(FakeRun(tmp_path / "weir")):
            browser = Browser.let_in(page)
        _, got = post(browser, "fetch")
    if code == 5:
        assert got["found"] == []
        assert got["said"] == f"Said. {['finish', str(tmp_path / 'weir'), '--json', '--fetch']}\n"
    else:
        shown = [{"what": "Pack", "verdict": "note", "text": "Take off Calder 6."}]
        assert got == {"found": shown, "fetch": False, "said": ""}


def test_what_is_called_off_while_it_begins_leaves_no_process_behind(places: Places, tmp_path: Path) -> None:
    there = Evening(places, lambda _: None, lambda: tmp_path)

    async def called_off(late: int) -> None:
        waits = asyncio.ensure_future(there.finish((), cast("Request", None)))
        for _ in range(late):
            await asyncio.sleep(0)
        waits.cancel()
        with pytest.raises(asyncio.CancelledError):
            await waits

    children = Path(f"/proc/{os.getpid()}/task/{os.getpid()}/children")
    before = children.read_text()
    for late in (1, 5, 8):
        asyncio.run(called_off(late))
        assert children.read_text() == before, late
