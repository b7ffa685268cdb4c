"""How long things took, read out of journals: each by hand, on a camera only, and nothing that would mislead."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from tests.engine.rig import BASE as RIG_BASE
from tests.engine.rig import SIX, TEN, work
from tests.journal.outings import START, frame_exposed, run_started, weir
from tests.journal.planned import a_ladder
from tests.plan.plans import HEAD
from tether.journal.codec import Entry
from tether.journal.records import (
    FetchIntent,
    FetchOutcome,
    LadderEnded,
    LadderStarted,
    Record,
    RunStarted,
    Steered,
    SuppliesSeen,
    Turn,
    TurnState,
)
from tether.journal.store import read_contents
from tether.outing.learning import cases_of

BASE = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1"]\n'
FILTERS = "".join(
    f'[[filter]]\nname = "{name}"\nstops = 3\nslot = {slot}\n' for name, slot in (("A", 0), ("B", 0), ("H", 1))
)
BODY = "Canon EOS R5"
Told = list[tuple[float, Record]]


def real_run() -> RunStarted:
    started = run_started()
    return replace(started, simulated=False, pace="1.0", camera=replace(started.camera, simulated=False))


def ladder(*, cold: bool = False, **planned: object) -> LadderStarted:
    """A ladder of 100 s by its forecast, on a camera."""
    given = {"body": {"name": BODY, "simulated": False, "tried": None}, "forecast_s": 100.0, "plan": "Weir", **planned}
    text = HEAD + f"[place]\ncold = {str(cold).lower()}\n" + BASE + FILTERS
    return LadderStarted(ladder=1, title="Weir", plan_text=text, planned=a_ladder(**given))


def entries(told: Iterable[tuple[float, Record]]) -> list[Entry]:
    """Records with the moment at which each was told [s]."""
    return [
        Entry(seq=seq, utc=START + timedelta(seconds=at_s), mono_ns=round(at_s * 1e9), record=record)
        for seq, (at_s, record) in enumerate(told, start=1)
    ]


def found(
    told: Told, *, run: RunStarted | None = None, begun: LadderStarted | None = None
) -> list[tuple[str, str, float]]:
    """What is learned of a run that begins a ladder at 0 s and of what is told then."""
    whole: Told = [(0.0, run or real_run()), (0.0, begun or ladder()), *told]
    return [(one.what, one.of, round(one.value, 6)) for one in cases_of(entries(whole), "mark")]


def turn(
    fitted: list[str] | None, *, state: TurnState = "answered", what: str = "change", rung: int | None = 1
) -> Turn:
    return Turn(ladder=1, rung=rung, what=what, reason="", state=state, fitted=fitted)


def task(asked_s: float, answered_s: float, fitted: list[str], state: TurnState = "answered") -> Told:
    return [(asked_s, turn(fitted, state="asked")), (answered_s, turn(fitted, state=state))]


# Filter changes


def test_a_filter_change_took_from_the_question_to_the_answer_by_how_it_was_touched() -> None:
    told = [*task(10, 51, ["A"]), *task(60, 78, []), *task(80, 92, ["H"])]
    assert found(told) == [
        ("filter change", "screwed", 41.0),
        ("filter change", "off", 18.0),
        ("filter change", "held", 12.0),
    ]


def test_pieces_that_were_touched_alike_share_the_time() -> None:
    assert found([*task(0, 90, ["A", "B"]), *task(100, 140, [])]) == [
        ("filter change", "screwed", 45.0),
        ("filter change", "off", 20.0),
    ]


def test_what_was_touched_in_two_ways_tells_of_neither() -> None:
    told = [*task(0, 41, ["A"]), *task(60, 200, ["B"]), *task(300, 320, [])]
    assert found(told) == [("filter change", "screwed", 41.0), ("filter change", "off", 20.0)]


def test_a_screwed_filter_behind_another_takes_both_in_the_hand() -> None:
    """To take A off from under B both come off and B goes on again: two ways, of which nothing is told."""
    assert found([*task(0, 80, ["A", "B"]), *task(100, 300, ["B"])]) == [("filter change", "screwed", 40.0)]


@pytest.mark.parametrize("state", ["answered beforehand", "answered for me", "not done", "nobody answered"])
def test_only_what_the_person_answered_tells(state: TurnState) -> None:
    assert found(task(0, 41, ["A"], state)) == []


def test_what_was_answered_beforehand_is_on_the_lens_all_the_same() -> None:
    assert found([(5, turn(["A"], state="answered beforehand")), *task(10, 30, [])]) == [("filter change", "off", 20.0)]


def test_a_task_that_was_taken_back_leaves_the_lens_as_it_says() -> None:
    told = [*task(0, 41, ["A"]), (50, turn([], state="taken back")), *task(60, 100, ["A"])]
    assert [value for _, _, value in found(told)] == [41.0, 40.0]


def test_cold_fingers_are_told_apart() -> None:
    assert found(task(0, 90, ["A"]), begun=ladder(cold=True)) == [("filter change", "screwed, cold", 90.0)]


def test_a_task_that_is_about_no_filter_tells_nothing() -> None:
    told = [(0.0, turn(None, state="asked")), (30.0, turn(None))]
    assert found([*told, *task(40, 80, [])]) == []


# Copying


def copied(name: str, frame: int | None, *, home: bool = True) -> FetchOutcome:
    return FetchOutcome(frame=frame, card_name=name, name=f"frames/{name}" if home else None, size=1, sha256=None)


def asked(name: str) -> FetchIntent:
    return FetchIntent(frame=None, folder="/DCIM", name=name)


def test_a_frame_took_as_long_to_copy_as_all_its_files() -> None:
    told: Told = [(10, asked("A.CR3")), (12.5, copied("A.CR3", 1)), (12.5, asked("A.JPG")), (13, copied("A.JPG", 1))]
    assert found(told) == [("copying", BODY, 3.0)]


def test_files_that_are_on_their_way_together_share_the_time() -> None:
    told: Told = [(10, asked("A")), (12, asked("B")), (14, copied("A", 1)), (15, copied("B", 2))]
    assert found(told) == [("copying", BODY, 2.5), ("copying", BODY, 2.5)]


def test_a_file_that_did_not_come_or_is_of_no_frame_tells_nothing() -> None:
    told: Told = [(10, asked("A")), (70, copied("A", None, home=False)), (80, asked("B")), (82, copied("B", None))]
    assert found(told) == []


# Battery


def seen(share: float | None) -> SuppliesSeen:
    return SuppliesSeen(
        battery=share, card_frames=None, temperature_c=None, disk_bytes=None, disk_frames=None, to_come=1
    )


def test_a_battery_is_used_by_so_much_an_hour() -> None:
    """From 90 % to 81 % in half an hour: 18 % an hour."""
    told: Told = [(100, seen(0.9)), (600, seen(None)), (1000, seen(0.87)), (1900, seen(0.81))]
    assert found(told) == [("battery", BODY, 0.18)]


def test_of_another_battery_it_begins_anew() -> None:
    told: Told = [(0, seen(0.5)), (1800, seen(0.4)), (1900, seen(1.0)), (5500, seen(0.9))]
    assert found(told) == [("battery", BODY, 0.2), ("battery", BODY, 0.1)]


def test_a_short_while_tells_nothing_of_a_battery() -> None:
    assert found([(0, seen(0.9)), (1199, seen(0.8))]) == []


# Against the forecast


ENDED = LadderEnded(ladder=1, outcome="done")


def test_a_ladder_that_is_done_is_held_against_its_forecast() -> None:
    assert found([(115.0, ENDED)]) == [("forecast", BODY, 1.15)]


def test_the_time_for_dark_frames_that_are_offered_is_in_no_forecast() -> None:
    cap_on = {"before_rung": None, "kind": "cap on", "what": "put the cap on for dark frames"}
    parts = ("exposing_s", "proofs_s", "changes_s", "settling_s", "fetching_s", "darks_s")
    offers = ladder(turns=[{"reason": "", **cap_on}], forecast={**dict.fromkeys(parts, 0.0), "offered_s": 60.0})
    told: Told = [(110.0, turn(None, state="asked", what="put the cap on for dark frames", rung=None)), (400.0, ENDED)]
    assert found(told, begun=offers) == [("forecast", BODY, 1.1)]
    assert found(told) == [("forecast", BODY, 4.0)], "those that are not only offered are counted"


def test_one_whose_forecast_counted_what_was_learned_is_told_apart() -> None:
    begun = ladder(learned=["From 3 outings: 2.1 s to copy a frame."])
    assert found([(105.0, ENDED)], begun=begun) == [("forecast", f"{BODY}, as learned", 1.05)]


@pytest.mark.parametrize(
    "told",
    [
        [(50.0, Steered(verb="pause", effect="")), (115.0, ENDED)],
        [(50.0, Steered(verb="skip", effect="")), (115.0, ENDED)],
        [(115.0, LadderEnded(ladder=1, outcome="done in part"))],
        [(50.0, real_run()), (115.0, ENDED)],
    ],
    ids=["paused", "skipped", "not all done", "resumed"],
)
def test_one_that_was_not_worked_as_forecast_tells_nothing(told: Told) -> None:
    assert found(told) == []


def test_one_that_waited_for_the_persons_key_tells_nothing() -> None:
    assert found([(115.0, ENDED)], begun=ladder(rungs=[{"rung": 1, "taken": "on my key"}])) == []


# A whole ladder


def test_what_a_whole_run_really_took_is_read_out_of_its_journal(tmp_path: Path) -> None:
    """A rehearsal, taken for a camera's: each filter goes on after 60 s by its clock, and both come off after 30."""
    rungs = '[rungs]\ntimes = ["1/125", "2", "1:04"]\nframes = 1\n[run]\ndark_frames = "none"\n'
    worked = work(tmp_path, RIG_BASE.replace("frames = 0", "frames = 2") + rungs + SIX + TEN)
    assert worked.outcome == "done"
    taken = [replace(one, record=as_on_a_camera(one.record)) for one in read_contents(worked.folder).entries]
    told = cases_of(taken, "mark")
    changes = {(one.of, one.value) for one in told if one.what == "filter change"}
    assert {(of, round(value, 3)) for of, value in changes} <= {("screwed", 60.0), ("off", 15.0), ("off", 30.0)}
    assert {of for of, _ in changes} == {"screwed", "off"}
    assert len([one for one in told if one.what == "copying"]) == len(worked.frames)
    (against,) = [one.value for one in told if one.what == "forecast"]
    assert 0.9 < against < 1.2


