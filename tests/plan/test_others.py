"""Other ways to make a rung: what each is beside the one chosen, and what it would cost."""

from __future__ import annotations

from tests.plan.plans import (
    BASE,
    SIX,
    TEN,
    THREE,
    ladder_of,
)


def test_other_ways_are_paid_with_something_else() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["1/500", "0.5", "4m"]\n' + THREE + SIX + TEN, others=5)
    for rung in ladder.rungs:
        kinds = [one.kind for one in rung.others]
        assert kinds
        assert len(set(kinds)) == len(kinds)
        for one in rung.others:
            assert one.words.startswith(f"{one.kind}: ")
            assert "ISO" in one.words
            assert "f/" in one.words
            if "deeper" in one.kind:
                assert one.choice.aperture.exact > rung.choice.aperture.exact * 1.3
            if "cleaner" in one.kind:
                assert one.choice.iso.exact < rung.choice.iso.exact / 1.8
    many = ladder.rungs[-1].others[-1]
    assert many.kind == "many short ones", "last, and by name"
    assert many.words.endswith('taken only with rungs.many = "use"'), "habit is not why"
    assert "NEQ" not in str([rung.costs for rung in ladder.rungs])


def test_a_rung_says_what_it_costs_and_the_next_best_way() -> None:
    """Two stops faster than f/11: f/8 and ISO 200 cost 1.14, f/5.6 would cost 0.86, but a stop comes first."""
    text = '[base]\ntime = "1/60"\naperture = "f/11"\niso = 100\n[rungs]\ntimes = ["1/250"]\n'
    (rung,) = ladder_of(text, others=1).rungs
    assert rung.costs.startswith("Costs 1.15 stops (noise 1.00, blur at the edges of the depth 0.15).")
    assert "Next best, cleaner and wider open: 1/250 s, f/5.6, ISO 100, no filter: costs 0.87 stop" in rung.costs
    assert rung.costs.endswith("not taken: common practice goes before cost.")


def test_a_way_that_spares_touches_says_so() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["0.5", "2:08", "4:16"]\n' + THREE + SIX + TEN, others=9)
    words = " ".join(one.words for rung in ladder.rungs for one in rung.others)
    assert "touches -" not in words
    assert "filter changes saved -0.60" in words
