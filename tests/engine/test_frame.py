"""One frame whatever the camera does: whether it counts, what is waited for, and what is said of an uncertain end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, cast

import pytest

from tests.engine.small import FakeCamera, Telling, opened, say_at, small_run
from tests.plan.plans import TEN
from tests.shot.frames import made as one_made
from tether.body.protocol import Ended, ReadBack, Settings
from tether.clock import to_ns
from tether.engine import frame
from tether.engine.exposure import Exposed
from tether.engine.frame import make, make_extra, wait_out
from tether.engine.run_state import Run
from tether.engine.steering import Stopped
from tether.engine.transfer import Fetcher
from tether.errors import CameraError
from tether.journal.records import ExposeOutcome
from tether.shot.made import Made
from tether.shot.shot import Shot, shot_of_rung

TEXT = '[base]\ntime = "1/8"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1/8", "30", "2m"]\nframes = 1\n{}' + TEN
TIMED, HELD = 1, 2


def exposed(**changes: Any) -> Exposed:
    usual: dict[str, Any] = {"made": made_of_30_s(1), "outcome": "made", "problem": None}
    return Exposed(**(usual | changes))


def made_of_30_s(frame: int) -> Made:
    return replace(one_made(frame, open_s=30.0), rung=2)


@dataclass
class Rig:
    """A run whose exposures end as given, one after the other, and whose frames come home where `comes`."""

    run: Run
    telling: Telling
    camera: FakeCamera
    ends: list[Exposed] = field(default_factory=list)
    comes: bool = True
    did: list[str] = field(default_factory=list)
    waited_s: list[float] = field(default_factory=list)

    def expose(self, _run: Run, _shot: Shot, _planned: Shot) -> Exposed:
        return self.ends.pop(0)

    def collect(self, _rung: int | None) -> None:
        self.did.append("collect")

    def expect_perhaps(self, made: Made, within_s: float) -> None:
        self.did.append("expect perhaps")
        self.waited_s.append(within_s)
        self.run.files.expect_perhaps([made])

    def drain(self) -> None:
        self.did.append("drain")
        for made in self.run.files.to_come if self.comes else []:
            self.run.files.came(made, Path("frames/one.nef"))

    def shot(self, which: int = TIMED) -> Shot:
        rung = self.run.ladder.rungs[which]
        return shot_of_rung(rung, rung.choice)

    def make(self, which: int = TIMED, *, at_once: bool = False) -> Made | None:
        shot = self.shot(which)
        return make(self.run, cast("Fetcher", self), shot, shot, at_once=at_once)


MakeRig = Callable[..., Rig]


@pytest.fixture
def rig(monkeypatch: pytest.MonkeyPatch) -> MakeRig:
    def made(*ends: Exposed, more: str = "", camera: FakeCamera | None = None, **fields: Any) -> Rig:
        one = Rig(*small_run(TEXT.format(more), camera), ends=list(ends), **fields)
        monkeypatch.setattr(frame, "expose", one.expose)
        monkeypatch.setattr(frame, "ask_after_refusal", lambda *_: one.did.append("ask"))
        return one

    return made


def test_a_frame_that_was_made_is_owed_and_waited_for_unless_another_follows_at_once(rig: MakeRig) -> None:
    for at_once, did in ((False, ["collect"]), (True, [])):
        one = rig(exposed())
        made = one.make(at_once=at_once)
        assert made is not None
        assert one.run.files.awaited == [made]
        assert one.did == did


def test_a_busy_body_is_tried_again_until_it_begins(rig: MakeRig) -> None:
    busy = exposed(outcome="failed", busy=True)
    one = rig(busy, busy, exposed())
    assert one.make() is not None
    assert one.run.now_s == 0.5 + 1.0


def test_a_frame_that_was_dropped_ends_the_run(rig: MakeRig) -> None:
    one = rig(exposed(outcome="dropped"))
    say_at(one.run, 0.0, "drop everything")
    with pytest.raises(Stopped):
        one.make()
    assert one.run.files.awaited == []


# An end that is uncertain


def test_a_lost_frame_that_is_on_the_card_and_as_asked_counts(rig: MakeRig) -> None:
    one = rig(exposed(outcome="lost"))
    assert one.make() is not None
    assert one.camera.told("reach_again")
    assert one.did == ["expect perhaps", "drain"]
    (outcome,) = one.telling.of(ExposeOutcome)
    assert (outcome.outcome, outcome.note) == ("made", "It is on the card and its Exif is as asked.")


def test_one_that_never_came_counts_for_nothing_and_what_it_lacked_is_asked_for(rig: MakeRig) -> None:
    one = rig(exposed(outcome="failed", lacks=True, problem="There is no card."), comes=False)
    assert one.make() is None
    assert one.did == ["expect perhaps", "drain", "ask"]
    assert one.telling.of(ExposeOutcome) == []
    assert [made.frame for made in one.run.files.to_come] == [1]


def test_a_timed_one_that_was_lost_is_waited_out_before_its_file_is_looked_for(rig: MakeRig) -> None:
    """Lost four seconds into 32: 28 are left, as the body times them itself; then a minute to write it."""
    lost = opened(way="timed", asked_s=32.0, open_called_ns=to_ns(0.0), closed_by="lost")
    one = rig(exposed(outcome="lost", opening=lost))
    one.run.clock.wait_until(to_ns(4.0))
    one.make()
    assert one.run.now_s == 32.0
    assert one.telling.said[0] == "The camera may be exposing frame 1 for another 28 s by itself; that is waited for."
    assert one.waited_s == [60.0]


def test_its_own_dark_frame_is_waited_out_too(rig: MakeRig) -> None:
    lost = opened(way="timed", asked_s=32.0, open_called_ns=to_ns(0.0), closed_by="lost")
    one = rig(exposed(outcome="lost", opening=lost), more='[run]\ndark_frames = "by the body"\n')
    shot = one.shot()
    one.make()
    assert one.run.now_s == 32.0 + shot.time_s


def test_a_held_one_whose_end_was_late_is_told_as_an_interval(rig: MakeRig) -> None:
    """What is learned when the camera is reached again goes before what was known."""
    late = opened(asked_s=128.0, close_called_ns=to_ns(138.0), close_returned_ns=to_ns(141.0), closed_by="lost")
    one = rig(exposed(outcome="lost", opening=opened()))
    one.camera.does["reach_again"] = lambda: one.run.box.put(Ended(frame=1, opening=late))
    one.make(HELD)
    (outcome,) = one.telling.of(ExposeOutcome)
    assert outcome.note == (
        "The end was uncertain: it was open for between 128.00 s and 131.00 s. "
        "It is on the card and its Exif is as asked."
    )


def test_where_the_file_does_not_come_the_interval_is_still_told(rig: MakeRig) -> None:
    one = rig(exposed(outcome="lost", opening=opened(closed_by="lost")), comes=False)
    assert one.make(HELD) is None
    assert one.telling.said == ["The end was uncertain: it was open for between 4.00 s and 4.00 s."]


def test_a_stop_while_it_is_waited_out_is_heard(rig: MakeRig) -> None:
    one = rig()
    say_at(one.run, 5.0, "stop after this frame")
    wait_out(one.run, to_ns(100.0), exposed().made)
    assert one.run.now_s == 5.0


# A frame that is not a rung's own


@pytest.mark.parametrize("refuses", [True, False])
def test_an_extra_frame_whose_settings_are_not_taken_is_left_with_a_word(refuses: bool, rig: MakeRig) -> None:
    def apply(settings: Settings) -> ReadBack:
        if refuses:
            raise CameraError("It is refused.")
        return ReadBack(settings=settings, time_s=None, aperture=11.0, iso=None)

    one = rig(camera=FakeCamera({"apply": apply}))
    shot = replace(one.shot(), kind="dark")
    assert make_extra(one.run, cast("Fetcher", one), shot) is None
    said = "It is refused." if refuses else "the aperture is "
    assert one.telling.said[-1].startswith(f"No dark frame: {said}")
    assert one.run.hand.state == "ready"


def test_an_extra_frame_is_brought_home_at_once(rig: MakeRig) -> None:
    one = rig(exposed())
    assert make_extra(one.run, cast("Fetcher", one), one.shot()) is not None
    assert one.did == ["collect", "drain"]
