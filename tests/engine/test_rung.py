"""The frames of one rung: how many are taken, what is taken again, and what a setting that the body keeps costs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, cast

import pytest

from tests.engine.followed import Followed
from tests.engine.small import FakeCamera, Telling, reads_back, say_at, small_run
from tests.plan.plans import HEAD, TEN, a_choice, ladder_of, plan_of
from tests.shot.frames import made as a_frame
from tether.body.protocol import Settings
from tether.control.commands import Command, Verb
from tether.engine import rung as rungs
from tether.engine.analysis_queue import Reader
from tether.engine.run_state import Run
from tether.engine.rung import MOST_RETAKEN, Taking, Tally, kept_asked, unsure_stops
from tether.engine.steering import Steering, Stopped
from tether.engine.transfer import Fetcher
from tether.errors import CameraError
from tether.exposure.filters import Filter
from tether.journal.records import Turn
from tether.shot.comparison import Difference
from tether.shot.made import Made
from tether.shot.shot import Shot

BASE = '[base]\ntime = "1/60"\naperture = "f/11"\niso = 200\n'
TEXT = BASE + '[rungs]\ntimes = ["1/60"]\nframes = 3\n{}'
HOME = Path("frames/one.nef")
ISO = Difference(which="ISO", value=400.0, clause="its ISO is 400, not 200")
TIME = Difference(which="time", value=0.5, clause="it was open 0.5 s, not 1/60 s")


@dataclass
class Rig:
    """A rung in hand whose frames are made and come home as a test says.

    `fails` are the frames (by number) that can't be made, `differs` what those that come home differ in, `then` what is
    said once they were taken.
    """

    run: Run
    telling: Telling
    camera: FakeCamera
    fails: set[int] = field(default_factory=set)
    then: dict[int, Verb] = field(default_factory=dict)
    differs: dict[int, Sequence[Difference]] = field(default_factory=dict)
    shots: list[Shot] = field(default_factory=list)
    at_once: list[bool] = field(default_factory=list)
    did: list[str] = field(default_factory=list)
    taken: int = 0

    def make(self, _run: Run, _fetcher: object, shot: Shot, _planned: Shot, *, at_once: bool = False) -> Made | None:
        self.taken += 1
        self.did.append("open")
        self.shots.append(shot)
        self.at_once.append(at_once)
        if self.taken in self.fails:
            return None
        frame = replace(a_frame(self.taken), rung=shot.rung, opened_s=self.run.now_s + 0.04)
        self.run.files.owe(frame)
        if self.taken in self.then:
            self.run.box.put(Command(verb=self.then[self.taken]))
        return frame

    def collect(self, _rung: int | None) -> None:
        self.did.append("collect")

    def drain(self) -> None:
        self.did.append("drain")
        for one in self.run.files.awaited:
            self.run.files.came(one, HOME, self.differs.get(one.frame, ()))

    def await_readings(self) -> None:
        self.did.append("await readings")

    def take_all(self, tally: Tally | None = None) -> Tally:
        tally = tally or Tally()
        taking = Taking(run=self.run, fetcher=cast("Fetcher", self), rung=self.run.ladder.rungs[0], tally=tally)
        taking.take_all()
        return tally

    def outcome(self, tally: Tally, wanted: int = 3, *, skipped: bool = False) -> str:
        return tally.outcome(wanted, cast("Fetcher", self), skipped=skipped)


@pytest.fixture
def rig(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Rig]:
    def make(
        more: str = "", camera: FakeCamera | None = None, head: str = HEAD, text: str = TEXT, **fields: Any
    ) -> Rig:
        run, telling, camera = small_run(text.format(more), camera, head, **({"following": Followed()} | fields))
        found = Rig(run, telling, camera)
        monkeypatch.setattr(rungs, "make", found.make)
        return found

    return make


MakeRig = Callable[..., Rig]


# How many


def test_the_first_frame_is_judged_before_the_next_is_opened(rig: MakeRig) -> None:
    one = rig()
    tally = one.take_all()
    assert one.did == ["open", "drain", "open", "open", "collect", "drain"]
    assert (tally.frames, one.outcome(tally)) == ([1, 2, 3], "done")
    assert len(one.camera.told("apply")) == 1, "the body is set once for all of them"


def test_what_an_earlier_run_made_of_it_counts(rig: MakeRig) -> None:
    one = rig()
    tally = one.take_all(Tally(before=2))
    assert (one.taken, one.outcome(tally)) == (1, "done")


def test_one_more_is_taken_for_each_again(rig: MakeRig) -> None:
    one = rig(steering=Steering(again=2))
    one.take_all()
    assert one.taken == 5


def test_a_rung_that_is_skipped_takes_nothing_more(rig: MakeRig) -> None:
    one = rig(steering=Steering(skip=True))
    tally = one.take_all()
    assert (one.taken, one.outcome(tally, skipped=True)) == (0, "skipped")


def test_a_stop_is_heard_before_the_next_frame(rig: MakeRig) -> None:
    one = rig()
    say_at(one.run, 0.0, "stop after this frame")
    with pytest.raises(Stopped):
        one.take_all()
    assert one.taken == 0


def test_what_would_end_too_late_is_left_with_the_reason(rig: MakeRig) -> None:
    one = rig("[run]\nleave_by = 2026-10-03T16:30:00Z\n")
    tally = one.take_all()
    assert one.taken == 0
    assert "it would end at" in (tally.note or "")


def test_in_a_burst_another_follows_at_once_from_the_frame_after_the_judged_one_to_the_last_but_one(
    rig: MakeRig,
) -> None:
    one = rig('taken = "burst"\n')
    one.take_all()
    assert one.at_once == [False, True, False]


def test_on_the_key_each_frame_waits_for_it_and_none_is_judged_meanwhile(rig: MakeRig) -> None:
    one = rig('taken = "on my key"\n')
    for at_s in (1.0, 2.0, 3.0):
        say_at(one.run, at_s, "answer")
    one.take_all()
    assert one.did == ["open", "open", "open", "collect", "drain"]
    assert one.run.now_s == 3.0


def test_of_waves_there_are_as_many_as_are_pressed_until_next_and_the_lag_of_each_is_told(rig: MakeRig) -> None:
    one = rig('taken = "each wave"\n')
    for at_s in (1.0, 2.0, 3.0, 4.0, 5.0):
        say_at(one.run, at_s, "answer")
    say_at(one.run, 9.0, "next")
    tally = one.take_all()
    assert (one.taken, one.outcome(tally, skipped=True)) == (5, "done")
    assert one.run.now_s == 9.0
    told = "Told to open 0.04 s after your key; the body's own delay comes on top."
    assert [said for said in one.telling.said if "your key" in said] == [told] * 5
    assert len(one.camera.told("apply")) == 1, "the body is set before the first wave, and not again"


# What went wrong


def test_a_frame_that_cannot_be_made_is_tried_twice_more(rig: MakeRig) -> None:
    one = rig()
    one.fails = {1, 2}
    assert one.outcome(one.take_all()) == "done"
    assert one.taken == 5
    one = rig()
    one.fails = {1, 2, 3}
    tally = one.take_all()
    assert (one.taken, tally.note, one.outcome(tally)) == (MOST_RETAKEN + 1, "the frame could not be made", "failed")


def test_an_iso_that_the_body_keeps_costs_one_frame_and_the_rest_is_solved_around_it(rig: MakeRig) -> None:
    """A stop more by ISO is a stop narrower."""
    one = rig()
    one.differs = {1: [ISO]}
    tally = one.take_all()
    assert [(shot.iso.label, shot.aperture.label) for shot in one.shots] == [("200", "f/11")] + [("400", "f/16")] * 3
    assert one.run.hand.stuck.iso == 400.0
    assert (tally.note, one.outcome(tally)) == ("a frame was not as asked and was taken again", "done, differs")


def test_a_body_that_kept_a_value_is_set_to_another_first(rig: MakeRig) -> None:
    one = rig()
    one.differs = {1: [ISO]}
    one.take_all()
    _, loose, after = one.camera.told("apply")
    assert (loose.iso, loose.time) != ("200", "1/60")
    assert loose.iso != "200"
    assert loose.time != "1/60"
    assert after == Settings(time="1/60", aperture="f/16", iso="400")


def test_a_time_that_the_body_keeps_is_asked_about_once(rig: MakeRig) -> None:
    one = rig()
    one.differs = {1: [TIME], 2: [TIME]}
    say_at(one.run, 5.0, "answer")
    tally = one.take_all()
    (turn, _) = one.telling.of(Turn)
    assert turn.what == "see to the camera"
    assert turn.reason == "It was open 0.5 s, not 1/60 s. Set its time on the body, and its dial to M."
    assert one.taken == 2
    assert one.outcome(tally) == "failed"


def test_what_our_own_commands_did_is_not_held_against_the_body(rig: MakeRig) -> None:
    one = rig()
    one.differs = {1: [replace(ISO, by_commands=True)]}
    one.take_all()
    assert (one.run.hand.stuck.iso, one.telling.of(Turn), one.taken) == (None, [], 4)
    assert [setting.iso for setting in one.camera.told("apply")] == ["200", "200"]


def test_frames_that_keep_coming_out_otherwise_are_left(rig: MakeRig) -> None:
    one = rig()
    by_commands = [replace(TIME, by_commands=True)]
    one.differs = {1: by_commands, 2: by_commands, 3: by_commands, 4: by_commands}
    tally = one.take_all()
    assert one.taken == MOST_RETAKEN + 1
    assert tally.note == "frames came out with another time than asked"


def test_a_body_that_refuses_waits_for_the_person_or_leaves_the_rung_as_the_plan_says(rig: MakeRig) -> None:
    answers: list[bool] = []

    def refuses(settings: Settings) -> Any:
        if len(answers) < 2:
            answers.append(True)
            raise CameraError("Its dial is on A.")
        return reads_back(settings)

    waits = rig(camera=FakeCamera({"apply": refuses}))
    say_at(waits.run, 5.0, "answer")
    assert waits.outcome(waits.take_all()) == "done, differs"
    assert [turn.reason for turn in waits.telling.of(Turn)][:1] == ["Its dial is on A."]
    answers.clear()
    leaves = rig('[run]\nwhen_refused = "skip"\n', camera=FakeCamera({"apply": refuses}))
    tally = leaves.take_all()
    assert (leaves.taken, tally.note, leaves.telling.of(Turn)) == (0, "Its dial is on A.", [])


# What it is made with


def test_a_long_one_through_what_is_not_measured_is_a_third_darker_and_says_so(rig: MakeRig) -> None:
    text = '[base]\ntime = "1/8"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\nframes = 1\n{}'
    by_label = TEN.replace("measured_stops = 10.0\n", "")
    head = HEAD.replace('darker_by = "nothing"\n', "")
    one = rig(by_label, head=head, text=text, following=Followed(known=False))
    one.take_all()
    assert one.telling.said[0] == (
        "Made 0.33 stop darker than planned: nothing was read yet through what it is made with, which is not measured."
    )
    assert one.shots[0].time_s == pytest.approx(128 * 2 ** (-1 / 3))
    seen = rig(by_label, head=head, text=text, following=Followed(known=True))
    seen.take_all()
    assert seen.shots[0].time_s == pytest.approx(128)


def test_brighter_sets_the_body_anew_for_the_frames_after_it(rig: MakeRig) -> None:
    one = rig()
    one.then = {1: "brighter"}
    one.take_all()
    light = [shot.time_s / shot.aperture.exact**2 * shot.iso.exact for shot in one.shots]
    assert light[1] / light[0] == pytest.approx(2 ** (1 / 3), rel=0.02)
    assert light[2] == light[1]


def test_where_frames_are_taken_again_by_what_they_say_that_is_waited_for(rig: MakeRig) -> None:
    for again, waits in (("take", 1), ("say", 0)):
        one = rig(f'[readings]\nagain = "{again}"\n')
        one.take_all()
        assert one.did.count("await readings") == waits


# How it ended


@pytest.mark.parametrize(
    ("home", "awaited", "differing", "note", "outcome"),
    [
        (3, 0, 0, None, "done"),
        (3, 0, 0, "solved around", "done, differs"),
        (2, 1, 0, None, "done in part"),  # only what is home is known to be good
        (0, 1, 0, None, "done in part"),
        (0, 0, 2, None, "failed"),
        (1, 0, 2, None, "done in part"),
        (0, 0, 0, None, "failed"),
    ],
)
def test_only_what_is_home_and_as_asked_makes_a_rung_done(
    home: int, awaited: int, differing: int, note: str | None, outcome: str, rig: MakeRig
) -> None:
    one, tally = rig(), Tally(note=note)
    for number in range(1, home + awaited + differing + 1):
        tally.frames.append(number)
        one.run.files.owe(a_frame(number))
        if number <= home:
            one.run.files.came(a_frame(number), HOME)
        elif number > home + awaited:
            one.run.files.came(a_frame(number), HOME, [ISO])
    assert one.outcome(tally) == outcome


# Asking about what the body keeps


def asked(run: Run) -> bool:
    return kept_asked(run, "ISO at 400", "The camera keeps its ISO at 400", 1)


def test_the_person_is_asked_once_for_a_setting_and_the_body_is_believed_again(rig: MakeRig) -> None:
    one = rig()
    one.run.hand.stuck.iso = 400.0
    say_at(one.run, 5.0, "answer")
    assert [asked(one.run), asked(one.run)] == [True, False]
    assert one.telling.of(Turn)[0].reason == (
        "The camera keeps its ISO at 400. Set its ISO on the body, and its dial to M."
    )
    assert not one.run.hand.stuck.anything()


def test_who_leaves_it_leaves_the_setting_known_and_nobody_is_asked_where_the_plan_skips(rig: MakeRig) -> None:
    one = rig()
    one.run.hand.stuck.iso = 400.0
    say_at(one.run, 5.0, "skip")
    assert not asked(one.run)
    assert one.run.hand.stuck.iso == 400.0
    skips = rig('[run]\nwhen_refused = "skip"\n')
    assert (asked(skips.run), asked(skips.run), skips.telling.of(Turn)) == (True, False, [])


# What is known as it opens

BULBS = BASE + '[rungs]\ntimes = ["1m"]\nframes = 2\n' + TEN


class Reading(Reader):
    """A reader that still has a frame to read."""

    def left(self) -> int:
        return 1


@pytest.mark.parametrize(("text", "waits"), [(BULBS, 1), (TEXT.format(""), 0)])
def test_a_bulb_rung_begins_once_all_frames_before_it_were_read(rig: MakeRig, text: str, waits: int) -> None:
    """However sure the light is: while it is open nothing more can be told of it. Its second frame is not held up."""
    one = rig(text=text, reader=Reading())
    one.take_all()
    assert one.did.count("await readings") == waits
    assert one.did[0] == ("await readings" if waits else "open")


BY_LABEL, MEASURED = Filter.of("Ten", stops=10), Filter.of("Six", stops=6, measured_stops=6.1)
UNSURE_BASE = "measured = false\nuncertainty_stops = {}\n"


@pytest.mark.parametrize(
    ("stack", "base", "time_s", "seen", "darker"),
    [
        ((), "", 60.0, False, 0.0),
        ((MEASURED,), "", 60.0, False, 0.0),
        ((MEASURED, BY_LABEL), "", 60.0, False, 1 / 3),
        ((BY_LABEL,), "", 60.0, True, 0.0),  # a frame through it was read
        ((BY_LABEL,), "", 0.5, False, 0.0),  # a short one is only taken again
        ((BY_LABEL,), "", 1.0, False, 1 / 3),
        ((), UNSURE_BASE.format(0.5), 60.0, False, 0.5),
        ((BY_LABEL,), UNSURE_BASE.format(0.2), 60.0, False, 1 / 3),  # the larger of both
    ],
)
def test_a_long_rung_is_darker_while_what_it_is_made_with_is_not_measured(
    stack: tuple[Filter, ...], base: str, time_s: float, seen: bool, darker: float
) -> None:
    text = f'[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n{base}[rungs]\ntimes = ["1/125"]\n'
    rung = replace(ladder_of(text).rungs[0], choice=a_choice(stack=stack, time_s=time_s))
    usual = plan_of(text, HEAD.replace('darker_by = "nothing"\n', ""))
    assert unsure_stops(usual, rung, seen=seen) == pytest.approx(darker)
    assert unsure_stops(plan_of(text), rung, seen=seen) == 0.0, "where the plan wants nothing darker"
