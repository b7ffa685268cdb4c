"""Whatever a browser that was let in sends, the page answers it or refuses it: it never breaks, and goes on serving."""

from __future__ import annotations

import http.client
import json
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.page.rig import Browser, Page
from tests.page.test_evening import GETS, POSTS, TEXT, Keeper
from tether.page import evening
from tether.page.evening import Places

FEW, MANY = 12, 400
TEXTS = st.text(max_size=30)
VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-(2**70), 2**70), st.floats(), TEXTS),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(TEXTS, inner, max_size=3)),
    max_leaves=6,
)
#: The keys that the page's own addresses read, with what they were never meant to hold.
KEYS = st.sampled_from(
    (
        *("verb", "of", "token", "plan", "name", "path", "as_name", "key", "value", "wish", "pace", "simulated"),
        *("despite", "outing", "frame", "choice", "stars", "note", "who", "at", "box", "what"),
    )
)
BODIES = st.one_of(
    st.dictionaries(KEYS, VALUES, max_size=4).map(lambda value: json.dumps(value, allow_nan=True)),
    VALUES.map(lambda value: json.dumps(value, allow_nan=True)),
    TEXTS,
    st.sampled_from(["[" * 2000, '{"a":' * 300, "x" * 3000, '{"frame": 1e999}', '"\\ud800"', "{}"]),
)
GET = (
    *("/", "/static/page.js", "/frames/{}/preview.jpg", "/crops/{}.jpg", "/frames/{}/histogram.svg", "/regions.jpg"),
    *("/live.jpg", "/plots", "/candidates", "/choosing", "/favicon.ico", "/{}", "/static/{}"),
    *(f"/evening{path}" for path in GETS),
)
POST = ("/say", "/enter", "/choose", *(f"/evening/{path}" for path in POSTS if path != "shut-down"))
PARTS = st.one_of(st.integers(-3, 2**70).map(str), TEXTS, st.sampled_from(["..%2f..%2fetc", "%00", "%ff", "1e3", "0"]))


@pytest.fixture(scope="module")
def let_in(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    folder = tmp_path_factory.mktemp("garbage")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(evening, "Drafting", Keeper)
        patch.setenv("XDG_CONFIG_HOME", str(folder / "config"))
        (folder / "gorge.toml").write_text(TEXT)
        with closing(Page(None, plans=Places(here=folder, under=folder / "outings"))) as page:
            yield Browser.let_in(page, attached=False)


def _answered(browser: Browser, method: str, path: str, body: str, queried: str) -> int:
    address = f"{path}?{quote(queried, errors='replace')}" if queried else path
    headers = {**browser.own(), "X-Tether-Token": browser.token} if method == "POST" else {}
    return _status(browser, method, address, body.encode(errors="replace").decode(), headers)


def _status(browser: Browser, method: str, address: str, body: str, headers: dict[str, str]) -> int:
    connection = http.client.HTTPConnection(*browser.page.at, timeout=20.0)
    with closing(connection), closing(browser._sent(connection, method, address, body, headers)) as response:
        response.read()
        return response.status


def _asked(browser: Browser, examples: int) -> None:
    @settings(max_examples=examples, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(st.sampled_from(GET), PARTS, TEXTS)
    def gets(path: str, part: str, queried: str) -> None:
        whole = path.format(quote(part, safe="%", errors="replace"))
        assert _answered(browser, "GET", whole, "", queried) < 500

    @settings(max_examples=examples, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(st.sampled_from(POST), BODIES)
    def posts(path: str, body: str) -> None:
        assert _answered(browser, "POST", path, body, "") < 500

    gets()
    posts()
    assert _answered(browser, "GET", "/evening/draft", "", "") == 200, "it goes on"


def test_what_is_sent_is_answered_or_refused(let_in: Browser) -> None:
    _asked(let_in, FEW)


@pytest.mark.prove
@pytest.mark.timeout(600)
def test_all_that_is_sent_is_answered_or_refused(let_in: Browser, tmp_path: Path) -> None:
    _asked(let_in, MANY)
