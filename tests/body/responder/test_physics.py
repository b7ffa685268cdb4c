"""The simulated body behind the wire, without a client: what commands come to and how they are refused."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.body.responder.rig import soon, started_with
from tether.body.protocol import BULB, SceneChange
from tether.body.responder.codes import GoneError, RefusedError, Response
from tether.body.responder.faults import WireFault
from tether.body.responder.physics import Physics
from tether.body.responder.start import WireHow
from tether.body.simulated.faults import Fault

Bodies = Callable[..., Physics]


@pytest.fixture
def body(tmp_path: Path) -> Bodies:
    """Make a body that stands as told, with a world changed as told."""

    def make(*wire: WireFault, faults: tuple[Fault, ...] = (), **how: Any) -> Physics:
        return Physics(started_with(tmp_path, "eos", WireHow(faults=wire, **how), faults=faults, seed=4))

    return make


def refusal(act: Callable[..., object], *given: Any, **named: Any) -> Response:
    with pytest.raises(RefusedError) as caught:
        act(*given, **named)
    return caught.value.code


def over(body: Physics) -> None:
    """Wait for the end of a frame."""
    assert soon(lambda: not body.busy())


def recorded(body: Physics, folder: Path) -> list[dict[str, Any]]:
    body.record.write()
    return [json.loads(line) for line in (folder / "observer.jsonl").read_text().splitlines()]


# What it is


def test_it_tells_who_it_is_and_how_it_stands(body: Bodies) -> None:
    one = body()
    assert (one.serial, one.made, one.battery()) == ("WIRE4", 0, 100)
    assert one.lens == "Simulated 35 mm"
    assert one.frames_left() > 0
    assert not one.held_open


def test_without_a_card_there_is_no_room_until_one_is_put_in(body: Bodies) -> None:
    one = body(card=False)
    assert one.frames_left() == 0
    one.stage(SceneChange(capped=True))
    assert one.frames_left() == 0
    one.stage(SceneChange(new_card=True))
    assert one.frames_left() > 0


def test_troubles_of_the_way_there_are_the_wires_and_the_others_the_bodys(body: Bodies) -> None:
    one = body(faults=(Fault(what="truncates", at_frame=2), Fault(what="vanishes", at_frame=9)))
    assert one.world.faults == (Fault(what="vanishes", at_frame=9),)
    assert one.troubles.strikes("cut short", 1) is None
    assert one.troubles.strikes("cut short", 2) is not None


# Setting


def test_a_value_is_taken_and_what_the_body_does_not_have_is_refused(body: Bodies, tmp_path: Path) -> None:
    one = body()
    assert one.turn("iso", "200", 77) == "taken"
    assert one.settings().iso == "200"
    assert refusal(one.turn, "iso", "7", 78) == Response.INVALID_VALUE
    (line,) = recorded(one, tmp_path)
    assert line == {"what": "set", "at_ns": 77, "dial": "iso", "label": "200"}


@pytest.mark.parametrize(
    ("fault", "came"), [("keeps and tells", "kept and told"), ("keeps silently", "kept in silence")]
)
def test_a_value_may_be_kept_though_the_set_succeeds(body: Bodies, fault: Any, came: str) -> None:
    one = body(WireFault(what=fault, at_frame=1))
    before = one.settings()
    assert one.turn("iso", "200", 1) == came
    assert one.settings() == before
    assert one.turn("iso", "200", 2) == "taken"


def test_bulb_is_offered_on_the_manual_mode_only(body: Bodies) -> None:
    one = body()
    assert one.turn("time", BULB, 1) == "taken"
    assert one.on_bulb()
    one.mode = "Av"
    assert not one.offers_bulb()
    assert refusal(one.turn, "time", BULB, 2) == Response.INVALID_VALUE
    assert refusal(one.expose, 3) == Response.GENERAL_ERROR


# Exposing


def test_a_timed_frame_keeps_it_busy_until_it_is_over(body: Bodies, tmp_path: Path) -> None:
    one = body()
    one.turn("time", "1/8", 1)
    one.expose(time.monotonic_ns())
    assert one.busy()
    assert refusal(one.expose, 2) == refusal(one.turn, "iso", "200", 3) == Response.BUSY
    assert one.close(time.monotonic_ns()) is False
    over(one)
    assert one.made == 1
    (opened,) = [line for line in recorded(one, tmp_path) if line["what"] == "opened"]
    assert (opened["frame"], opened["held"], opened["by"]) == (1, False, "command")


def test_a_held_frame_is_open_until_it_is_closed_and_then_no_more(body: Bodies, tmp_path: Path) -> None:
    one = body()
    one.turn("time", BULB, 1)
    one.expose(time.monotonic_ns())
    held_s = one.held_s()
    assert held_s is not None
    assert 0 <= held_s < 60
    assert one.close(time.monotonic_ns()) is True
    assert one.held_s() is None
    assert one.close(time.monotonic_ns()) is False
    assert [line["what"] for line in recorded(one, tmp_path)] == ["set", "opened", "closed"]


def test_without_a_card_a_frame_can_only_go_to_memory(body: Bodies) -> None:
    one = body(card=False)
    assert refusal(one.expose, 1) == Response.STORE_NOT_AVAILABLE
    one.expose(time.monotonic_ns(), to_card=False)
    assert one.made == 1


def test_a_close_may_be_refused_once_and_leaves_the_shutter_open(body: Bodies) -> None:
    one = body(WireFault(what="refuses the close"))
    one.turn("time", BULB, 1)
    one.expose(time.monotonic_ns())
    assert refusal(one.close, time.monotonic_ns()) == Response.GENERAL_ERROR
    assert one.held_open
    assert one.close(time.monotonic_ns()) is True


def test_after_a_frame_it_may_be_busy_for_longer(body: Bodies) -> None:
    one = body(WireFault(what="busy after", for_s=1000.0))
    one.turn("time", BULB, 1)
    one.expose(time.monotonic_ns())
    one.close(time.monotonic_ns())
    one.watch()
    assert one.busy()
    assert refusal(one.turn, "iso", "200", 2) == Response.BUSY


@pytest.mark.parametrize("shuts", [False, True])
def test_a_cable_that_is_pulled_may_shut_the_shutter(body: Bodies, shuts: bool) -> None:
    one = body(WireFault(what="drops", after_s=2.0, for_s=3.0, shuts=shuts))
    one.turn("time", BULB, 1)
    at_ns = time.monotonic_ns()
    one.expose(at_ns)
    assert one.drop_at_ns == at_ns + 2 * 10**9
    assert one.away_until_ns == at_ns + 5 * 10**9
    one.dropped()
    assert [one.drop_at_ns, one.held_open] == [None, not shuts]


def test_a_call_is_about_the_next_frame_the_last_one_or_that_of_its_file(body: Bodies) -> None:
    one = body()
    assert [one.frame_of(call, 0) for call in ("open", "trigger", "set")] == [1, 1, 1]
    assert [one.frame_of(call, 0) for call in ("close", "events", None)] == [0, 0, 0]
    assert one.frame_of("get", 0x2000_0010) == 0
    one.expose(time.monotonic_ns())
    over(one)
    assert soon(lambda: one.card.handles(0x1000_0001))
    assert one.frame_of("get", 0x2000_0010) == 1
    assert one.frame_of("close", 0) == 1


# The person, live view, and a body that is gone


def test_a_lens_on_manual_focus_does_not_move(body: Bodies) -> None:
    one = body()
    assert refusal(one.nudge_focus, 1, refused=Response.GENERAL_ERROR) == Response.GENERAL_ERROR
    one.focus = "af"
    one.nudge_focus(1, refused=Response.GENERAL_ERROR)
    assert one.shows_live
    one.switch_live(on=False)
    assert not one.shows_live


def test_the_bodys_own_button_holds_for_a_moment_and_does_nothing_where_there_is_no_card(
    body: Bodies, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tether.body.responder.physics._PRESSED_S", 0.0)
    one = body(card=False)
    one.press()
    assert one.made == 0
    one.stage(SceneChange(new_card=True))
    one.turn("time", BULB, 1)
    one.press()
    assert not one.held_open
    assert [(line["what"], line.get("by")) for line in recorded(one, tmp_path)[1:]] == [
        ("opened", "by hand"),
        ("closed", None),
    ]


def test_a_card_that_is_full_and_a_body_that_is_gone_are_told_apart(body: Bodies, tmp_path: Path) -> None:
    full = body(faults=(Fault(what="card full"),))
    assert refusal(full.expose, time.monotonic_ns()) == Response.STORE_FULL
    gone = Physics(
        started_with(tmp_path / "other", "eos", WireHow(), faults=(Fault(what="vanishes", at_frame=1, for_s=1000.0),))
    )
    assert not gone.gone()
    gone.turn("time", BULB, 1)
    gone.expose(time.monotonic_ns())
    assert soon(gone.gone)
    for asked in (gone.battery, gone.settings, lambda: gone.close(time.monotonic_ns())):
        with pytest.raises(GoneError):
            asked()
