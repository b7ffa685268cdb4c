"""Whether files have changed since they were read."""

from __future__ import annotations

from pathlib import Path

from tether.page.stands import stands_of


def test_a_file_that_came_or_grew_is_told_from_one_that_stands(tmp_path: Path) -> None:
    before = stands_of(tmp_path, "a", "b")
    assert before == (None, None)
    (tmp_path / "a").write_text("one")
    came = stands_of(tmp_path, "a", "b")
    assert came != before
    assert came == stands_of(tmp_path, "a", "b")
    (tmp_path / "a").write_text("one more")
    assert stands_of(tmp_path, "a", "b") != came
