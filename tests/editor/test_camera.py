"""What a draft does with the camera: what it is set to, where a live picture is magnified, what a frame says."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.plan.plans import BASE, HEAD
from tether.body.protocol import Finding, ReadBack, Settings
from tether.capture.base_search import room_words
from tether.editor.camera import AtCamera
from tether.editor.draft import turned
from tether.errors import CameraError
from tether.frames.levels import Levels
from tether.outing.prepare import Prepared, prepare
from tether.plan.file import plan_from_text

READY = prepare(plan_from_text(HEAD + BASE + '[rungs]\ntimes = ["1/125"]\n'), filters=())


class Session:
    """A session that says what it is set to, and remembers what it was told."""

    def __init__(self, **said: float | None) -> None:
        numbers = {"time_s": 2**-6, "aperture": 2**3.5, "iso": 200.0} | said
        self._read = ReadBack(settings=Settings(time="x", aperture="x", iso="x"), **numbers)
        self.seen = SimpleNamespace(looked=())
        self.told: list[str] = []

    def read_back(self) -> ReadBack:
        return self._read

    def set(self, shot: Any) -> None:
        self.told.append(f"set {shot.time_label}")

    def live_off(self) -> None:
        self.told.append("live off")

    def nudge_focus(self, steps: int) -> None:
        self.told.append(f"nudge {steps}")


def at(session: Session, tmp_path: Path) -> AtCamera:
    """Return what a draft does with a camera whose session is open."""
    found = AtCamera(cast("Any", None), cast("Any", None), tmp_path)
    found._session = cast("Any", session)
    found._body = f"{READY.body_file.name} {READY.plan.lens}"
    return found


def test_what_it_is_set_to_is_taken_as_the_bodys_own_marks(tmp_path: Path) -> None:
    shot = at(Session(aperture=11.3), tmp_path).set_to(READY)
    assert (shot.time_label, shot.aperture.label, shot.iso.label, shot.way) == ("1/60", "f/11", "200", "timed")
    assert shot.aperture.exact == 2**3.5


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"time_s": None}, "The camera is set to bulb, or does not tell its time: set a time for the base exposure."),
        ({"aperture": None}, "The camera does not tell its aperture, and that is no value of its body file's list"),
        ({"iso": 123.0}, "The camera is set to 123 as its ISO, and that is no value of its body file's list: set an"),
    ],
)
def test_what_is_no_base_is_told_with_what_to_do(said: dict[str, float | None], sentence: str, tmp_path: Path) -> None:
    with pytest.raises(CameraError) as raised:
        at(Session(**said), tmp_path).set_to(READY)
    assert str(raised.value).startswith(sentence)


def test_before_live_view_the_base_is_set_where_the_body_has_it(tmp_path: Path) -> None:
    session = Session()
    at(session, tmp_path).before_live(READY)
    odd = plan_from_text(HEAD + BASE.replace('"1/125"', '"1/11000"') + '[rungs]\ntimes = ["1/125"]\n')
    other = Prepared(plan=odd, filters=(), body_file=READY.body_file, abilities=READY.abilities, ladder=READY.ladder)
    at(session, tmp_path).before_live(other)
    assert session.told == ["set 1/125"]


def test_a_base_that_the_body_does_not_time_takes_no_frame(tmp_path: Path) -> None:
    odd = plan_from_text(HEAD + BASE.replace('"1/125"', '"1/11000"') + '[rungs]\ntimes = ["1/125"]\n')
    other = Prepared(plan=odd, filters=(), body_file=READY.body_file, abilities=READY.abilities, ladder=READY.ladder)
    with pytest.raises(CameraError, match=r"has no 1/11000 s of its own, the nearest is 1/\d+ s\."):
        at(Session(), tmp_path).base_frame(other)


def test_a_camera_that_does_not_stand_as_it_should_takes_no_frame_and_is_looked_at_anew(tmp_path: Path) -> None:
    session = Session()
    focus = Finding(what="focus", verdict="stop", sentence="It says AF.")
    session.seen = SimpleNamespace(looked=(focus, Finding(what="card", verdict="note", sentence="Half full.")))
    draft = at(session, tmp_path)
    with pytest.raises(CameraError) as raised:
        draft.base_frame(READY)
    assert raised.value.sentences[1:] == ("focus: It says AF.",)
    assert draft._session is None


def test_a_place_in_the_upright_picture_is_found_in_the_one_that_lies_as_the_sensor_does() -> None:
    """A picture that was turned left once: what is above there lay right here; its left upper corner, right above."""
    assert turned((0.0, 0.0) * 2, -1)[:2] == (1.0, 0.0)
    assert turned((0.25, 0.1) * 2, 0)[:2] == (0.25, 0.1)
    assert turned((0.25, 0.1) * 2, -2)[:2] == (0.75, 0.9)


@pytest.mark.parametrize(
    ("headroom_stops", "clipped", "said"),
    [(0.834, 0.0, "0.83 stops of headroom"), (None, 0.0241, "2.4 % clipped")],
)
def test_a_frame_says_its_headroom_or_what_clips(headroom_stops: float | None, clipped: float, said: str) -> None:
    levels = cast("Levels", SimpleNamespace(headroom_stops=headroom_stops, clipped_share=clipped))
    assert room_words(levels) == said


def test_live_view_is_left_only_where_a_session_is_open(tmp_path: Path) -> None:
    session = Session()
    draft = at(session, tmp_path)
    draft.nudge(READY, -3)
    draft.live_off()
    draft.let_go()
    draft.live_off()
    assert session.told == ["nudge -3", "live off"]
