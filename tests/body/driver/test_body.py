"""A real body without its library: what is sent when, what is believed, and how a session that is gone is replaced."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.body.choices import ABILITIES
from tests.body.driver.fakes import SWITCH, FakeSession, failure, listed
from tether.body.driver import body as body_module
from tether.body.driver.body import RECOVERY_S, DriverBody
from tether.body.driver.errors import BAD_PARAMETERS, BUSY, GENERIC, IO, LISTENING, TIMEOUT, LibraryError
from tether.body.driver.profile import (
    ConfigWrite,
    DialReading,
    Events,
    Frames,
    Link,
    LiveSteps,
    Look,
    Profile,
    Release,
    TellEntries,
)
from tether.body.driver.session import ConfigEntry, LibraryEvent, Session
from tether.body.protocol import BULB, CardFile, Settings
from tether.clock import SteppedClock, to_ns
from tether.errors import BusyError, CameraError, LostError, TetherError

PROFILE = Profile(
    models=("Fake*",),
    time=DialReading(entries=("speed",), bulb=("bulb",)),
    aperture=DialReading(entries=("f",)),
    iso=DialReading(entries=("iso",)),
    release=(
        Release(
            name="switch",
            needs=("bulb",),
            open=(ConfigWrite(entry="bulb", value=1),),
            close=(ConfigWrite(entry="bulb", value=0),),
            else_close=((ConfigWrite(entry="second", value=0),),),
        ),
    ),
    look={"card": Look(entries=("target",), good=("Card",), remedy="Set it.", set_to=("Card",))},
    tell=TellEntries(battery=("battery",), frames_left=("left",), format=("format",)),
    events=Events(every_s=2.0, slice_s=0.1, slowest_s=0.5, tells_open="Open for"),
    frames=Frames(quiet_s=2.0, write_s=30.0),
)
HELD = Settings(time=BULB, aperture="f/8", iso="100")
TIMED = Settings(time="1/8", aperture="f/8", iso="100")
ADDED = LibraryEvent(kind="file", folder="/card", name="A_0001.CR3")


class Body(FakeSession):
    """A fake session of a whole body, with its own clock."""

    clock: SteppedClock
    trigger_error: LibraryError | None = None
    listen_error: LibraryError | None = None
    heard: int = 0

    @property
    def model(self) -> str:
        return "Fake 1"

    def trigger(self) -> None:
        if self.trigger_error:
            raise self.trigger_error
        self.events.append(ADDED)

    def listen(self, slice_s: float) -> LibraryEvent:
        self.heard += 1
        if self.listen_error:
            raise self.listen_error
        event = super().listen(slice_s)
        if event.kind == "nothing":
            self.clock.wait_until(self.clock.now_ns() + to_ns(slice_s))
        return event


def a_session(clock: SteppedClock) -> Body:
    session = Body(
        entries={
            "speed": listed("1/125", "bulb", "30", "1/8", "1/125"),
            "f": listed("11", "8", "11"),
            "iso": listed("200", "100", "200"),
            "target": listed("RAM", "RAM", "Card"),
            "battery": listed("85%"),
            "left": listed("412"),
            "format": listed("RAW"),
            "bulb": SWITCH,
            "second": SWITCH,
        }
    )
    session.clock = clock
    return session


class Reached:
    """Stands in for the recovery: hands out the sessions it was given, in order; an error in their place is raised."""

    def __init__(self, *sessions: Session | LibraryError) -> None:
        self._sessions = list(sessions)
        self.asked = 0

    def first_session(self) -> Session:
        return self.new_session(None)

    def new_session(self, _old: Session | None, _why: str = "") -> Session:
        self.asked += 1
        session = self._sessions.pop(0)
        if isinstance(session, LibraryError):
            raise session
        return session


class Bench:
    """A body on fake sessions, and what it told."""

    def __init__(
        self, folder: Path, monkeypatch: pytest.MonkeyPatch, *more: Session | LibraryError, profile: Profile = PROFILE
    ) -> None:
        self.clock = SteppedClock()
        self.session = a_session(self.clock)
        for one in more:
            if isinstance(one, Body):
                one.clock = self.clock
        self.reached = Reached(self.session, *more)
        monkeypatch.setattr(body_module, "Recovery", lambda *_: self.reached)
        self.told: list[str] = []
        folder.mkdir(exist_ok=True)
        self.body = DriverBody(ABILITIES, Link(profile=profile), folder, self.clock, self.tell)

    def tell(self, text: str, _kept: str = "", /) -> None:
        self.told.append(text)

    def open(self) -> None:
        """Open the shutter as the hold does."""
        self.body.close_shutter()
        self.body.apply(HELD)
        self.body.prepare()
        self.body.open_shutter()

    def written(self) -> list[tuple[str, str | int]]:
        return self.session.written


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    return Bench(tmp_path / "body", monkeypatch)


def test_a_fresh_session_sends_one_close_and_later_ones_are_harmless(bench: Bench) -> None:
    bench.body.close_shutter()
    bench.body.close_shutter()
    assert [one for one in bench.written() if one[0] == "bulb"] == [("bulb", 0)]


def test_a_body_that_refuses_to_close_what_it_never_opened_is_shut(bench: Bench) -> None:
    bench.session.fails = {("bulb", 0): [failure(GENERIC)], ("second", 0): [failure(GENERIC)]}
    bench.body.close_shutter()
    assert bench.body.status().busy is False


def test_the_hold_costs_one_command_each_way(bench: Bench) -> None:
    bench.open()
    before = len(bench.written())
    bench.body.close_shutter()
    assert bench.written()[before - 1 :] == [("bulb", 1), ("bulb", 0)]


def test_while_open_nothing_else_is_done(bench: Bench) -> None:
    bench.open()
    for ask in (lambda: bench.body.apply(TIMED), bench.body.card_files, bench.body.put_back, bench.body.take):
        with pytest.raises(BusyError):
            ask()


@pytest.mark.parametrize("is_cut", [True, False])
def test_a_file_that_is_refused_because_the_line_is_cut_is_no_refusal(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, is_cut: bool
) -> None:
    """The library gives one code for both; a line that is cut can't be listened to either."""

    def refuse(*_: object) -> int:
        raise LibraryError(BAD_PARAMETERS, "hand over A_0001.CR3", "")

    monkeypatch.setattr(bench.session, "fetch", refuse)
    bench.session.listen_error = LibraryError(IO, LISTENING, "") if is_cut else None
    with pytest.raises(LostError if is_cut else CameraError) as told:
        bench.body.fetch(CardFile(folder="/card", name="A_0001.CR3", number=1, size=9), tmp_path / "a")
    assert isinstance(told.value, LostError) == is_cut


