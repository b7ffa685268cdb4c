"""The camera process as a process: what it loads, what it survives, what is left when it or its starter is killed."""

from __future__ import annotations

import errno
import fcntl
import os
import queue
import select
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from tests.body.choices import choice, really
from tether.body import remote, stamps
from tether.body.process import LOCK_NAME, STAMPS_NAME, alone
from tether.body.protocol import BULB, CameraEvent, Ended, Failed, Opened, Order, Settings, ShutterRecord
from tether.body.remote import CameraProcess, open_until_ns
from tether.body.simulated.faults import Fault
from tether.body.wire import Message, Wire, pack
from tether.clock import AffineClock, to_ns, to_s
from tether.errors import LostError, TetherError

PACE = 1000.0
HELD = Settings(time=BULB, aperture="f/11", iso="100")
#: A long hold, one that no test waits for, and how late a loaded machine may be with a close, on the paced clock [s].
LONG_S = 800.0
ENDLESS_S = 360_000.0
LATE_S = 10_000.0
FORBIDDEN = ("numpy", "pydantic", "rich", "click", "sqlite3", "PIL", "rawpy", "textual", "multiprocessing", "asyncio")

Start = Callable[..., CameraProcess]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "body"


@pytest.fixture
def box() -> queue.SimpleQueue[CameraEvent]:
    return queue.SimpleQueue()


@pytest.fixture
def start(folder: Path, box: queue.SimpleQueue[CameraEvent]) -> Iterator[Start]:
    """Start camera processes that are left at the end of the test."""
    started: list[CameraProcess] = []

    def _start(clock: AffineClock | None = None, *, realtime: bool = True) -> CameraProcess:
        clock = clock or AffineClock.started_now(PACE)
        started.append(CameraProcess(choice(folder), clock, box, realtime=realtime))
        return started[-1]

    yield _start
    for camera in started:
        camera.leave()


def pid_at(folder: Path) -> int:
    return int((folder / LOCK_NAME).read_text())


def wait_until_gone(folder: Path) -> None:
    """Wait until no camera process is at the folder."""
    with (folder / LOCK_NAME).open() as file:
        fcntl.flock(file, fcntl.LOCK_EX)


def begun(camera: CameraProcess, box: queue.SimpleQueue[CameraEvent], open_s: float) -> Opened:
    """Begin a hold, frame 5, and return the event of its opening."""
    camera.apply(HELD)
    camera.begin(Order(frame=5, way="held", command_s=open_s))
    opened = box.get(timeout=30)
    assert isinstance(opened, Opened)
    return opened


def ended(box: queue.SimpleQueue[CameraEvent]) -> ShutterRecord:
    event = box.get(timeout=30)
    assert isinstance(event, Ended)
    return event.opening


def failed(box: queue.SimpleQueue[CameraEvent]) -> Failed:
    event = box.get(timeout=30)
    assert isinstance(event, Failed)
    return event


def really_open_s(folder: Path) -> float:
    """Return how long the one exposure was really open, by the body's own record [s]."""
    (closed,) = really(folder, "closed")
    assert closed["ended_by"] == "command"
    return float(closed["open_s"])


def test_a_fresh_interpreter_loads_little_with_it() -> None:
    code = f"import sys, tether.body.process; print([name for name in {FORBIDDEN} if name in sys.modules])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_the_driver_brings_little_with_it_too() -> None:
    code = f"import sys, tether.body.driver.body; print([name for name in {FORBIDDEN} if name in sys.modules])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_it_is_alone_in_its_session_and_inherits_its_own_line_only(start: Start, folder: Path) -> None:
    read, write = os.pipe()
    os.set_inheritable(write, True)
    try:
        start()
        pid = pid_at(folder)
        assert os.getsid(pid) == os.getpgid(pid) == pid
        inherited = [str(link.readlink()) for link in Path(f"/proc/{pid}/fd").iterdir()]
        assert len([name for name in inherited if name.startswith("socket:")]) == 1
        assert not [name for name in inherited if name.startswith("pipe:")]
    finally:
        os.close(read)
        os.close(write)


# Last words


def test_a_crashed_process_s_last_words_outlast_the_next_process(start: Start, folder: Path) -> None:
    start()
    os.kill(pid_at(folder), signal.SIGSEGV)
    wait_until_gone(folder)
    start()
    said = (folder / remote.LOG_NAME).read_text()
    assert "Fatal Python error: Segmentation fault" in said
    begun = [line for line in said.splitlines() if line.endswith("a camera process starts")]
    assert len(begun) == 2
    assert all(datetime.strptime(line[3:28], "%Y-%m-%d %H:%M:%S %z") for line in begun)


