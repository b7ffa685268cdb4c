"""The desk looks and listens more often than it needs to, so that the tests do not wait for it."""

from __future__ import annotations

import pytest

from tether.desk import link


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(link, "HEARS_FOR_S", 0.01)
    monkeypatch.setattr(link, "LOOKS_EVERY_S", 0.02)
