"""What became of frames, rungs and ladders, in the words that all faces share."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import reduce

import pytest

from tests.journal.planned import a_ladder
from tests.journal.shown import differs, exposed, home, ladder_ended, readings, rung_ended, turn
from tests.plan.plans import BASE, TEN, ladder_of
from tether.journal.records import (
    CopyOutcome,
    FrameKind,
    FrameOpened,
    FrameRead,
    FrameSoFar,
    KeyTurn,
    LadderBegun,
    Record,
    RunFailed,
    RungBegun,
    SuppliesSeen,
)
from tether.journal.snapshot import Snapshot, after
from tether.plan.as_json import planned_of
from tether.report.told import (
    asks_for_filters,
    ladder_outcome,
    light,
    light_seen,
    line_of,
    next_while_open,
    says,
    second_copy,
    supplies,
    waiting_costs,
)


@pytest.mark.parametrize(
    ("record", "line"),
    [
        (RungBegun(rung=2, label="1/8 s", frames=1), "Rung 2 of 9: 1/8 s"),
        (RungBegun(rung=2, label="1/8 s", frames=3), "Rung 2 of 9: 1/8 s, 3 frames"),
        (turn(3, "fit Calder 6", "rung 3 is taken through it"), "YOUR TURN: fit Calder 6 (rung 3 is taken through it)"),
        (turn(3, "fit Calder 6", "x", "answered"), "fit Calder 6: answered"),
        (
            KeyTurn(rung=3, state="asked"),
            "YOUR TURN: press when the moment comes (this rung is taken on your key)",
        ),
        (KeyTurn(rung=3, state="left"), "press when the moment comes: left"),
        (exposed(4), "Frame 4: made"),
        (exposed(4, kind="proof"), "Test frame 4: made"),
        (exposed(4, None, kind="base", outcome="failed"), "Base frame 4: failed"),
        (exposed(4, held_s=124.3), "Frame 4: made, bulb 124.30 s"),
        (replace(exposed(4), note="It was late."), "Frame 4: made (It was late.)"),
        (home(4, "weir_L1_R01.dng"), "Copied: weir_L1_R01.dng"),
        (replace(home(4, "x"), name=None, problem="It is cut short."), None),
        (FrameRead(frame=4, readings=readings(headroom_stops=0.84)), "Frame 4 says: headroom 0.8 stops"),
        (rung_ended(3, "done in part", "why"), "Rung 3: done in part (why)"),
        (rung_ended(3), "Rung 3: done"),
        (ladder_ended(), "The ladder has ended: done."),
        (
            ladder_ended("failed", "It is gone."),
            "The ladder has ended: failed, 0 of 9 rungs are done. It is gone.",
        ),
        (
            RunFailed(ladder=1, text="It is gone.", trouble="lost"),
            "The ladder has ended: failed, 0 of 9 rungs are done. It is gone.",
        ),
        (differs(4), None),
    ],
)
def test_a_record_is_told_in_a_line_or_not_at_all(record: Record, line: str | None) -> None:
    assert (
        line_of(
            record,
            after(Snapshot(), LadderBegun(planned=a_ladder(rungs=[{"rung": number} for number in range(1, 10)]))),
        )
        == line
    )


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        ("done", "done"),
        ("stopped after a frame", "stopped, 2 of 13 rungs are done"),
        ("closed and kept", "stopped at once, 2 of 13 rungs are done"),
        ("dropped", "left at once, 2 of 13 rungs are done"),
        ("done in part", "done in part, 2 of 13 rungs are done"),
    ],
)
def test_a_ladder_that_was_stopped_says_how_many_of_its_rungs_are_done(outcome: str, words: str) -> None:
    """One was skipped and one stopped: neither is done."""
    ended = [rung_ended(1), rung_ended(2, "done, differs"), rung_ended(3, "skipped"), rung_ended(4, "stopped")]
    assert ladder_outcome(outcome, ended, 13) == words
    assert ladder_outcome(outcome, ended, 0) == words.partition(",")[0], "nothing is made up where it is not known"


def test_what_a_frame_says_is_told_by_name_as_far_as_it_was_read() -> None:
    """Three to the right and four down are five; what is lost of sharpness is a minus."""
    whole = readings(
        headroom_stops=None, clipped_share=0.024, water=(0.5, 0.0), off_stops=-0.07, moved=(3.0, 4.0), lost=0.2
    )
    assert says(whole) == [
        ("headroom", "2.4% clipped"),
        ("headroom of the water", "0.5 stops"),
        ("rock", "-0.07 stop"),
        ("moved", "5.0 px"),
        ("sharp", "-20%"),
    ]
    assert says(readings(headroom_stops=None)) == [("headroom", "– stops")]
    clipped = replace(readings(off_stops=-0.19), rock_clipped=True)
    assert (says(clipped)[1:], clipped.off_stops) == ([("rock", "clipped")], None)
    assert says(readings(moved=(0.0, 0.0), lost=0.004))[-1] == ("sharp", "+0%"), "no minus nothing"


def seen(**changes: object) -> SuppliesSeen:
    nothing = dict.fromkeys(["battery", "card_frames", "temperature_c", "disk_bytes", "disk_frames"])
    return SuppliesSeen(**({**nothing, "to_come": 10} | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("supply", "parts"),
    [
        (seen(), []),
        (seen(battery=0.2), [("battery 20%", False)]),
        (seen(battery=0.19), [("battery 19%", True)]),
        (seen(battery_low=True), [("battery low", True)]),
        (seen(card_frames=10), [("card 10 frames", False)]),
        (seen(card_frames=9), [("card 9 frames, 10 to come", True)]),
        (seen(disk_bytes=12_340_000_000), [("disk 12.3 GB", False)]),
        (seen(disk_bytes=300_000_000, disk_frames=9), [("disk 0.3 GB, 10 to come", True)]),
    ],
)
def test_what_is_left_is_low_under_a_fifth_or_under_what_is_to_come(
    supply: SuppliesSeen, parts: list[tuple[str, bool]]
) -> None:
    assert supplies(supply) == parts
    assert supplies(None) == []


def test_how_far_the_second_copy_is_is_told_and_that_it_is_in_trouble() -> None:
    assert second_copy(Snapshot()) == []
    fine = CopyOutcome(name="frames/a.dng", copied=3, home=4)
    assert second_copy(after(Snapshot(), fine)) == [("second copy 3 of 4", False)]
    stopped = replace(fine, problem="The disk is full.")
    assert second_copy(after(Snapshot(), stopped)) == [("second copy stopped at 3 of 4", True)]


def test_the_light_is_that_of_frames_without_filters_the_latest_first() -> None:
    """Rung 1 is bare but for what is always on; rung 2 has a filter more, and tests tell of glass."""
    rungs = [{"rung": 1, "filters": ["Polariser"]}, {"rung": 2, "filters": ["Polariser", "Calder 6"]}]
    always = [{"name": "Polariser", "kind": "always on", "stops": 1.5}]
    snapshot = after(Snapshot(), LadderBegun(planned=a_ladder(rungs=rungs, base={"filters": always})))
    frames: list[tuple[int | None, FrameKind, float | None]] = [
        (None, "base", 0.0),
        (1, "rung", -0.1),
        (2, "proof", -9.0),
        (2, "rung", -9.0),
        (1, "rung", None),
        (1, "rung", -0.3),
    ]
    for number, (rung, kind, off_stops) in enumerate(frames, 1):
        snapshot = after(snapshot, exposed(number, rung, kind))
        snapshot = after(snapshot, FrameRead(frame=number, readings=readings(off_stops=off_stops)))
    assert light_seen(snapshot) == [(6, -0.3, None), (2, -0.1, None), (1, 0.0, None)]
    assert light_seen(Snapshot()) == []


def test_a_rung_as_it_is_planned_is_bare_where_only_what_is_always_on_is_on() -> None:
    """A ladder names what is fitted for its rungs, and what is always on beside its base."""
    polariser = '[[filter]]\nname = "Polariser"\nkind = "always on"\nstops = 1.5\n'
    ladder = planned_of(ladder_of(BASE + '[rungs]\ntimes = ["1/125", "1"]\n' + polariser + TEN))
    told: list[Record] = [LadderBegun(planned=ladder)]
    for frame, rung in ((1, 1), (2, 2)):
        told += [exposed(frame, rung, "rung"), FrameRead(frame=frame, readings=readings(off_stops=-0.2))]
    assert light_seen(reduce(after, told, Snapshot())) == [(1, -0.2, None)]


@pytest.mark.parametrize(
    ("passed", "ago"),
    [
        (timedelta(seconds=-5), ""),
        (timedelta(seconds=119), ""),
        (timedelta(seconds=120), ", measured 2 min ago"),
        (timedelta(minutes=16), ", measured 16 min ago"),
        (timedelta(hours=5, minutes=2), ", measured 5 h 02 min ago"),
        (None, ""),
    ],
    ids=str,
)
def test_light_that_was_measured_two_minutes_ago_or_longer_says_so(passed: timedelta | None, ago: str) -> None:
    closed = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
    begun = after(Snapshot(), LadderBegun(planned=a_ladder(rungs=[{"rung": 1}])))
    made = after(begun, replace(exposed(5, None, "base"), closed_utc=closed.isoformat()))
    told = after(made, FrameRead(frame=5, readings=readings(off_stops=-0.4)))
    now = passed if passed is None else closed + passed
    assert light(told, now) == f"Light{ago}: -0.40 stop against the base, by frame 5 (no filter)"
    assert light(made, now) == "", "nothing has told of it"


def test_a_frame_of_which_it_is_not_kept_when_it_was_made_tells_the_light_without_its_age() -> None:
    frame = FrameSoFar(frame=5, kind="base", outcome="made", says=readings(off_stops=-0.4))
    told = after(Snapshot(), LadderBegun(planned=a_ladder(rungs=[{"rung": 1}]), frames=(frame,)))
    assert light(told, datetime.now(UTC)).endswith("by frame 5 (no filter)")


@pytest.mark.parametrize(
    ("goes", "said"),
    [
        (None, ""),
        (0.004, "No hurry: the light is steady."),
        (-0.1, "No hurry: the light falls by 0.1 stop a minute."),
        (-0.04, "No hurry: the light falls by 0.04 stop a minute."),
        (0.12, "No hurry: the light rises by 0.1 stop a minute."),
        (-0.4, "Waiting costs light: it falls by 0.4 stop a minute."),
    ],
)
def test_what_waiting_costs_is_said_by_the_light_as_measured(goes: float | None, said: str) -> None:
    assert waiting_costs(replace(turn(2, "fit Calder 6", "it is due"), light_stops_per_min=goes)) == said


def test_what_waiting_costs_is_said_to_be_by_the_sun_where_no_frame_tells_it() -> None:
    asked = replace(turn(2, "fit Calder 6", "it is due"), light_by_sun=True)
    said = [waiting_costs(replace(asked, light_stops_per_min=goes)) for goes in (None, 0.004, -0.1, -0.2)]
    assert said == [
        "",
        "No hurry: by the sun the light is steady.",
        "No hurry: by the sun the light falls by 0.1 stop a minute.",
        "Waiting costs light: by the sun it falls by 0.2 stop a minute.",
    ]


def open_frame(kind: str = "rung") -> FrameOpened:
    return FrameOpened(frame=9, rung=1, kind=kind, way="held", open_s=4.0, at_ns=0, closes_at_ns=4)


def test_what_comes_as_soon_as_the_open_frame_is_over_is_told_when_it_is_the_last_of_its_rung() -> None:
    turns = [
        {"before_rung": 5, "what": "take off Calder 6"},
        {"before_rung": 5, "what": "fit Calder 10"},
        {"before_rung": None, "what": "put the cap on"},
    ]
    ladder = a_ladder(rungs=[{"rung": 1}, {"rung": 5}], turns=turns)
    begun = after(Snapshot(), LadderBegun(planned=ladder))
    first = after(begun, RungBegun(rung=1, label="1 s", frames=2))
    assert next_while_open(after(first, open_frame())) == "", "one more frame of this rung follows"
    last = after(first, exposed(8, 1))
    assert next_while_open(last) == "", "no frame is open"
    assert next_while_open(after(last, open_frame())) == "take off Calder 6, then fit Calder 10"
    assert next_while_open(after(last, open_frame("proof"))) == ""
    at_the_end = after(begun, RungBegun(rung=5, label="1 s", frames=1))
    assert next_while_open(after(at_the_end, open_frame())) == "put the cap on"


def test_a_filter_whose_name_sounds_like_it_is_not_asked_for_where_it_comes_off() -> None:
    asked = replace(turn(2, "take off Benefit 6, fit Calder 6", ""), fitted=["Calder 6"])
    assert asks_for_filters(asked)
    assert not asks_for_filters(replace(asked, what="take off Benefit 6", fitted=["Calder 10"]))
