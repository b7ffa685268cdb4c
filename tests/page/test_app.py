"""Who gets what from the page's server: nobody a thing without a link's secret; nothing is done but by the page."""

from __future__ import annotations

import ipaddress
import json
import re
from contextlib import closing
from pathlib import Path

import pytest

from tests.page.rig import Browser, FakeRun, Page
from tether.page.answers import STATIC

PATHS = [
    "/",
    "/events",
    "/static/page.js",
    "/static/page.css",
    "/static/icon.svg",
    "/favicon.ico",
    "/frames/1/preview.jpg",
    "/frames/1/histogram.svg",
    "/regions.jpg",
    "/live.jpg",
    "/say",
    "/enter",
    "/nothing/here",
]


# Without a secret ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("cookie", [None, "wrong", ""])
def test_without_the_secret_every_address_is_403(page: Page, cookie: str | None) -> None:
    stranger = Browser(page)
    stranger.cookie = None if cookie is None else f"tether-{page.place.port}={cookie}"
    for path in PATHS:
        for method in ("GET", "HEAD", "PUT", "DELETE", "OPTIONS"):
            assert stranger.ask(method, path).status == 403, (method, path)
        assert stranger.ask("POST", path, "{}", stranger.own()).status == 403, path


def test_the_page_itself_is_not_in_what_a_stranger_gets(page: Page) -> None:
    shown = Browser(page).ask("GET", "/").text
    assert "opens by its link only" in shown
    assert "page.js" not in shown
    assert "Weir" not in shown


def test_a_link_works_once(page: Page) -> None:
    token = page.doors.new_link(may_steer=True)
    assert Browser(page).enter(token).status == 204
    second = Browser(page).enter(token)
    assert second.status == 403
    assert "used before" in second.text
    assert "Set-Cookie" not in second.headers


@pytest.mark.parametrize("token", ["", "x", "a" * 32, "ü", "\ud800"])
def test_a_wrong_token_gets_no_cookie_and_leaves_the_link_good(page: Page, token: str) -> None:
    good = page.doors.new_link(may_steer=True)
    refused = Browser(page).enter(token)
    assert refused.status == 403
    assert "Set-Cookie" not in refused.headers
    assert Browser(page).enter(good).status == 204


def test_looking_ahead_at_a_link_does_not_use_it_up(page: Page) -> None:
    """Programs that look at links before a person does send GET, and never what stands behind "#"."""
    link = page.link()
    address, _, token = link.partition("#")
    for path in (address.removeprefix(f"http://{page.host}"), f"/?token={token}", f"/enter?token={token}"):
        assert Browser(page).ask("GET", path).status == 403
    assert Browser(page).enter(token).status == 204


def test_the_cookie_is_for_this_page_only_and_no_script_reads_it(page: Page) -> None:
    cookie = Browser(page).enter(page.doors.new_link(may_steer=True)).headers["Set-Cookie"]
    assert cookie.startswith(f"tether-{page.place.port}=")
    parts = {part.strip().lower() for part in cookie.split(";")[1:]}
    assert {"httponly", "samesite=strict", "path=/"} <= parts
    assert not any(part.startswith("domain") for part in parts)


# With it -------------------------------------------------------------------------------------------------------------


def test_whoever_was_let_in_gets_the_page_and_may_steer(browser: Browser, run: FakeRun) -> None:
    assert browser.ask("GET", "/").status == 200
    assert browser.ask("GET", "/static/page.js").headers["Content-Type"].startswith("text/javascript")
    said = browser.say("brighter")
    assert said.status == 200, said.text
    assert json.loads(said.text)["sentence"] == "The run is told: brighter."
    assert run.said.get(timeout=5) == "brighter"


@pytest.mark.parametrize("method", ["GET", "HEAD", "PUT", "PATCH", "DELETE", "OPTIONS"])
def test_nothing_is_done_but_by_post(browser: Browser, run: FakeRun, method: str) -> None:
    body = json.dumps({"verb": "pause", "of": None})
    for path in ("/say", "/say?verb=pause", "/enter", "/stop", "/static/say", "/"):
        got = browser.ask(method, path, body, {**browser.own(), "X-Tether-Token": browser.token})
        assert got.status in ((200, 404, 405) if method == "GET" else (405,)), path
    assert run.said.empty()


def test_what_one_is_not_asked_about_has_no_address(browser: Browser, outing: Path) -> None:
    (outing / "journal.sqlite").write_text("secret")
    for path in (
        "/static/../app.py",
        "/static/%2e%2e%2fapp.py",
        "/static/page.html",
        "/frames/1/preview.jpg",
        "/frames/../journal.sqlite",
        "/frames/1/..%2f..%2fjournal.sqlite",
    ):
        assert browser.ask("GET", path).status == 404


#: What a POST from elsewhere has, by what it is; None: not there.
LIES: dict[str, dict[str, str | None]] = {
    "no origin": {"Origin": None},
    "another site": {"Origin": "http://evil.example"},
    "another port of this machine": {"Origin": "http://127.0.0.1:1"},
    "no site at all": {"Origin": "null"},
    "the same with https": {"Origin": "https://{host}"},
    "cross-site, says the browser": {"Sec-Fetch-Site": "cross-site"},
    "another port, says the browser": {"Sec-Fetch-Site": "same-site"},
    "a form": {"Content-Type": "application/x-www-form-urlencoded"},
    "a form that is text": {"Content-Type": "text/plain"},
    "no token": {"X-Tether-Token": None},
    "a wrong token": {"X-Tether-Token": "wrong"},
    "a token beyond ASCII": {"X-Tether-Token": "\xfc"},
}


