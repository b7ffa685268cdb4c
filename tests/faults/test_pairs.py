"""The covering array: every pair is in it, and it is far smaller than all combinations."""

from __future__ import annotations

from tests.faults.cells import ON_THE_WIRE
from tests.faults.pairs import all_pairs, covering, pairs_of


def test_every_two_values_come_together_in_a_row() -> None:
    rows = covering(ON_THE_WIRE)
    assert {pair for row in rows for pair in pairs_of(row)} >= set(all_pairs(ON_THE_WIRE))
    assert all(row[name] in values for row in rows for name, values in ON_THE_WIRE.items())
    assert covering(ON_THE_WIRE) == rows, "the same each time"


def test_three_factors_of_two_values_need_four_rows() -> None:
    """The orthogonal array L4(2^3): four rows are the fewest that cover its twelve pairs."""
    rows = covering({"a": "01", "b": "01", "c": "01"})
    assert len(all_pairs({"a": "01", "b": "01", "c": "01"})) == 12
    assert len(rows) == 4
