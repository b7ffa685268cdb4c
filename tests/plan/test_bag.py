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
    assert "A six-stop filter would make rungs 1 to 3 at ISO 100." in ladder.notes
    helped = ladder_of(text + SIX)
    assert all(rung.choice.iso.exact == 100 for rung in helped.rungs)


def said(times: str, more: str = "") -> list[str]:
    return [one for one in ladder_of(f"{BASE}[rungs]\ntimes = {times}\n{more}").notes if "stop filter would" in one]


def test_one_rung_is_spoken_of_as_one() -> None:
    """Five stops slower: three more at f/16, or six with f/5.6, which is nearer to the base's f/8."""
    assert said('["1/4"]', TEN) == ["A six-stop filter would make rung 1 at ISO 100."]


def test_nothing_is_said_where_no_slower_rung_raises_iso() -> None:
    assert said('["1/60"]') == []
    assert said('["1/2000"]', "[limits]\naperture_stops = 1.0\n") == [], "a faster one has no use for a filter"
