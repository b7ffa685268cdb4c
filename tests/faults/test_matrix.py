"""The fault matrix laid out: no cell twice, all that is promised is in it, each part of its order has every kind."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

import pytest

from tests.faults.cells import Cell, cells
from tests.faults.harness import FACES, SENT, TARGETS
from tests.faults.matrix import by_turns
from tests.faults.troubles import TROUBLES


@pytest.fixture(scope="module")
def laid_out() -> list[Cell]:
    return cells()


def test_every_cell_has_a_name_of_its_own(laid_out: list[Cell]) -> None:
    assert [name for name, count in Counter(cell.name for cell in laid_out).items() if count > 1] == []


def test_processes_are_struck_alone_by_twos_and_all_by_every_signal(laid_out: list[Cell]) -> None:
    names = {cell.name for cell in laid_out}
    processes = (*TARGETS, *FACES)
    for sent in SENT:
        together = [*combinations(processes, 2), processes]
        moments = ["fetching" if "analysis" in targets else "early open" for targets in together]
        struck = {f"{sent} {' and '.join(targets)}, {at}" for targets, at in zip(together, moments, strict=True)}
        assert struck <= names
        for one in processes:
            assert any(name.startswith(f"{sent} {one}, ") for name in names)


def test_every_trouble_of_the_wire_is_met_in_both_dialects(laid_out: list[Cell]) -> None:
    names = {cell.name for cell in laid_out}
    assert {f"{name} ({dialect})" for name in TROUBLES for dialect in ("eos", "nikon")} <= names


def test_what_is_cut_off_at_the_end_leaves_some_of_every_kind(laid_out: list[Cell]) -> None:
    ordered = by_turns(laid_out)
    assert Counter(cell.name for cell in ordered) == Counter(cell.name for cell in laid_out)
    kinds = {cell.kind for cell in laid_out}
    half = Counter(cell.kind for cell in ordered[: len(ordered) // 2])
    whole = Counter(cell.kind for cell in laid_out)
    assert all(0.4 <= half[kind] / whole[kind] <= 0.65 for kind in kinds)
