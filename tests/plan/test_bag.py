"""The one filter that would help."""

from __future__ import annotations

from tests.plan.plans import (
    BASE,
    SIX,
    TEN,
    ladder_of,
)


def test_what_in_the_bag_would_help_is_said() -> None:
    """1/8 to 0.5 s are four to six stops slower: ten stops are too many for them at base ISO, six are right for all."""
    text = BASE + '[rungs]\ntimes = ["1/8", "1/4", "0.5"]\n' + TEN
    ladder = ladder_of(text)
    assert all(rung.choice.iso.exact > 100 for rung in ladder.rungs)
    assert "A six-stop filter would make rungs 1 to 3 at ISO 100." in ladder.cautions
    helped = ladder_of(text + SIX)
    assert all(rung.choice.iso.exact == 100 for rung in helped.rungs)
