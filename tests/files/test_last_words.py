"""Last words are added to, each start with its moment."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from tether.files.last_words import MARK, log_of


def test_what_was_said_before_stays_and_each_start_is_dated(tmp_path: Path) -> None:
    path = tmp_path / "words.log"
    for what in ("the first starts", "the second\x1b[2J\udcff starts"):
        with log_of(path, what) as log:
            log.write(b"its last words\n")
    lines = path.read_text().splitlines()
    assert lines[1] == lines[3] == "its last words"
    assert lines[0].endswith("  the first starts")
    assert lines[2].endswith("  the second?[2J? starts")
    moments = [datetime.strptime(line.removeprefix(MARK)[:25], "%Y-%m-%d %H:%M:%S %z") for line in lines[::2]]
    assert moments[0] <= moments[1]