def test_where_its_folder_goes_its_last_words_stay_where_they_are_told_to_be(
    folder: Path, tmp_path: Path, box: queue.SimpleQueue[CameraEvent]
) -> None:
    words = tmp_path / "words.log"
    camera = CameraProcess(replace(choice(folder), words=words), AffineClock.started_now(PACE), box)
    os.kill(pid_at(folder), signal.SIGSEGV)
    with pytest.raises(LostError, match=f"what it said last is in {words}"):
        camera.status()
    camera.leave()
    assert "Fatal Python error: Segmentation fault" in words.read_text()


# The run process is gone


def test_when_its_run_process_is_killed_the_shutter_closes_at_the_planned_moment(start: Start, folder: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "tests.body.run_process", str(folder), str(PACE), str(LONG_S)], stdout=subprocess.PIPE
    ) as run:
        assert run.stdout is not None
        camera_process = os.pidfd_open(int(run.stdout.readline()))
        run.kill()
    try:
        assert select.select([camera_process], [], [], 30)[0], "the camera process did not end"
    finally:
        os.close(camera_process)
    assert LONG_S <= really_open_s(folder) <= LONG_S + LATE_S
    known = stamps.read(folder / STAMPS_NAME)
    assert known is not None
    assert (known.frame, known.asked_s, known.closed_by, known.shut) == (5, LONG_S, "planned", True)
    assert LONG_S <= known.opening(0).held_s <= LONG_S + LATE_S
    assert start().left == known


def test_a_polite_end_leaves_nothing_to_tell(start: Start, box: queue.SimpleQueue[CameraEvent]) -> None:
    camera = start()
    begun(camera, box, 2.0)
    ended(box)
    camera.leave()
    assert start().left is None


# The disk is gone


def no_more_stamps(folder: Path) -> None:
    """Have no stamps be written from now on, whoever this user is, as on a disk that was pulled out."""
    (folder / STAMPS_NAME).unlink()
    (folder / STAMPS_NAME).mkdir()


def test_a_disk_that_fails_in_a_hold_hinders_no_close(
    start: Start, folder: Path, box: queue.SimpleQueue[CameraEvent]
) -> None:
    camera = start()
    begun(camera, box, LONG_S)
    no_more_stamps(folder)
    assert ended(box).closed_by == "planned"
    assert LONG_S <= really_open_s(folder) <= LONG_S + LATE_S
    assert camera.identify().simulated


def test_on_a_disk_that_fails_nothing_is_exposed_and_it_is_said(
    start: Start, folder: Path, box: queue.SimpleQueue[CameraEvent]
) -> None:
    camera = start()
    no_more_stamps(folder)
    camera.begin(Order(frame=5, way="held", command_s=1.0))
    failure = failed(box)
    assert failure.opening is None
    assert f"{folder / STAMPS_NAME} could not be written" in failure.sentences[0]
    assert not (folder / "openings.jsonl").exists(), "the body has written down something that it did"


def test_who_is_at_a_folder_is_kept_on_a_full_disk_as_far_as_it_can_be(tmp_path: Path) -> None:
    """/dev/full answers every write with ENOSPC (Linux, full(4)); the lock is what counts."""
    full = tmp_path / LOCK_NAME
    full.symlink_to("/dev/full")
    with alone(full):
        pass


def test_on_a_disk_that_was_made_read_only_another_can_be_started(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lock = tmp_path / LOCK_NAME
    lock.touch()
    really_open = os.open

    def refuses(path: Path, flags: int, *rest: int) -> int:
        if flags & os.O_RDWR:
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))
        return really_open(path, flags, *rest)

    monkeypatch.setattr("tether.body.process.os.open", refuses)
    with alone(lock), lock.open() as other, pytest.raises(BlockingIOError):
        fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)


# The camera process is gone


def test_when_it_is_killed_while_open_the_next_closes_at_the_planned_moment(
    start: Start, folder: Path, box: queue.SimpleQueue[CameraEvent]
) -> None:
    clock = AffineClock.started_now(PACE)
    camera = start(clock)
    opened = begun(camera, box, LONG_S)
    os.kill(pid_at(folder), signal.SIGKILL)
    loss = failed(box)
    assert (loss.frame, loss.kind) == (5, "lost")
    assert loss.opening is not None
    assert (loss.opening.open_called_ns, loss.opening.closed_by) == (opened.at_ns, "lost")
    seen_open_ns = loss.opening.close_called_ns
    assert opened.at_ns < seen_open_ns < opened.closes_at_ns
    with pytest.raises(LostError):
        camera.status()
    with pytest.raises(LostError):
        camera.begin(Order(frame=6, way="held", command_s=1.0))
    assert open_until_ns(folder, clock) == opened.closes_at_ns
    assert really(folder, "closed") == []

    camera.reach_again()
    assert LONG_S <= really_open_s(folder) <= LONG_S + LATE_S
    late = ended(box)
    assert (late.frame, late.closed_by, late.open_called_ns) == (5, "lost", opened.at_ns)
    assert late.close_called_ns == seen_open_ns
    assert late.close_returned_ns >= opened.closes_at_ns
    assert open_until_ns(folder, clock) is None
    begun(camera, box, 2.0)
    ended(box)


