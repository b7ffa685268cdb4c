"""The desk looks and listens more often than it needs to, so that the tests do not wait for it."""

from __future__ import annotations

import pytest

from tether.control import attachment


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(attachment, "HEARS_FOR_S", 0.01)
    monkeypatch.setattr(attachment, "LOOKS_EVERY_S", 0.02)
