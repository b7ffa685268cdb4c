"""Black levels of a DNG file by place, with their fractions, from where its active area begins."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile

from tests.files.conftest import SENSOR, SHOT, Written
from tether.files import dng
from tether.files.blacks import dng_blacks
from tether.files.dng import write_dng
from tether.files.raw import read_raw


def with_tags(written: Written, path: Path, *tags: tuple[int, int, int, object]) -> Path:
    """Write the frame again with other tags of its levels."""
    with pytest.MonkeyPatch.context() as patch:
        plain = dng._mosaic_tags(SENSOR)
        kept = [one for one in plain if one[0] not in {tag[0] for tag in tags}]
        patch.setattr(dng, "_mosaic_tags", lambda _sensor: [*kept, *((*one, True) for one in tags)])
        write_dng(path, written.raw, shot=SHOT, sensor=SENSOR, preview=written.preview)
    return path


@pytest.mark.parametrize(
    ("active", "first", "blacks"),
    [
        (None, "RGGB", (500.5, 510.25, 520.75, 530.0)),
        ((0, 0, 128, 192), "RGGB", (500.5, 510.25, 520.75, 530.0)),
        # LibRaw begins at the next even row or column, a pixel into the active area.
        ((1, 0, 127, 192), "GBRG", (520.75, 530.0, 500.5, 510.25)),
        ((1, 1, 127, 191), "BGGR", (530.0, 520.75, 510.25, 500.5)),
    ],
)
def test_black_levels_by_place_keep_their_fractions_and_go_with_the_active_area(
    written: Written,
    tmp_path: Path,
    active: tuple[int, int, int, int] | None,
    first: str,
    blacks: tuple[float, float, float, float],
) -> None:
    area = [(50829, 4, 4, active)] if active else []
    quarters = (2002, 4, 2041, 4, 2083, 4, 2120, 4)
    path = with_tags(written, tmp_path / "b.dng", (50713, 3, 2, (2, 2)), (50714, 5, 4, quarters), *area)
    frame = read_raw(path)
    assert (frame.pattern, frame.black) == (first, blacks)
    top = 0 if active is None else active[0] + active[0] % 2
    left = 0 if active is None else active[1] + active[1] % 2
    assert frame.mosaic[0, 0] == written.raw[top, left]


def test_black_levels_that_differ_from_row_to_row_are_taken(written: Written, tmp_path: Path) -> None:
    rows = tuple(part for row in range(128) for part in (8 * (row % 2), 1))
    path = with_tags(written, tmp_path / "rows.dng", (50716, 10, 128, rows))
    assert read_raw(path).black == (512.0, 512.0, 520.0, 520.0)


def test_levels_by_column_go_with_the_column_they_are_of(written: Written, tmp_path: Path) -> None:
    columns = tuple(part for column in range(192) for part in (3 * (column % 2), 2))
    path = with_tags(written, tmp_path / "columns.dng", (50715, 10, 192, columns))
    assert dng_blacks(path, 0, 0) == (512.0, 513.5, 512.0, 513.5)
    assert dng_blacks(path, 0, 1) == (513.5, 512.0, 513.5, 512.0)


def test_of_what_is_no_dng_or_damaged_nothing_is_known(tmp_path: Path) -> None:
    plain, damaged = tmp_path / "plain.tif", tmp_path / "damaged.dng"
    tifffile.imwrite(plain, np.zeros((8, 8), dtype=np.uint16))
    damaged.write_bytes(b"II*\0\x08\0\0\0" + b"\xff" * 500)
    assert [dng_blacks(path, 0, 0) for path in (plain, damaged, tmp_path / "gone")] == [None] * 3
