"""What the operating system reports of the disk, in sentences that say what to do."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from tether.errors import LostError, PlanError, SupplyError, TetherError
from tether.files.errors import disk_sentences

PATH = Path("/far/away/log.csv")


def said(error: OSError) -> TetherError:
    with pytest.raises(TetherError) as caught, disk_sentences(PATH):
        raise error
    assert caught.value.__cause__ is error
    return caught.value


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT])
def test_a_full_disk_is_a_thing_to_be_freed(code: int) -> None:
    full = said(OSError(code, "x"))
    assert isinstance(full, SupplyError)
    assert str(full) == f"The disk is full: {PATH} could not be written. Free some space on it, then go on."


@pytest.mark.parametrize(
    ("code", "reason"),
    [
        (errno.EACCES, "permission denied"),
        (errno.EPERM, "operation not permitted"),
        (errno.EROFS, "read-only file system"),
        (errno.ENOENT, "no such file or directory"),
        (errno.ENOTDIR, "not a directory"),
    ],
)
def test_a_folder_that_will_not_do_is_another_to_be_chosen(code: int, reason: str) -> None:
    refused = said(OSError(code, "x"))
    assert isinstance(refused, PlanError)
    assert str(refused) == (
        f"{PATH} could not be written ({reason}). Choose a folder that exists and may be written to."
    )


def test_anything_else_is_passed_on_as_the_disk_reports_it() -> None:
    lost = said(OSError(errno.EIO, "x"))
    assert isinstance(lost, LostError)
    assert str(lost) == f"{PATH} could not be written: the disk reports “input/output error”."


def test_what_is_no_trouble_of_the_disk_is_left_as_it_is() -> None:
    with pytest.raises(ValueError, match="mine"), disk_sentences(PATH):
        raise ValueError("mine")
    with disk_sentences(PATH):
        pass