def test_a_run_with_another_clock_closes_a_shutter_left_open_at_once(
    start: Start, folder: Path, box: queue.SimpleQueue[CameraEvent]
) -> None:
    begun(start(), box, ENDLESS_S)
    os.kill(pid_at(folder), signal.SIGKILL)
    failed(box)
    camera = start()
    assert really_open_s(folder) < ENDLESS_S
    assert camera.left is not None
    assert not camera.left.shut
    assert not camera.status().busy


def test_told_to_terminate_it_closes_now_and_ends(
    start: Start, folder: Path, box: queue.SimpleQueue[CameraEvent]
) -> None:
    camera = start()
    begun(camera, box, ENDLESS_S)
    os.kill(pid_at(folder), signal.SIGTERM)
    assert ended(box).closed_by == "camera process"
    wait_until_gone(folder)
    assert really_open_s(folder) < ENDLESS_S
    with pytest.raises(LostError):
        camera.status()


def test_interrupts_and_hang_ups_do_not_touch_it(
    start: Start, folder: Path, box: queue.SimpleQueue[CameraEvent]
) -> None:
    camera = start()
    begun(camera, box, 200.0)
    os.kill(pid_at(folder), signal.SIGINT)
    os.kill(pid_at(folder), signal.SIGHUP)
    opening = ended(box)
    assert opening.closed_by == "planned"
    assert opening.held_s >= 200.0
    assert camera.identify().simulated


