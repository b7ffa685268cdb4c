"""What resuming needs of a ladder: what is done, what is good, what is still on the card, and what is on the lens."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tests.journal.outings import applied, as_entries, frame_begun, frame_exposed, ladder_started, run_started
from tests.journal.shown import differs, home, readings
from tether.journal.history import LadderHistory, known_files, ladder_history
from tether.journal.records import (
    CardListed,
    ExifRead,
    ExposeIntent,
    ExposeOutcome,
    FetchIntent,
    FetchOutcome,
    FrameKind,
    FrameOutcome,
    FrameRead,
    Record,
    RegionsSet,
    RungEnded,
    RungOutcome,
    Steered,
    Turn,
    TurnState,
)

TWO = applied(2.0, "2")


def known(*records: Record, ladder: int = 1) -> LadderHistory:
    found = ladder_history(as_entries([run_started(), ladder_started(), *records]), ladder)
    assert found is not None
    return found


def begun(
    number: int,
    rung: int | None = 1,
    kind: FrameKind = "rung",
    filters: tuple[str, ...] = ("Calder 10",),
    way: str = "held",
) -> ExposeIntent:
    (intent,) = (
        one
        for one in frame_begun(number, rung, TWO, kind=kind, way=way, filters=filters)
        if isinstance(one, ExposeIntent)
    )
    return intent


def over(number: int, outcome: FrameOutcome = "made") -> ExposeOutcome:
    return frame_exposed(number, 2.0, outcome=outcome)


def test_of_a_ladder_that_was_never_begun_nothing_is_known() -> None:
    assert ladder_history(as_entries([run_started(), ladder_started()]), 2) is None


def test_what_is_of_another_ladder_is_not_this_ones() -> None:
    other = replace(begun(1), ladder=2)
    assert known(other, over(1), home(1, "1.dng")).made == {}


# Good frames


@pytest.mark.parametrize(
    ("records", "good"),
    [
        ([over(1), home(1, "1.dng")], True),
        ([over(1, "made, differs"), home(1, "1.dng")], True),  # its Exif tells
        ([over(1, "closed early"), home(1, "1.dng"), differs(1)], True),
        ([over(1), home(1, "1.dng"), differs(1, "its ISO is 200, not 100")], False),
        ([over(1)], False),
        ([over(1, "lost"), home(1, "1.dng")], False),
        ([home(1, "1.dng")], False),  # no run saw its end
        ([over(1, "lost"), home(1, "1.dng"), over(1)], True),  # the last word counts
    ],
)
def test_a_frame_is_good_that_was_made_is_home_and_as_asked(records: list[Record], good: bool) -> None:
    assert known(begun(1), *records).made == ({1: 1} if good else {})


@pytest.mark.parametrize(
    ("verb", "held_s", "good"),
    [
        ("stop now and keep", 0.3, False),
        ("stop now and keep", 1.9, True),  # a fourteenth of a stop: as good as whole
        ("close and keep", 0.3, True),
        ("next", 0.3, True),
    ],
)
def test_a_frame_that_a_stop_cut_short_is_kept_and_does_not_count_when_the_ladder_goes_on(
    verb: str, held_s: float, good: bool
) -> None:
    said = Steered(verb=verb, effect="closes now")
    cut = replace(over(1, "closed early"), held_s=held_s)
    assert known(begun(1), said, cut, home(1, "1.dng")).made == ({1: 1} if good else {})


def test_a_stop_cuts_nothing_short_in_the_run_after_it() -> None:
    said = Steered(verb="stop now and keep", effect="ends the run")
    again = replace(over(1, "closed early"), held_s=0.3)
    assert known(said, run_started(), begun(1), again, home(1, "1.dng")).made == {1: 1}


def test_good_frames_are_counted_by_what_they_are() -> None:
    kinds: list[tuple[int | None, FrameKind, tuple[str, ...]]] = [
        (None, "base", ()),
        (1, "rung", ()),
        (2, "proof", ()),  # told without glass: not the rung's test
        (3, "proof", ("Calder 10",)),
        (3, "rung", ("Calder 10",)),
        (3, "rung", ("Calder 10",)),
        (None, "dark", ()),
    ]
    records: list[Record] = []
    for number, (rung, kind, filters) in enumerate(kinds, 1):
        records += [begun(number, rung, kind, filters), over(number), home(number, f"{number}.dng")]
    found = known(*records)
    assert (found.bases, found.made, found.proofs, found.darks) == (1, {1: 1, 3: 2}, frozenset({3}), 1)


@pytest.mark.parametrize(
    ("outcome", "done"), [("done", True), ("done, differs", True), ("skipped", True), ("done in part", False)]
)
def test_a_rung_that_is_settled_is_not_worked_again(outcome: RungOutcome, done: bool) -> None:
    assert known(RungEnded(ladder=1, rung=4, outcome=outcome)).done == (frozenset({4}) if done else frozenset())


# What is open


def test_an_exposure_without_an_outcome_is_unfinished_and_one_without_a_file_still_to_come() -> None:
    found = known(begun(1), over(1), begun(2), over(2), home(2, "2.dng"), begun(3), over(3, "dropped"), begun(4))
    assert [one.frame for one in found.unfinished] == [4]
    assert [one.frame for one in found.fileless] == [1, 4], "what was dropped stays on the card"
    assert set(found.outcomes) == {1, 2, 3}


def test_a_frame_that_is_home_and_was_not_read_is_read_when_it_goes_on_but_no_dark_one() -> None:
    read = FrameRead(frame=2, readings=readings())
    records = [begun(number, kind=kind) for number, kind in ((1, "rung"), (2, "rung"), (3, "dark"))]  # type: ignore[arg-type]
    homes = [home(number, f"{number}.dng") for number in (1, 2, 3)]
    assert [(one.frame, name) for one, name in known(*records, *homes, read).unread] == [(1, "frames/1.dng")]


def test_a_file_beside_the_raw_one_is_not_the_frame() -> None:
    found = known(begun(1), home(1, "1.dng"), home(1, "1.jpg"))
    assert [name for _, name in found.unread] == ["frames/1.dng"]


# The person, and the lens


def turn(state: TurnState, fitted: list[str] | None = None, what: str = "fit Calder 6") -> Turn:
    return Turn(ladder=1, rung=2, what=what, reason="", state=state, fitted=fitted)


def test_the_last_answered_turn_about_filters_tells_what_is_on_the_lens() -> None:
    found = known(
        turn("answered", ["Calder 6"]),
        turn("asked", ["Calder 10"], what="fit Calder 10"),
        turn("answered for me", what="cover the finder"),
        turn("not done", [], what="take off Calder 6"),
    )
    assert found.fitted == ("Calder 6",)
    assert found.turns == {(2, "fit Calder 6"), (2, "cover the finder")}
    assert known().fitted == ()


def test_regions_are_those_that_were_set_last() -> None:
    first, last = (RegionsSet(ladder=1, source=source, cells=()) for source in ("proposed", "confirmed"))
    assert known(first, last).regions == last
    assert known().regions is None


# The body's clock, and how it writes a time


def test_frames_tell_how_far_the_bodys_clock_is_ahead() -> None:
    opened = datetime(2026, 10, 3, 16, 30, tzinfo=UTC)
    outcome = replace(over(1), opened_utc=opened.isoformat())
    taken = ExifRead(frame=1, exif=TWO, taken_at="2026-10-03T18:30:02")
    assert known(begun(1), outcome, taken).clock == ((opened.timestamp(), opened.timestamp() + 7202.0),)
    assert known(begun(1), outcome, replace(taken, taken_at=None)).clock == ()
    assert known(begun(1), replace(outcome, opened_utc=None), taken).clock == ()
    assert known(begun(1), outcome, replace(taken, differs=["it was open 1:40 min, not 2:08 min"])).clock == ()
    late = replace(outcome, open_called_ns=0, open_returned_ns=28_000_000_000)
    assert known(begun(1), late, taken).clock == (), "it may have opened 28 s after its command"


@pytest.mark.parametrize(
    ("way", "time_s", "fractions"), [("held", 2.4, True), ("held", 2.0, False), ("timed", 0.4, False)]
)
def test_a_fraction_in_the_exif_of_a_held_frame_tells_that_the_body_writes_them(
    way: str, time_s: float, fractions: bool
) -> None:
    read = ExifRead(frame=1, exif=applied(time_s, "x"), taken_at=None)
    assert known(begun(1, way=way), read).writes_fractions == fractions


# The card


def fetched(name: str, home_as: str | None) -> list[Record]:
    outcome = FetchOutcome(frame=1, card_name=name, name=home_as, size=None, sha256=None)
    return [FetchIntent(frame=1, folder="/b", name=name), outcome]


def test_what_was_there_before_or_is_home_is_no_new_frame() -> None:
    records = [
        CardListed(ladder=1, files=[["/a", "X.NEF"]]),
        *fetched("A.NEF", "frames/a.nef"),
        *fetched("B.NEF", None),
    ]
    assert known_files(as_entries(records)) == {("/a", "X.NEF"), ("/b", "A.NEF")}


def test_of_a_card_that_is_listed_anew_only_what_is_on_it_is_known() -> None:
    """Many bodies begin to number anew on an empty card: the same name is another frame then."""
    first: list[Record] = [CardListed(ladder=1, files=[["/a", "X.NEF"]]), *fetched("A.NEF", "frames/a.nef")]
    again: list[Record] = [CardListed(ladder=2, files=[["/b", "OLD.NEF"]])]
    assert known_files(as_entries(first + again)) == {("/b", "OLD.NEF")}
    assert known_files(as_entries(first + again + fetched("A.NEF", "frames/b.nef"))) == {
        ("/b", "OLD.NEF"),
        ("/b", "A.NEF"),
    }