@pytest.mark.parametrize("lie", LIES)
def test_a_post_from_elsewhere_or_without_the_token_does_nothing(browser: Browser, run: FakeRun, lie: str) -> None:
    headers: dict[str, str | None] = {**browser.own(), "X-Tether-Token": browser.token, **LIES[lie]}
    sent = {name: value.format(host=browser.host) for name, value in headers.items() if value is not None}
    assert browser.post_say({"verb": "pause", "of": None}, sent).status == 403
    assert run.said.empty()
    if "token" not in lie:
        token = browser.page.doors.new_link(may_steer=True)
        assert Browser(browser.page).ask("POST", "/enter", json.dumps({"token": token}), sent).status == 403


def test_the_token_of_another_phone_does_not_do(page: Page, browser: Browser, run: FakeRun) -> None:
    browser.token = Browser.let_in(page).token
    assert browser.say("pause").status == 403
    assert run.said.empty()


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1:1", "[::1]:{port}", ""]
)
def test_by_another_name_it_answers_nobody(browser: Browser, run: FakeRun, host: str) -> None:
    """A name elsewhere that was made to point here (rebinding) is what the browser then sends as host."""
    browser.host = host.format(port=browser.page.place.port)
    shown = browser.ask("GET", "/")
    assert shown.status == 403
    assert "opens by its link" not in shown.text
    headers = {**browser.own(), "Origin": f"http://{browser.host}", "X-Tether-Token": browser.token}
    assert browser.post_say({"verb": "pause", "of": None}, headers).status == 403
    assert run.said.empty()


def test_localhost_is_this_machine_too(browser: Browser, run: FakeRun) -> None:
    browser.host = f"localhost:{browser.page.place.port}"
    headers = {**browser.own(), "Origin": f"http://{browser.host}", "X-Tether-Token": browser.token}
    assert browser.post_say({"verb": "pause", "of": None}, headers).status == 200
    assert run.said.get(timeout=5) == "pause"


@pytest.mark.parametrize("path", ["/events", "/static/page.js", "/frames/1/preview.jpg"])
def test_another_site_can_not_use_what_the_browser_keeps(browser: Browser, path: str) -> None:
    for lie in ({"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}, {"Origin": "http://evil.example"}):
        assert browser.ask("GET", path, headers=lie).status == 403


def test_a_phone_that_watches_gets_all_and_steers_nothing(page: Page, run: FakeRun) -> None:
    watcher = Browser.let_in(page, may_steer=False)
    assert watcher.ask("GET", "/").status == 200
    with watcher.events() as events:
        assert next(events)["may_steer"] is False
    refused = watcher.say("pause")
    assert refused.status == 403
    assert "watch only" in refused.text
    assert run.said.empty()


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ("", 400),
        ("[]", 400),
        ("{", 400),
        ("[" * 2000, 400),
        ("{}", 400),
        ('{"verb": 1}', 400),
        ('{"verb": "fly"}', 400),
        ('{"verb": "pause", "of": "' + "x" * 4000 + '"}', 413),
    ],
)
def test_nonsense_is_refused(browser: Browser, run: FakeRun, body: str, status: int) -> None:
    headers = {**browser.own(), "X-Tether-Token": browser.token}
    assert browser.ask("POST", "/say", body, headers).status == status
    assert run.said.empty()


def test_every_answer_forbids_what_is_not_of_this_server(page: Page, browser: Browser) -> None:
    for answer in (browser.ask("GET", "/"), browser.ask("GET", "/nothing"), Browser(page).ask("GET", "/")):
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_no_secret_is_written_anywhere(page: Page, capfd: pytest.CaptureFixture[str]) -> None:
    token = page.doors.new_link(may_steer=True)
    stranger = Browser(page)
    stranger.ask("GET", f"/?token={token}")
    cookie = stranger.enter(token).headers["Set-Cookie"]
    stranger.enter(token)
    written = "".join(capfd.readouterr())
    assert token not in written
    assert cookie.partition("=")[2].partition(";")[0] not in written


# Where it may be reached ---------------------------------------------------------------------------------------------


def test_at_a_named_address_only_that_name_is_answered(run: FakeRun) -> None:
    with closing(Page(run.outing, ipaddress.ip_address("127.0.0.2"))) as page:
        assert page.place.hosts == (f"127.0.0.2:{page.place.port}",)
        browser = Browser.let_in(page)
        assert browser.ask("GET", "/").status == 200
        browser.host = f"localhost:{page.place.port}"
        assert browser.ask("GET", "/").status == 403


def test_words_need_a_run(tmp_path: Path) -> None:
    with closing(Page(tmp_path)) as page:
        refused = Browser.let_in(page, attached=False).say("pause")
        assert refused.status == 409
        assert "was not sent" in refused.text


@pytest.mark.parametrize("name", ["page.html", "evening.html", "choosing.html"])
def test_no_name_is_taken_twice_by_the_scripts_of_a_page(name: str) -> None:
    """They share one scope: where a name is declared twice, the second script does not load."""
    html = (STATIC / "head.html").read_text() + (STATIC / name).read_text()
    scripts = [(STATIC / script).read_text() for script in re.findall(r'src="/static/([\w.]+)"', html)]
    assert len(scripts) > 3
    names = re.findall(r"^(?:let|const|(?:async )?function) (\w+)", "\n".join(scripts), re.MULTILINE)
    assert len(names) > 30
    assert [one for one in set(names) if names.count(one) > 1] == []
