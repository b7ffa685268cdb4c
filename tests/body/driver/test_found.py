"""What a body was found set to: the first session's texts count, until they are forgotten."""

from __future__ import annotations

from pathlib import Path

import pytest

from tether.body.driver.found import NAME, forget, keep, kept
from tether.errors import TetherError


def test_what_the_first_session_found_counts(tmp_path: Path) -> None:
    assert kept(tmp_path) == {}
    keep(tmp_path, {"iso": "200", "lens": "fünfzig"})
    keep(tmp_path, {"iso": "100"})
    assert kept(tmp_path) == {"iso": "200", "lens": "fünfzig"}


def test_after_it_is_forgotten_another_may_find_something_else(tmp_path: Path) -> None:
    keep(tmp_path, {"iso": "200"})
    forget(tmp_path)
    forget(tmp_path)
    assert kept(tmp_path) == {}
    keep(tmp_path, {"iso": "100"})
    assert kept(tmp_path) == {"iso": "100"}


@pytest.mark.parametrize("content", [b"", b'{"iso": ', b"\xff\xfe", b'["iso"]', b"3"])
def test_what_can_not_be_read_is_nothing_to_put_back(tmp_path: Path, content: bytes) -> None:
    (tmp_path / NAME).write_bytes(content)
    assert kept(tmp_path) == {}


def test_where_it_can_not_be_kept_the_place_is_said(tmp_path: Path) -> None:
    with pytest.raises(TetherError, match=NAME):
        keep(tmp_path / "gone", {"iso": "200"})