ON, PICTURE, OFF = ("second", 1), ("picture", ""), ("second", 0)


@pytest.mark.parametrize(
    "needs_shutter",
    [
        lambda body: body.prepare(),
        lambda body: body.apply(TIMED),
        lambda body: body.put_back(),
        lambda body: body.leave(),
    ],
)
def test_live_view_is_off_before_anything_that_needs_the_shutter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, needs_shutter: Callable[[DriverBody], object]
) -> None:
    bench = Bench(tmp_path, monkeypatch, profile=replace(PROFILE, live=LiveSteps(switch="second")))
    bench.body.apply(HELD)
    bench.body.live(tmp_path / "live.jpg", None)
    before = len(bench.written())
    needs_shutter(bench.body)
    assert bench.written()[before - 2 : before + 1] == [ON, PICTURE, OFF]


def test_live_view_that_a_lost_session_left_on_is_switched_off_before_a_frame(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    second = a_session(SteppedClock())
    bench = Bench(tmp_path, monkeypatch, second, profile=replace(PROFILE, live=LiveSteps(switch="second")))
    bench.body.apply(TIMED)
    bench.body.live(tmp_path / "live.jpg", None)
    bench.session.listen_error = failure(IO)
    bench.clock.wait_until(bench.clock.now_ns() + to_ns(10))
    bench.body.attend(None)
    bench.body.close_shutter()
    bench.body.take()
    assert bench.reached.asked == 2
    assert second.written == [OFF]


def test_events_are_heard_while_open_but_none_near_the_close(bench: Bench) -> None:
    bench.open()
    heard, now_ns = bench.session.heard, bench.clock.now_ns()
    bench.body.attend(now_ns + to_ns(100))
    assert bench.session.heard == heard, "it was heard a moment ago"
    bench.clock.wait_until(now_ns + to_ns(3))
    bench.body.attend(bench.clock.now_ns() + to_ns(0.4))
    assert bench.session.heard == heard, "it could last beyond the close"
    bench.session.events = [LibraryEvent(kind="text", text="Open for 3")]
    bench.body.attend(bench.clock.now_ns() + to_ns(50))
    assert bench.session.heard == heard + 1
    bench.body.close_shutter()
    assert bench.body.said_open_s() == 3.0


def test_an_opening_that_was_refused_is_closed_to_be_sure(bench: Bench) -> None:
    bench.body.close_shutter()
    bench.body.apply(HELD)
    bench.body.prepare()
    bench.session.fails = {("bulb", 1): [failure(GENERIC, "no")]}
    with pytest.raises(CameraError):
        bench.body.open_shutter()
    assert bench.written()[-1] == ("bulb", 0)


def test_a_close_that_fails_is_an_error_and_is_tried_anew(bench: Bench) -> None:
    bench.open()
    bench.session.fails = {("bulb", 0): [failure(TIMEOUT)], ("second", 0): [failure(TIMEOUT)]}
    with pytest.raises(BusyError):
        bench.body.close_shutter()
    assert bench.body.status().busy
    bench.body.close_shutter()
    assert not bench.body.status().busy


def test_a_close_that_fails_twice_may_have_shut_it_and_the_file_tells(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some bodies call it an error while they work on the frame (gphoto/libgphoto2 issue 588)."""
    slow = replace(PROFILE, release=(replace(PROFILE.release[0], error_may_mean_shut=True, else_close=()),))
    bench = Bench(tmp_path / "body", monkeypatch, profile=slow)
    bench.open()
    bench.session.fails = {("bulb", 0): [failure(BUSY), failure(BUSY)]}
    with pytest.raises(BusyError):
        bench.body.close_shutter()
    bench.body.close_shutter()
    bench.session.events = [ADDED]
    assert len(bench.body.new_files(1, 5.0)) == 1
    bench.open()
    bench.session.fails = {("bulb", 0): [failure(BUSY), failure(BUSY)]}
    with pytest.raises(BusyError):
        bench.body.close_shutter()
    bench.body.close_shutter()
    closes = bench.written().count(("bulb", 0))
    assert bench.body.new_files(1, 1.0) == ()
    assert bench.written().count(("bulb", 0)) == closes + 1


def test_bulb_that_is_not_offered_says_what_to_do(bench: Bench) -> None:
    bench.session.entries["speed"] = listed("1/125", "30", "1/8", "1/125")
    offers = bench.body.offers()
    assert offers.held_by is None
    assert "turn it to M" in (offers.why_not_held or "")
    with pytest.raises(CameraError, match="bulb"):
        bench.body.apply(HELD)


def test_a_value_that_is_applied_late_is_waited_for(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Bodies that announce a change late: the old value is read for a while."""
    slow, read = {"reads": 0}, bench.session.read

    def reads_late(name: str) -> Any:
        entry = read(name)
        if name == "speed" and entry.value == "1/8":
            slow["reads"] += 1
            return entry if slow["reads"] > 4 else replace(entry, value="1/125")
        return entry

    monkeypatch.setattr(bench.session, "read", reads_late)
    assert bench.body.apply(TIMED).settings == TIMED


def test_a_value_that_stays_as_it_was_is_read_back_as_it_is(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench.session, "write", lambda *_: None)
    read = bench.body.apply(TIMED)
    assert (read.settings.time, read.time_s) == ("1/125", 2**-7)


def test_a_value_that_can_not_be_set_from_here_is_left_to_the_person(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mute = a_session(SteppedClock())
    del mute.entries["iso"]
    bench = Bench(tmp_path / "body", monkeypatch, mute)
    body = DriverBody(ABILITIES, Link(profile=PROFILE), tmp_path / "body", bench.clock, bench.tell)
    read = body.apply(TIMED)
    assert (read.settings.iso, read.iso) == ("", None)
    assert body.offers().isos == ()


def test_a_timed_frame_is_over_when_its_files_are_there(bench: Bench) -> None:
    bench.body.close_shutter()
    bench.body.apply(TIMED)
    bench.body.take()
    (frame,) = bench.body.new_files(1, 10.0)
    assert frame.name == "A_0001.CR3"


def test_a_frame_whose_trigger_was_not_answered_may_have_been_made(bench: Bench) -> None:
    bench.body.close_shutter()
    bench.body.apply(TIMED)
    bench.session.trigger_error = failure(TIMEOUT)
    with pytest.raises(LostError):
        bench.body.take()
    bench.session.trigger_error = failure(BUSY)
    with pytest.raises(BusyError):
        bench.body.take()


def test_it_is_put_back_as_it_was_first_found_even_by_another_session(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = Bench(tmp_path / "body", monkeypatch)
    first.body.close_shutter()
    first.body.apply(HELD)
    assert first.session.read("target").text == "Card"
    second = Bench(tmp_path / "body", monkeypatch)
    second.session.entries.update(first.session.entries)
    second.body.close_shutter()
    assert second.body.put_back() == ()
    texts = {name: second.session.read(name).text for name in ("speed", "f", "iso", "target")}
    assert texts == {"speed": "1/125", "f": "11", "iso": "200", "target": "RAM"}


def test_a_body_that_is_busy_is_put_back_later_and_nothing_is_forgotten(bench: Bench) -> None:
    bench.body.close_shutter()
    bench.body.apply(HELD)
    bench.session.fails[("iso", "200")] = [failure(BUSY)]
    with pytest.raises(BusyError):
        bench.body.put_back()
    assert bench.body.put_back() == ()
    assert bench.session.read("iso").text == "200"


def test_a_lost_session_is_replaced_when_the_camera_is_reached_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = SteppedClock()
    again = a_session(clock)
    again.card = [("/card", "A_0001.CR3")]
    bench = Bench(tmp_path / "body", monkeypatch, failure(IO), again)
    bench.open()
    bench.session.fails = {("bulb", 0): [failure(IO)]}
    with pytest.raises(LostError):
        bench.body.close_shutter()
    with pytest.raises(LostError):
        bench.body.status()
    with pytest.raises(LostError):
        bench.body.close_shutter()
    bench.body.close_shutter()
    assert ("bulb", 0) in again.written
    assert [one.name for one in bench.body.new_files(1, 5.0)] == ["A_0001.CR3"]


def test_a_frame_that_was_told_of_before_the_session_was_lost_is_handed_out_by_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    again = a_session(SteppedClock())
    again.card = [("/card", "A_0001.CR3")]
    bench = Bench(tmp_path / "body", monkeypatch, again)
    bench.body.close_shutter()
    bench.body.apply(TIMED)
    bench.body.take()

    def lost(*_: str) -> int:
        raise failure(IO)

    monkeypatch.setattr(bench.session, "size", lost)
    with pytest.raises(LostError):
        bench.body.new_files(1, 5.0)
    bench.body.close_shutter()
    assert [one.name for one in bench.body.new_files(1, 5.0)] == ["A_0001.CR3"]


def test_a_frame_is_handed_out_later_where_the_shutter_can_not_be_closed_meanwhile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = Bench(tmp_path / "body", monkeypatch)
    bench.session.events.append(ADDED)
    bench.session.fails = {("bulb", 0): [failure(BUSY)], ("second", 0): [failure(BUSY)]}
    with pytest.raises(BusyError):
        bench.body.new_files(2, 5.0)
    assert [one.name for one in bench.body.new_files(1, 5.0)] == ["A_0001.CR3"]


def test_a_loss_in_a_long_hold_is_mended_long_before_the_close_and_keeps_it_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    again = a_session(SteppedClock())
    bench = Bench(tmp_path / "body", monkeypatch, again)
    bench.open()
    bench.session.listen_error = failure(IO)
    for wait_s, left_s, asked in ((3, 300, 1), (3, RECOVERY_S - 1, 1), (3, 200, 2)):
        bench.clock.wait_until(bench.clock.now_ns() + to_ns(wait_s))
        bench.body.attend(bench.clock.now_ns() + to_ns(left_s))
        assert bench.reached.asked == asked
    assert again.written == []
    bench.body.close_shutter()
    assert ("bulb", 0) in again.written


def test_a_shutter_is_not_taken_to_be_shut_where_a_busy_body_does_not_tell_how_it_is_closed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    again = a_session(SteppedClock())
    bench = Bench(tmp_path / "body", monkeypatch, again)
    bench.open()
    bench.session.listen_error = failure(IO)
    busy, read = ["at its beginning", "at the close"], again.read

    def busy_or(name: str) -> ConfigEntry:
        if name == "bulb" and busy:
            busy.pop()
            raise failure(BUSY)
        return read(name)

    monkeypatch.setattr(again, "read", busy_or)
    for asked in (1, 2):
        bench.clock.wait_until(bench.clock.now_ns() + to_ns(3))
        bench.body.attend(bench.clock.now_ns() + to_ns(300))
        assert bench.reached.asked == asked
    with pytest.raises(BusyError):
        bench.body.close_shutter()
    assert ("bulb", 0) not in again.written
    bench.body.close_shutter()
    assert ("bulb", 0) in again.written


def test_a_body_that_is_busy_from_the_beginning_can_be_closed_and_is_put_back_as_it_was_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may be holding open a shutter that a camera process before left open."""
    busy, read = [True], Body.read

    def busy_or(session: Body, name: str) -> ConfigEntry:
        if busy and name in ("speed", "f", "iso", "target"):
            raise failure(BUSY)
        return read(session, name)

    monkeypatch.setattr(Body, "read", busy_or)
    bench = Bench(tmp_path / "body", monkeypatch)
    bench.body.close_shutter()
    assert bench.written() == [("bulb", 0)]
    with pytest.raises(BusyError):
        bench.body.look()
    busy.clear()
    bench.body.apply(HELD)
    assert bench.session.read("target").text == "Card"
    assert bench.body.put_back() == ()
    texts = {name: bench.session.read(name).text for name in ("speed", "f", "iso", "target")}
    assert texts == {"speed": "1/125", "f": "11", "iso": "200", "target": "RAM"}


def test_a_body_that_can_not_be_opened_is_let_go_for_the_next_try(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ended: list[Session] = []

    def fails(_session: Body, _name: str) -> ConfigEntry:
        raise failure(IO)

    monkeypatch.setattr(Body, "read", fails)
    monkeypatch.setattr(Body, "end", lambda session: ended.append(session))
    with pytest.raises(LostError):
        Bench(tmp_path / "body", monkeypatch)
    assert len(ended) == 1


def test_after_leaving_nothing_can_be_asked(bench: Bench) -> None:
    bench.body.leave()
    bench.body.leave()
    for ask in (bench.body.status, bench.body.close_shutter, bench.body.read_back, bench.body.offers):
        with pytest.raises(TetherError):
            ask()


def test_another_body_than_the_files_is_a_stop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench(tmp_path / "body", monkeypatch)
    assert [found.verdict for found in bench.body.look() if found.what == "body file"] == ["ok"]
    monkeypatch.setattr(Body, "model", property(lambda _: "Other 2"))
    (found,) = (found for found in bench.body.look() if found.what == "body file")
    assert found.verdict == "stop"
    assert "Other 2" in found.sentence


def test_for_a_frame_that_is_missing_the_session_is_given_up_once_in_a_while(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A frame that is nowhere is not looked for by one session after another."""
    sessions = [a_session(SteppedClock()) for _ in range(2)]
    bench = Bench(tmp_path / "body", monkeypatch, *sessions)
    for session in (bench.session, *sessions):
        session.has_listed = True
    bench.body.close_shutter()
    for _ in range(5):
        assert bench.body.new_files(1, 1.0) == ()
    assert bench.reached.asked == 2  # the first session, and one anew
    bench.clock.wait_until(bench.clock.now_ns() + to_ns(60.0))
    assert bench.body.new_files(1, 1.0) == ()
    assert bench.reached.asked == 3


def test_a_session_that_could_not_be_begun_for_a_missing_frame_is_begun_by_the_next_request(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The one before has ended by then: what is asked of it would be answered by nobody."""
    again = a_session(SteppedClock())
    again.card = [("/card", "A_0001.CR3")]
    bench = Bench(tmp_path / "body", monkeypatch, failure(BUSY), again)
    bench.session.has_listed = True
    bench.body.close_shutter()
    with pytest.raises(BusyError):
        bench.body.new_files(1, 1.0)
    bench.body.close_shutter()
    assert [one.name for one in bench.body.new_files(1, 5.0)] == ["A_0001.CR3"]
