"""What the tests of the page share: a run, the page's server, a browser that was let in; and quick looks for runs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.page.rig import Browser, FakeRun, Page
from tether.control import attachment
from tether.page import feed as feed_module
from tether.page import power


@pytest.fixture(scope="module", autouse=True)
def _quick() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(attachment, "LOOKS_EVERY_S", 0.05)
        patch.setattr(attachment, "KNOCKS_EVERY_S", 0.1)
        patch.setattr(feed_module, "SILENT_S", 0.15)
        patch.setattr(feed_module, "BEAT_S", 0.1)
        yield


@pytest.fixture(scope="session", autouse=True)
def logind() -> Iterator[list[str]]:
    """Stand in for the login manager, whatever is tested: no test shuts a computer down. Yields what it was asked."""
    asked: list[str] = []

    def ask(method: str, _signature: str, _values: tuple[Any, ...]) -> tuple[str]:
        asked.append(method)
        return ("yes",)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(power, "ask_logind", ask)
        yield asked


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("outings") / "weir"
    for part in ("frames", "previews"):
        (folder / part).mkdir(parents=True)
    return folder


@pytest.fixture(scope="module")
def run(outing: Path) -> Iterator[FakeRun]:
    with closing(FakeRun(outing)) as run:
        yield run


@pytest.fixture(scope="module")
def page(run: FakeRun) -> Iterator[Page]:
    with closing(Page(run.outing)) as page:
        yield page


@pytest.fixture
def browser(page: Page) -> Browser:
    return Browser.let_in(page)