def test_when_it_hangs_it_is_ended_and_replaced(start: Start, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    camera = start()
    pid = pid_at(folder)
    monkeypatch.setattr(remote, "ALLOW_S", 0.2)
    monkeypatch.setattr(remote, "END_WITHIN_S", 0.2)
    os.kill(pid, signal.SIGSTOP)
    with pytest.raises(LostError, match="did not answer 'status' within"):
        camera.status()
    assert not Path(f"/proc/{pid}").exists()
    monkeypatch.undo()
    camera.reach_again()
    assert not camera.status().busy


def test_a_body_that_cannot_be_opened_says_why(start: Start, folder: Path) -> None:
    folder.mkdir()
    (folder / "state.json").write_text("{}")
    with pytest.raises(LostError, match=r"state\.json"):
        start()


def test_a_folder_that_cannot_be_made_is_said_in_a_sentence(start: Start, folder: Path) -> None:
    folder.write_text("not a folder")
    with pytest.raises(TetherError, match="body"):
        start()


def test_a_body_that_vanishes_while_open_is_closed_when_it_is_back(
    folder: Path, box: queue.SimpleQueue[CameraEvent]
) -> None:
    clock = AffineClock.started_now(PACE)
    vanishes = Fault(what="vanishes", at_frame=1, after_s=50.0, for_s=600.0)
    camera = CameraProcess(choice(folder, faults=(vanishes,)), clock, box)
    try:
        opened = begun(camera, box, 100.0)
        loss = failed(box)
        assert loss.kind == "lost"
        assert "THE SHUTTER MAY STILL BE OPEN" in loss.sentences[0]
        clock.wait_until(opened.at_ns + to_ns(700.0))
        camera.reach_again()
        late = ended(box)
        assert late.closed_by == "lost"
        assert to_s(late.close_called_ns - late.open_called_ns) < 650.0
        assert late.close_returned_ns - late.open_called_ns >= to_ns(700.0)
        assert really_open_s(folder) >= 650.0
    finally:
        camera.leave()


# Never two, and nothing left behind


def test_never_two_at_a_folder(start: Start, folder: Path) -> None:
    folder.mkdir()
    second: list[CameraProcess] = []
    waiting = threading.Thread(target=lambda: second.append(start()))
    with (folder / LOCK_NAME).open("a") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        waiting.start()
        waiting.join(timeout=1.0)
        assert waiting.is_alive()
        assert not (folder / "state.json").exists()
    waiting.join(timeout=30)
    assert second[0].identify().simulated


HOLDS_IT = """
import fcntl, os, sys, time
with open(sys.argv[1], "a") as file:
    fcntl.flock(file, fcntl.LOCK_EX)
    file.write(f"{os.getpid()}")
    file.flush()
    print("locked", flush=True)
    time.sleep(60)
"""


@contextmanager
def holding(lock: Path, called: str) -> Iterator[subprocess.Popen[bytes]]:
    """Have a process hold a lock for the block, called by these words."""
    command = [sys.executable, "-c", HOLDS_IT, str(lock), called]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == b"locked\n"
        try:
            yield other
        finally:
            other.kill()


def test_one_that_hangs_and_that_nobody_looks_after_is_ended_by_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its run process is gone, so nobody else would: it would keep shutter and camera for good."""
    monkeypatch.setattr("tether.body.process.HANGS_S", 0.1)
    lock = tmp_path / LOCK_NAME
    with holding(lock, "tether.body.process") as other:
        os.kill(other.pid, signal.SIGSTOP)
        with alone(lock):
            assert other.wait(10.0) == -signal.SIGKILL
            assert lock.read_text() == f"{os.getpid()}\n"


@pytest.mark.parametrize(("called", "wait_s"), [("tether.body.process", 60.0), ("another program", 0.0)])
def test_one_that_still_has_its_time_or_is_none_of_ours_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, called: str, wait_s: float
) -> None:
    monkeypatch.setattr("tether.body.process.HANGS_S", 0.1)
    lock = tmp_path / LOCK_NAME
    with holding(lock, called) as other:
        threading.Timer(0.5, other.terminate).start()
        with alone(lock, wait_s):
            assert other.wait(10.0) == -signal.SIGTERM


@pytest.mark.parametrize("how", ["left", "killed", "refused"])
def test_nothing_is_left_behind(start: Start, folder: Path, how: str) -> None:
    def descriptors() -> set[str]:
        return {link.name for link in Path("/proc/self/fd").iterdir()}

    before, threads = descriptors(), threading.active_count()
    if how == "refused":
        folder.mkdir()
        (folder / "state.json").write_text("{}")
        with pytest.raises(LostError):
            start()
    else:
        camera = start()
        assert threading.active_count() == threads + 1
        if how == "killed":
            os.kill(pid_at(folder), signal.SIGKILL)
        camera.leave()
    assert not Path(f"/proc/{pid_at(folder)}").exists()
    assert threading.active_count() == threads
    assert descriptors() == before


@pytest.mark.parametrize("realtime", [True, False])
def test_real_time_scheduling_can_be_forbidden(
    start: Start, box: queue.SimpleQueue[CameraEvent], realtime: bool
) -> None:
    begun(start(realtime=realtime), box, 20.0)
    in_force = ended(box).realtime
    if not realtime:
        assert in_force is False
    assert in_force is not None


# The line


@pytest.fixture
def line(folder: Path) -> Iterator[Wire]:
    """A camera process without its usual handle, started and ready."""
    folder.mkdir()
    stamps.make_file(folder / STAMPS_NAME)
    ours, theirs = socket.socketpair()
    with theirs:
        command = [sys.executable, "-m", "tether.body.process", str(theirs.fileno())]
        process = subprocess.Popen(command, pass_fds=(theirs.fileno(),))
    line = Wire(ours)
    asked = {
        "choice": pack(choice(folder)),
        "clock": pack(AffineClock.started_now(PACE)),
        "realtime": False,
        "seen_open_ns": None,
    }
    line.send({"id": 0, "ask": "start", "with": asked})
    assert line.receive() == {"id": 0, "answer": None}
    yield line
    line.close()
    assert process.wait(timeout=30) == 0


GARBAGE: tuple[Message, ...] = (
    {},
    {"ask": "dance"},
    {"ask": "__class__", "with": []},
    {"ask": "apply", "with": [5]},
    {"ask": "apply", "with": []},
    {"ask": "apply", "with": [{"is": "Settings", "time": "1"}]},
    {"ask": "begin"},
    {"ask": "begin", "with": [{"is": "Stage"}]},
)


def test_a_request_that_means_nothing_is_answered_with_a_sentence(line: Wire) -> None:
    for garbage in GARBAGE:
        line.send(garbage)
        answer = line.receive()
        assert answer["id"] is None, garbage
        (sentence,) = answer["error"]["sentences"]
        assert sentence.endswith("."), garbage
    line.send({"id": 9, "ask": "read_back", "with": []})
    assert line.receive()["id"] == 9


def test_garbage_while_open_is_answered_and_does_not_move_the_close(line: Wire) -> None:
    line.send({"id": 1, "ask": "apply", "with": [{"is": "Settings", "time": BULB, "aperture": "f/11", "iso": "100"}]})
    assert "answer" in line.receive()
    line.send({"ask": "begin", "with": [{"is": "Order", "frame": 1, "way": "held", "command_s": 200.0}]})
    opened = line.receive()["event"]
    assert opened["is"] == "Opened"
    line.send({"ask": "change", "with": ["later"]})
    assert "change" in line.receive()["error"]["sentences"][0]
    line.send({"id": 2, "ask": "status", "with": []})
    assert line.receive()["error"]["kind"] == "busy"
    over = line.receive()["event"]
    assert over["is"] == "Ended"
    assert over["opening"]["closed_by"] == "planned"
