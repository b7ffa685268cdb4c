"""The handle on a camera process, whose other end is a thread here: what it asks, how long it waits, what it tells."""

from __future__ import annotations

import contextlib
import dataclasses
import queue
import socket
import subprocess
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.body.choices import choice
from tether.body import remote, stamps
from tether.body.process import STAMPS_NAME, START_NAME
from tether.body.protocol import CameraEvent, CardFile, Changed, Ended, Failed, Opened, Order, SceneChange, Status
from tether.body.remote import CameraProcess, open_until_ns
from tether.body.stamps import Stamps, timebase_of
from tether.body.wire import Message, Wire, pack, packed_error, unpack
from tether.clock import AffineClock, to_ns
from tether.errors import BusyError, CameraError, LostError

PACE = 10.0
HELD = Order(frame=5, way="held", command_s=3000.0)
STATUS = Status(battery=0.5, card_frames_left=7, temperature_c=None, busy=False)


class Other:
    """A process at the other end of the line that answers as told; what it does not know, it leaves unanswered."""

    def __init__(self, answers: dict[str, Any]) -> None:
        ours, theirs = socket.socketpair()
        self.line, self._theirs, self._end = Wire(ours), Wire(theirs), theirs
        self.answers = answers
        self.asked: list[tuple[str, Any]] = []
        self.heard = queue.SimpleQueue[str]()
        self.terminated = False
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def close(self) -> None:
        self.wait()
        self._thread.join()
        self._theirs.close()

    def _serve(self) -> None:
        with contextlib.suppress(EOFError, OSError):
            while True:
                message = self._theirs.receive()
                ask = message["ask"]
                self.asked.append((ask, unpack(message["with"])))
                self.heard.put(ask)
                if ask in self.answers and message["id"] is not None:
                    self.say({"id": message["id"], **_answer(self.answers[ask])})

    def say(self, message: Message) -> None:
        self._theirs.send(message)

    def tell(self, event: CameraEvent) -> None:
        self.say({"event": pack(event)})

    def garble(self) -> None:
        self._end.sendall(b"garbage\n")

    def ask_of(self, ask: str) -> Any:
        """Return what was sent with the last request of this kind."""
        return [values for asked, values in self.asked if asked == ask][-1]

    # As a process

    def wait(self, within_s: float | None = None) -> int:
        with contextlib.suppress(OSError):
            self._end.shutdown(socket.SHUT_RDWR)
        return 0

    def terminate(self) -> None:
        self.terminated = True


def _answer(value: Any) -> Message:
    if isinstance(value, Exception):
        return {"error": packed_error(value)}  # type: ignore[arg-type]
    return {"answer": pack(value)}


@dataclasses.dataclass
class Rig:
    """The processes that were started one after the other, what the next one answers, and what is told."""

    folder: Path
    clock: AffineClock = dataclasses.field(default_factory=lambda: AffineClock.started_now(PACE))
    box: queue.SimpleQueue[CameraEvent] = dataclasses.field(default_factory=queue.SimpleQueue)
    others: list[Other] = dataclasses.field(default_factory=list)
    cameras: list[CameraProcess] = dataclasses.field(default_factory=list)
    answers: dict[str, Any] = dataclasses.field(default_factory=lambda: {"start": None, "leave": None})

    def started(self, words: Path) -> tuple[Other, Wire]:
        self.others.append(Other(dict(self.answers)))
        return self.others[-1], self.others[-1].line

    def camera(self) -> CameraProcess:
        self.cameras.append(CameraProcess(choice(self.folder), self.clock, self.box))
        return self.cameras[-1]

    def held(self) -> tuple[CameraProcess, Other]:
        """Return a camera with a shutter that is open."""
        camera = self.camera()
        other = self.others[-1]
        camera.begin(HELD)
        now_ns = self.clock.now_ns()
        other.tell(Opened(frame=5, at_ns=now_ns, closes_at_ns=now_ns + to_ns(HELD.command_s)))
        assert isinstance(self.told(), Opened)
        return camera, other

    def told(self) -> CameraEvent:
        return self.box.get(timeout=10)

    def stamps(self, **known: Any) -> Stamps:
        return Stamps(
            **{
                "frame": 5,
                "way": "held",
                "asked_s": HELD.command_s,
                "timebase": timebase_of(self.clock),
                "open_called_ns": 1000,
                "open_returned_ns": 2000,
                "closes_at_ns": 9000,
                **known,
            }
        )


