"""What a story says of its own: which rungs are settled, which frame comes next, which settings to believe."""

from __future__ import annotations

import pytest

from tests.journal.outings import (
    applied,
    frame,
    frame_begun,
    frame_exposed,
    frame_fetched,
    ladder_started,
    run_started,
    told,
    weir,
)
from tether.journal.records import (
    ApplyIntent,
    FetchIntent,
    FetchOutcome,
    Record,
    RungEnded,
)
from tether.journal.story import FrameStory


@pytest.mark.parametrize(
    ("outcome", "settled"),
    [
        ("done", True),
        ("done, differs", True),
        ("skipped", True),
        ("left out", False),
        ("done in part", False),
        ("failed", False),
        ("stopped", False),
        ("dropped", False),
    ],
)
def test_which_rungs_need_not_be_worked_again(outcome: str, settled: bool) -> None:
    ended = RungEnded(ladder=1, rung=4, outcome=outcome)  # type: ignore[arg-type]
    outing = told([run_started(), ladder_started(), ended])
    assert outing.rungs_done(1) == (frozenset({4}) if settled else frozenset())
    assert outing.rungs_done(2) == frozenset()


def test_the_last_word_on_a_rung_counts() -> None:
    first, last = RungEnded(ladder=1, rung=4, outcome="stopped"), RungEnded(ladder=1, rung=4, outcome="done")
    assert told([run_started(), ladder_started(), first, last]).rungs_done(1) == {4}


def test_the_next_frame_is_one_that_was_never_begun() -> None:
    assert told([]).next_frame == 1
    assert told(weir()).next_frame == 10
    exposed = frame_begun(12, 3, applied(2.0, "2"))
    assert told([*weir(), exposed[0]]).next_frame == 10, "what was set and not exposed leaves no gap in the numbers"
    assert told([*weir(), *exposed]).next_frame == 13


def test_open_intents_name_each_act_without_an_outcome() -> None:
    apply, fetch = ApplyIntent(frame=3, asked=applied(1.0, "1")), FetchIntent(frame=2, folder="/", name="B.DNG")
    fetched = FetchOutcome(frame=1, card_name="A.DNG", name=None, size=None, sha256=None, problem="It came short.")
    records: list[Record] = [run_started(), FetchIntent(frame=1, folder="/", name="A.DNG"), fetched, fetch, apply]
    assert told(records).open_intents == (fetch, apply)


class TestBelief:
    """Exif before read-back before what was sent; for a held frame our own clock, unless the Exif says otherwise."""

    def made(self, *more: Record, way: str = "timed", held_s: float | None = None) -> FrameStory:
        begun = frame_begun(1, 1, applied(32.0, "30"), way=way)
        return frame(told([run_started(), ladder_started(), *begun, frame_exposed(1, held_s), *more]), 1)

    def test_timed_without_exif(self) -> None:
        assert self.made().believed_open_s == 32.0

    def test_timed_with_exif(self) -> None:
        made = self.made(*frame_fetched(1, 1, applied(30.0, "30", 2**3.0, 200)))
        assert made.believed_open_s == 30.0
        assert (made.aperture, made.iso) == (8.0, 200)
        # f/11 to f/8 and ISO 100 to 200: a stop each; 30 s for 32 s: log2(30/32) = -0.0931 stop.
        assert made.difference_stops == pytest.approx(2 - 0.0931094, abs=1e-6)

    def test_held_with_exif_in_whole_seconds(self) -> None:
        made = self.made(*frame_fetched(1, 1, applied(33.0, "33")), way="held", held_s=32.4)
        assert made.believed_open_s == 32.4

    def test_held_with_an_exif_that_says_something_else(self) -> None:
        made = self.made(*frame_fetched(1, 1, applied(16.0, "16")), way="held", held_s=32.0)
        assert made.believed_open_s == 16.0
        assert made.difference_stops == pytest.approx(-1.0)

    def test_nothing_shows_that_it_was_open(self) -> None:
        begun = told([run_started(), ladder_started(), *frame_begun(1, 1, applied(32.0, "30"))])
        failed = told([run_started(), ladder_started(), *frame_begun(1, 1, applied(32.0, "30")),
                       frame_exposed(1, None, outcome="failed")])  # fmt: skip
        assert frame(begun, 1).difference_stops is None
        assert frame(failed, 1).difference_stops is None
