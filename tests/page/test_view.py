"""What the page shows of a run, as plain data: from how the run stands, without a page."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.journal.planned import a_ladder
from tests.journal.shown import differs, exposed, home, ladder_ended, readings, rung_ended, turn
from tests.page.rig import PLANNED
from tether.control.commands import STOPS, WORDS, Verb
from tether.control.messages import Facts
from tether.journal.records import (
    CopyOutcome,
    FrameKind,
    FrameOpened,
    FrameRead,
    LadderBegun,
    Record,
    RungBegun,
    State,
    StateChanged,
    SuppliesSeen,
    WishesChanged,
)
from tether.journal.snapshot import Snapshot, after
from tether.page.view import about, last_home, view_of

FACTS = Facts(outing="/weir", title="Weir", simulated=True)
S = 10**9


def stands(*happened: Record) -> Snapshot:
    snapshot = Snapshot()
    for record in happened:
        snapshot = after(snapshot, record)
    return snapshot


def shown(*happened: Record) -> dict[str, Any]:
    return view_of(FACTS, stands(*happened))


def opened(frame: int = 3, kind: FrameKind = "rung", rung: int | None = 2) -> FrameOpened:
    return FrameOpened(frame=frame, rung=rung, kind=kind, way="held", open_s=4.0, at_ns=5 * S, closes_at_ns=9 * S)


def now(state: State) -> StateChanged:
    return StateChanged(before="ready", state=state, at_ns=1)


def button(view: dict[str, Any], verb: Verb) -> dict[str, Any]:
    (one,) = [one for one in (*view["steering"], *view["stops"]) if one["verb"] == verb]
    return dict(one)


def test_before_anything_has_happened_there_is_nothing_to_show_but_the_run() -> None:
    view = shown()
    assert (view["title"], view["simulated"], view["state"]) == ("Weir", True, "Getting ready")
    nothing = ("rung", "open", "ask", "last", "over")
    assert [view[name] for name in nothing] == [None] * 5
    assert (view["supplies"], view["pending"]) == ([], "")


def test_while_frames_are_read_it_says_so_and_how_many() -> None:
    home_unread: list[Record] = [exposed(1), home(1, "a.dng"), exposed(2), home(2, "b.dng"), exposed(3)]
    assert shown(*home_unread, now("ready"))["state"] == "Reading 2 frames"
    assert shown(*home_unread, now("fetching"))["state"] == "Copying frames"
    said = FrameRead(frame=1, readings=readings())
    assert shown(*home_unread, said, now("ready"))["state"] == "Reading 1 frame"
    later = FrameRead(frame=2, readings=readings())
    assert shown(*home_unread, later, now("ready"))["state"] == "Getting ready", "the one before can't be read"


def test_no_task_comes_next_where_the_run_is_to_stop() -> None:
    begun = LadderBegun(planned=a_ladder(turns=[{"before_rung": 2, "what": "fit Calder 6"}]))
    assert shown(begun)["next"].startswith("Next task")
    assert shown(begun, WishesChanged(pending=["stop after this frame"]))["next"] == ""


def test_what_is_low_is_marked() -> None:
    low = {"battery": 0.03, "card_frames": 412, "temperature_c": None, "disk_bytes": None, "disk_frames": None}
    assert shown(SuppliesSeen(**low, to_come=3))["supplies"] == [  # type: ignore[arg-type]
        {"text": "! Low: battery 3%", "low": True},
        {"text": "card 412 frames", "low": False},
    ]


def test_the_second_copy_stands_with_what_is_left() -> None:
    fine = CopyOutcome(name="frames/a.dng", copied=3, home=4)
    assert shown(fine)["supplies"] == [{"text": "second copy 3 of 4", "low": False}]
    stopped = replace(fine, problem="The disk is full.")
    assert shown(stopped)["supplies"] == [{"text": "! second copy stopped at 3 of 4", "low": True}]


@pytest.mark.parametrize(
    ("simulated", "tried", "untried"), [(False, None, True), (False, "x", False), (True, None, False)]
)
def test_a_body_that_nobody_tried_is_said_so(simulated: bool, tried: str | None, untried: bool) -> None:
    planned = replace(PLANNED, body=replace(PLANNED.body, tried=tried))
    view = view_of(replace(FACTS, simulated=simulated), stands(LadderBegun(planned=planned)))
    assert view["untried"] is untried
    assert view_of(replace(FACTS, simulated=simulated), stands())["untried"] is False


def test_the_rung_in_hand_counts_its_own_frames() -> None:
    begun = RungBegun(rung=2, label="1/4", frames=3)
    proof = exposed(2, 2, "proof")
    view = shown(LadderBegun(planned=PLANNED), exposed(1, 1), begun, proof, exposed(3, 2))
    assert view["rung"] == {"rung": 2, "of": 2, "label": "1/4", "frames": 3, "made": 1}


def test_an_open_frame_is_told_with_its_moments() -> None:
    assert shown(opened())["open"] == {"what": "frame 3, 4 s", "opened_s": 5.0, "closes_s": 9.0}
    assert shown(opened(kind="proof"))["open"]["what"] == "test frame 3, 4 s"


# The large button, and what a touch is about


def test_a_turn_is_asked_for_in_its_own_words() -> None:
    ask = shown(turn(2, "fit Calder 6", "rung 2 is made with it"))["ask"]
    assert ask == {
        "what": "fit Calder 6",
        "reason": "rung 2 is made with it",
        "waiting": "",
        "missing": False,
        "button": "It is done",
        "no": None,
        "of": "fit Calder 6",
    }
    assert shown(turn(2, "Is the cap off?", "it is dark"))["ask"]["button"] == "Yes"
    assert shown(turn(2, "a", "b"), turn(2, "a", "b", "answered"))["ask"] is None


def test_no_says_before_what_it_does_and_waiting_what_it_costs() -> None:
    fit = replace(
        turn(2, "fit Calder 6", "it is due"), otherwise="rung 2 is skipped from here on", light_stops_per_min=-0.1
    )
    ask = shown(fit)["ask"]
    assert ask["no"] == {"button": "Leave it out", "does": "rung 2 is skipped from here on"}
    assert ask["waiting"] == "No hurry: the light falls by 0.1 stop a minute."
    assert shown(replace(fit, what="are water and rock right?"))["ask"]["no"]["button"] == "No"


def test_no_is_about_what_was_asked() -> None:
    assert about(stands(turn(2, "fit Calder 6", "it is due")), "skip") == "fit Calder 6"
    assert about(stands(), "skip") is None


def test_only_a_task_that_puts_filters_on_can_be_answered_with_one_that_is_missing() -> None:
    fit, off = (
        replace(turn(2, "fit Calder 6", ""), fitted=["Calder 6"]),
        replace(turn(2, "take off A", ""), fitted=["B"]),
    )
    assert shown(fit)["ask"]["missing"] is True
    assert shown(off)["ask"]["missing"] is shown(turn(2, "cover the viewfinder", ""))["ask"]["missing"] is False
    assert (about(stands(fit), "not in the bag"), about(stands(), "not in the bag")) == ("fit Calder 6", "nothing")


FITTED = replace(turn(2, "fit Calder 6", "", "answered"), fitted=["Calder 6"])


def test_a_task_is_taken_back_in_words_of_what_that_does_now_and_only_while_it_can_be() -> None:
    before = shown(FITTED)["back"]
    assert before == {
        "verb": "take back",
        "button": "Take it back",
        "does": "“fit Calder 6” is asked again",
        "of": "fit Calder 6, rung 2",
    }
    assert shown(FITTED, opened())["back"]["button"] == "Wrong filter: close, keep, repeat"
    assert shown(FITTED, replace(opened(), way="timed"))["back"]["button"] == "Wrong filter: repeat"
    capped = replace(turn(2, "put the cap on", "", "answered"))
    planned = a_ladder(turns=[{"before_rung": 2, "what": capped.what}])
    assert shown(LadderBegun(planned=planned), capped, opened())["back"]["button"].startswith("It was not done:")
    assert shown()["back"] is None
    assert shown(FITTED, rung_ended(2))["back"] is None
    assert shown(FITTED, ladder_ended())["back"] is None


def test_what_comes_next_is_told_beforehand_and_not_beside_what_is_asked_now() -> None:
    begun = LadderBegun(planned=a_ladder(turns=[{"before_rung": 2, "what": "fit Calder 6", "reason": "it is due"}]))
    assert shown(begun)["next"] == "Next task: fit Calder 6, before rung 2, 2 rungs on"
    assert shown(begun, RungBegun(rung=1, label="1/2 s", frames=1))["next"].endswith("before rung 2, 1 rung on")
    assert shown(begun, turn(2, "fit Calder 6", "rung 2 is made with it"))["next"] == ""


def test_a_frame_that_waits_is_about_the_frames_before_it() -> None:
    ask = shown(exposed(1), exposed(2), now("waiting for your key"))["ask"]
    assert (ask["button"], ask["of"]) == ("Take it now", "after 2 frames")


@pytest.mark.parametrize(
    ("verb", "is_open", "of"),
    [
        ("answer", False, "nothing"),
        ("take back", False, "nothing"),
        ("close and keep", True, "frame 3"),
        ("close and keep", False, "nothing"),
        ("longer", True, "frame 3"),
        ("pause", True, None),
        ("drop everything", True, None),
    ],
)
def test_a_word_is_about_the_open_frame_or_about_the_run(verb: Verb, is_open: bool, of: str | None) -> None:
    assert about(stands(opened()) if is_open else stands(), verb) == of


# Buttons


def test_every_word_but_the_large_buttons_has_a_button_and_its_place() -> None:
    for view in (shown(), shown(opened()), shown(ladder_ended())):
        assert [one["verb"] for one in view["stops"]] == list(STOPS)
        large = (*STOPS, "answer", "take back", "not in the bag", "regions right", "regions wrong")
        rest = [word.verb for word in WORDS if word.verb not in large]
        assert [one["verb"] for one in view["steering"]] == rest


def test_a_button_is_of_use_where_its_word_would_do_something() -> None:
    assert not button(shown(), "close and keep")["of_use"]
    assert button(shown(opened()), "close and keep")["of_use"]
    timed = replace(opened(), way="timed")
    assert not button(shown(timed), "longer")["of_use"], "the camera closes it by itself"
    assert button(shown(now("setting")), "pause")["of_use"]
    assert not button(shown(now("paused")), "pause")["of_use"]
    assert button(shown(now("paused")), "go on")["of_use"]
    assert not button(shown(now("setting")), "go on")["of_use"], "nothing is paused"
    pauses = (opened(), WishesChanged(pending=["pauses after this frame"]))
    assert button(shown(*pauses), "go on")["of_use"]
    assert not button(shown(*pauses), "pause")["of_use"]
    over = shown(opened(), ladder_ended())
    assert not any(one["of_use"] for one in (*over["steering"], *over["stops"]))


# The last frame, the end


def test_the_last_frame_is_the_last_that_is_home_and_ours() -> None:
    happened = (exposed(1), home(1, "a.dng"), exposed(2), home(None, "other.dng"))
    last = last_home(stands(*happened))
    assert last is not None
    assert last.frame == 1
    assert last_home(stands(exposed(1))) is None


def test_the_last_frame_is_told_in_words() -> None:
    says = readings(headroom_stops=0.81, water=(None, 0.021), moved=(3.0, 4.0))
    last = shown(
        exposed(1, held_s=2.0), home(1, "a.dng"), differs(1, "It is darker."), FrameRead(frame=1, readings=says)
    )["last"]
    assert last["what"] == "Frame 1, rung 1: made, bulb 2.000 s"
    assert last["says"] == ["Headroom: 0.8 stops", "Headroom of the water: 2.1% clipped", "Moved: 5.0 px"]
    assert last["differs"] == ["It is darker."]
    proof = shown(exposed(1, None, "proof"), home(1, "a.dng"))["last"]
    assert (proof["what"], proof["says"]) == ("Frame 1, test: made", [])


def test_at_its_end_it_says_how_and_that_nothing_is_to_be_done() -> None:
    pending = replace(stands(ladder_ended(note="All is home.")), pending=("pause after this frame",))
    view = view_of(FACTS, pending)
    assert "All is home." in view["over"]
    assert shown(opened(), ladder_ended())["open"] is None
    assert view["pending"] == ""
    assert view["may_resume"] is False, "it is done"
    assert shown(ladder_ended("closed and kept"))["may_resume"] is True
    assert shown()["may_resume"] is False
    still = replace(stands(), pending=("pause after this frame", "a third darker"))
    assert view_of(FACTS, still)["pending"] == "pause after this frame; a third darker"