@pytest.fixture
def rig(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Rig]:
    rig = Rig(tmp_path / "body")
    monkeypatch.setattr(remote, "_started", rig.started)
    monkeypatch.setattr(remote, "_LOOK_S", 0.01)
    yield rig
    for camera in rig.cameras:
        camera.leave()
    for other in rig.others:
        other.close()


@pytest.fixture
def allowed(monkeypatch: pytest.MonkeyPatch) -> dict[str, float]:
    """How long each request was allowed to take, by its name."""
    allowed: dict[str, float] = {}
    ask = remote._Child.ask

    def noted(child: Any, question: str, values: Any, allow_s: float) -> Any:
        allowed[question] = allow_s
        return ask(child, question, values, allow_s)

    monkeypatch.setattr(remote._Child, "ask", noted)
    return allowed


# Asking


def test_a_question_is_answered_by_a_record_or_by_an_error_of_its_kind(rig: Rig) -> None:
    rig.answers |= {"status": STATUS, "identify": CameraError("Switch it on.", "Then try again.")}
    camera = rig.camera()
    assert camera.status() == STATUS
    with pytest.raises(CameraError) as caught:
        camera.identify()
    assert caught.value.sentences == ("Switch it on.", "Then try again.")


def test_an_answer_to_an_earlier_question_is_passed_over(rig: Rig) -> None:
    camera = rig.camera()
    rig.others[0].say({"id": 1, "answer": "late"})
    rig.others[0].answers["status"] = STATUS
    assert camera.status() == STATUS


def test_each_question_is_given_the_time_it_may_need(rig: Rig, allowed: dict[str, float]) -> None:
    file = CardFile(folder="/", name="A.DNG", number=1, size=None)
    rig.answers |= {"status": STATUS, "card_files": (), "new_files": (), "fetch": 9}
    camera = rig.camera()
    camera.status()
    camera.card_files()
    camera.fetch(file, Path("x"))
    camera.new_files(1, 50.0)
    # 50 s of a clock ten times as fast are 5 real ones, beside the 30 that any question may take.
    usual = {"start": 60.0, "status": 30.0, "card_files": 120.0, "fetch": 300.0, "new_files": 35.0}
    assert allowed == pytest.approx(usual)


def test_a_start_may_take_as_long_as_an_earlier_process_still_holds(rig: Rig, allowed: dict[str, float]) -> None:
    rig.folder.mkdir()
    stamps.make_file(rig.folder / STAMPS_NAME)
    closes_at_ns = rig.clock.now_ns() + to_ns(5000.0)
    stamps.write(rig.folder / STAMPS_NAME, rig.stamps(closes_at_ns=closes_at_ns))
    rig.camera()
    assert 60.0 + 490.0 < allowed["start"] <= 60.0 + 500.0