def as_on_a_camera(record: Record) -> Record:
    """Return a record of a rehearsal as a camera's run with a person has it."""
    match record:
        case RunStarted():
            return real_run()
        case LadderStarted():
            body = replace(record.planned.body, name=BODY, simulated=False)
            return replace(record, planned=replace(record.planned, body=body))
        case Turn(state="answered for me"):
            return replace(record, state="answered")
    return record


# Simulated bodies


def everything() -> Told:
    return [
        *task(0, 41, ["A"]),
        (50, asked("A.CR3")),
        (52, copied("A.CR3", 1)),
        (60, seen(0.9)),
        (1800, seen(0.8)),
        (1900, frame_exposed(1, None)),
        (2000, ENDED),
    ]


def test_a_rehearsal_tells_nothing_not_even_beside_a_real_run() -> None:
    """Whether the run says so, or the camera alone, as one on the wire does."""
    by_camera = replace(real_run(), camera=run_started().camera)
    for rehearsed in (run_started(), by_camera):
        assert found(everything(), run=rehearsed) == []
    rehearsed_later: Told = [(0.0, run_started()), (0.0, ladder()), *everything()]
    both: Told = [*everything(), *((at_s + 3000, one) for at_s, one in rehearsed_later)]
    assert found(both) == found(everything()) != []


def test_an_outing_of_an_earlier_release_whose_plan_cannot_be_read_tells_what_it_can() -> None:
    began = replace(ladder(), plan_text="old = [")
    assert found([*task(0, 41, ["A"]), (115.0, ENDED)], begun=began) == [("forecast", BODY, 1.15)]
    assert cases_of(entries((float(at), one) for at, one in enumerate(weir())), "mark") == ()
