"""Errors by what the person must do: their exit codes, and how they come back from a pipe or the journal."""

from __future__ import annotations

import errno

import pytest

from tether.errors import (
    BusyError,
    CameraError,
    LostError,
    PlanError,
    SupplyError,
    TetherError,
    error_of,
    exit_code_of,
    system_reason,
)


@pytest.mark.parametrize(
    ("kind", "error", "code"),
    [
        ("plan", PlanError, 2),
        ("camera", CameraError, 3),
        ("supply", SupplyError, 3),
        ("busy", BusyError, 3),
        ("lost", LostError, 4),
    ],
)
def test_each_kind_has_its_exit_code_and_comes_back_as_it_was(kind: str, error: type[TetherError], code: int) -> None:
    """2: mend what was written; 3: see to the camera; 4: nothing more can be done (README)."""
    assert (error.kind, error.exit_code, exit_code_of(kind)) == (kind, code, code)
    back = error_of(kind, ["One.", "Two."])
    assert type(back) is error
    assert back.sentences == ("One.", "Two.")


@pytest.mark.parametrize("kind", ["", "of a later release", "error"])
def test_a_kind_that_is_not_known_counts_as_given_up(kind: str) -> None:
    assert type(error_of(kind, ["One."])) is LostError
    assert exit_code_of(kind) == exit_code_of(None) == 4


def test_every_sentence_stands_on_a_line_of_its_own() -> None:
    assert str(PlanError("One.", "Two.")) == "One.\nTwo."


def test_a_reason_without_a_number_is_in_its_own_words_and_without_a_name() -> None:
    assert system_reason(OSError("Went Away")) == "went away"
    assert system_reason(FileNotFoundError(errno.ENOENT, "x", "/secret/path")) == "no such file or directory"