def test_what_is_not_answered_in_time_is_given_up(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    camera = rig.camera()
    monkeypatch.setattr(remote, "ALLOW_S", 0.01)
    with pytest.raises(LostError, match=r"did not answer 'status' within 0 s and was given up\."):
        camera.status()
    assert rig.others[0].terminated


# While a shutter is open


def test_while_a_frame_is_in_hand_only_what_a_person_does_is_passed_on(rig: Rig, allowed: dict[str, float]) -> None:
    rig.answers |= {"status": STATUS, "stage": None}
    camera, other = rig.held()
    for busy in (camera.status, lambda: camera.begin(HELD)):
        with pytest.raises(BusyError):
            busy()
    camera.stage(SceneChange(capped=True))
    # What is left of 3000 s, ten times as fast, and 30 s beside, twice: for the exposure's end and for the answer.
    assert 300.0 < allowed["stage"] <= 360.0
    other.tell(Ended(frame=5, opening=rig.stamps(closed_by="planned").opening(9000)))
    assert isinstance(rig.told(), Ended)
    assert camera.status() == STATUS


def test_words_about_the_close_go_out_unanswered(rig: Rig) -> None:
    camera, other = rig.held()
    camera.change(-3)
    camera.close_now()
    while other.heard.get(timeout=10) != "close_now":
        pass
    assert other.asked[-2:] == [("change", (-3.0,)), ("close_now", ())]


@pytest.mark.parametrize("moved", [False, True])
def test_an_exposure_whose_end_is_not_told_in_time_is_lost(
    rig: Rig, moved: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(remote, "ALLOW_S", 0.02)
    camera = rig.camera()
    stamps.write(rig.folder / STAMPS_NAME, rig.stamps())
    camera.begin(HELD)
    now_ns = rig.clock.now_ns()
    later_ns = now_ns + to_ns(HELD.command_s)
    rig.others[0].tell(Opened(frame=5, at_ns=now_ns, closes_at_ns=later_ns if moved else now_ns))
    assert isinstance(rig.told(), Opened)
    if moved:
        rig.others[0].tell(Changed(frame=5, closes_at_ns=now_ns))
        assert isinstance(rig.told(), Changed)
    loss = rig.told()
    assert isinstance(loss, Failed)
    assert "did not report the end of an exposure in time" in loss.sentences[0]
    assert loss.opening is not None
    assert loss.opening.closed_by == "lost"


# Losing it, and another in its place


def broken(other: Other, how: str) -> None:
    if how == "gone":
        other.wait()
    elif how == "garbled":
        other.garble()
    else:
        other.say({"event": pack(STATUS)})


@pytest.mark.parametrize(
    ("how", "said", "by_force"),
    [
        ("gone", "ended unexpectedly", False),
        ("garbled", "sent a line that is not JSON", True),
        ("no event", "sent an event that is none", True),
    ],
)
def test_a_loss_ends_the_frame_with_what_its_stamps_tell(rig: Rig, how: str, said: str, by_force: bool) -> None:
    camera, other = rig.held()
    stamps.write(rig.folder / STAMPS_NAME, rig.stamps())
    before_ns = rig.clock.now_ns()
    broken(other, how)
    loss = rig.told()
    assert isinstance(loss, Failed)
    where = rig.folder / remote.LOG_NAME
    assert (loss.frame, loss.kind) == (5, "lost")
    assert loss.sentences == (f"The camera process {said}; what it said last is in {where}.",)
    assert loss.opening is not None
    assert (loss.opening.open_called_ns, loss.opening.closed_by) == (1000, "lost")
    assert before_ns <= loss.opening.close_called_ns <= rig.clock.now_ns()
    assert other.terminated is by_force
    for asked in (camera.status, camera.close_now, lambda: camera.begin(HELD)):
        with pytest.raises(LostError, match=said):
            asked()


def test_stamps_of_another_frame_tell_nothing_of_the_one_that_was_lost(rig: Rig) -> None:
    _, other = rig.held()
    stamps.write(rig.folder / STAMPS_NAME, rig.stamps(frame=4))
    other.wait()
    loss = rig.told()
    assert isinstance(loss, Failed)
    assert loss.opening is None


def test_a_camera_that_is_not_lost_is_asked_to_reach_again_itself(rig: Rig) -> None:
    rig.answers["reach_again"] = None
    rig.camera().reach_again()
    assert [ask for ask, _ in rig.others[0].asked] == ["start", "reach_again"]


@pytest.mark.parametrize(("way", "told"), [("held", True), ("timed", False)])
def test_another_process_learns_when_the_shutter_was_last_seen_open_and_its_end_is_told(
    rig: Rig, way: str, told: bool
) -> None:
    camera, other = rig.held()
    before_ns = rig.clock.now_ns()
    other.wait()
    loss = rig.told()
    assert isinstance(loss, Failed)
    rig.answers["start"] = rig.stamps(way=way, closed_by="lost", close_called_ns=4000, close_returned_ns=9500)
    camera.reach_again()
    seen_open_ns = rig.others[1].ask_of("start")["seen_open_ns"]
    assert before_ns <= seen_open_ns <= rig.clock.now_ns()
    assert rig.others[0].ask_of("start")["seen_open_ns"] is None
    assert rig.box.empty() is not told
    if told:
        end = rig.told()
        assert isinstance(end, Ended)
        assert (end.frame, end.opening.closed_by, end.opening.close_returned_ns) == (5, "lost", 9500)


def test_a_start_that_fails_can_be_tried_again_and_the_moment_is_kept(rig: Rig) -> None:
    camera, other = rig.held()
    other.wait()
    rig.told()
    rig.answers["start"] = CameraError("Plug it in.")
    with pytest.raises(CameraError, match=r"Plug it in\."):
        camera.reach_again()
    rig.answers["start"] = None
    camera.reach_again()
    first, second = (one.ask_of("start")["seen_open_ns"] for one in rig.others[1:])
    assert first == second


def test_after_leaving_nothing_can_be_asked(rig: Rig) -> None:
    camera = rig.camera()
    camera.leave()
    assert [ask for ask, _ in rig.others[0].asked] == ["start", "leave"]
    assert not rig.others[0].terminated
    with pytest.raises(LostError, match="over; connect anew"):
        camera.status()


# What is kept in the folder


def test_what_a_start_needs_is_not_written_again_where_it_stands_there(rig: Rig) -> None:
    rig.camera().leave()
    place = rig.folder / START_NAME
    before = place.stat().st_ino
    rig.camera().leave()
    assert place.stat().st_ino == before
    rig.clock = AffineClock.started_now(PACE)
    rig.camera().leave()
    assert place.stat().st_ino != before


@pytest.mark.parametrize(
    ("known", "until_ns"),
    [
        ({}, 9000),
        ({"shut": True}, None),
        ({"timebase": "another"}, None),
        ({"closes_at_ns": None}, None),
    ],
)
def test_a_shutter_is_open_until_its_close_as_far_as_this_clock_knows(
    rig: Rig, known: dict[str, Any], until_ns: int | None
) -> None:
    rig.folder.mkdir()
    assert open_until_ns(rig.folder, rig.clock) is None
    stamps.make_file(rig.folder / STAMPS_NAME)
    stamps.write(rig.folder / STAMPS_NAME, rig.stamps(**known))
    assert open_until_ns(rig.folder, rig.clock) == until_ns


class Stubborn:
    """A process that ends only by force, or on being told to."""

    def __init__(self, *, hears: bool) -> None:
        self.done: list[str] = []
        self._hears = hears

    def terminate(self) -> None:
        self.done.append("terminate")

    def kill(self) -> None:
        self.done.append("kill")

    def wait(self, within_s: float | None = None) -> int:
        if within_s is None or (self._hears and "terminate" in self.done):
            return 0
        raise subprocess.TimeoutExpired("camera", within_s)


@pytest.mark.parametrize(
    ("politely", "hears", "done"),
    [(True, True, ["kill"]), (False, True, ["terminate"]), (False, False, ["terminate", "kill"])],
)
def test_a_process_that_does_not_end_is_ended_by_force(politely: bool, hears: bool, done: list[str]) -> None:
    process: Any = Stubborn(hears=hears)
    end: Callable[..., None] = remote._end
    end(process, politely=politely)
    assert process.done == done
