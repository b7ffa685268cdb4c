"""A camera in hand outside of a ladder: a few frames of the simulated body, on a stepped clock and in real time."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from tests.engine.rig import BASE, SMALL
from tests.plan.plans import plan_of
from tether.body.connection import SIMULATED, Connection
from tether.body.local import LocalCamera
from tether.body.protocol import Camera, Ended, Fitted, Order, ReadBack, SceneChange
from tether.body.simulated.world import World
from tether.body.stamps import Stamps
from tether.capture.session import CameraClient, CapturedFrame, CaptureSession, look_for, shooting
from tether.checks import host as machine
from tether.clock import SteppedClock
from tether.control.commands import Item
from tether.errors import CameraError, PlanError
from tether.exposure.labels import parse_aperture, parse_iso, parse_time
from tether.exposure.marks import Step
from tether.files.check import check_frame
from tether.files.errors import UnreadableFileError
from tether.files.exif import read_exif
from tether.files.raw import read_raw
from tether.outing.prepare import prepare
from tether.outing.world import world_of
from tether.shot.shot import Shot, held, timed

F8, ISO100 = parse_aperture("f/8", Step.THIRD), parse_iso("100", Step.THIRD)


@contextmanager
def session(
    reach: Connection = SIMULATED,
    *,
    stepped: bool = True,
    keep: Path | None = None,
    leave_set: bool = False,
    **truth: object,
) -> Iterator[CaptureSession]:
    """Open a session with a simulated body whose world is changed as told."""
    ready = prepare(plan_of(BASE + '[rungs]\ntimes = ["1/125"]\n'))
    world = world_of(ready.plan, World.model_validate({"sensor": SMALL} | truth))
    clock = SteppedClock() if stepped else None
    with shooting(reach, ready, world, clock=clock, keep=keep, leave_set=leave_set) as one:
        yield one


def timed_at(label: str) -> Shot:
    return timed(parse_time(label, Step.THIRD), F8, ISO100)


def mean(frame: CapturedFrame) -> float:
    return float(read_raw(frame.path).mosaic.mean()) - 512


def test_timed_and_held_frames_come_home_with_what_is_known_of_them() -> None:
    with session() as one:
        quick, longer, held_long = (
            one.shoot(timed_at("1/125")),
            one.shoot(timed_at("1/60")),
            one.shoot(held(2.0, F8, ISO100)),
        )
        assert mean(longer) > 1.5 * mean(quick)
        assert (quick.read.time_s, quick.read.aperture, quick.read.iso) == (2**-7, 8.0, 100.0)
        assert quick.held_s is None
        assert quick.middle_ns - quick.opened_ns == pytest.approx(2**-8 * 1e9, abs=1)
        assert quick.closed_ns < longer.opened_ns
        # The simulated body opens 60 ms and closes 45 ms after its commands, give or take 5 ms each.
        assert held_long.held_s == pytest.approx(2.015)
        assert held_long.open_s == pytest.approx(2.0)
        assert read_exif(held_long.path).time_s == pytest.approx(2.0, abs=0.011)
        assert not quick.differs
        assert not held_long.differs


def test_the_end_of_a_frame_before_is_not_that_of_the_frame_in_hand() -> None:
    """A shutter that was left open is closed before the next frame, and its end is told then."""
    before, now = (ended_of(number) for number in (1, 2))
    box: queue.SimpleQueue[Item] = queue.SimpleQueue()
    camera = SimpleNamespace(begin=lambda _order: list(map(box.put, (before, now))))
    client = CameraClient(cast("Camera", camera), SteppedClock(), box)
    assert client.expose(Order(frame=2, way="held", command_s=1.0)) is now


def ended_of(frame: int) -> Ended:
    shutter = Stamps(frame=frame, way="held", asked_s=1.0, timebase="", open_called_ns=0)
    return Ended(frame=frame, opening=shutter.opening(0))


def test_frames_are_kept_where_they_are_wanted_and_go_otherwise(tmp_path: Path) -> None:
    with session(keep=tmp_path / "kept") as one:
        kept = one.shoot(timed_at("1/125")).path
    with session() as one:
        gone = one.shoot(timed_at("1/125")).path
        assert gone.exists()
    assert list((tmp_path / "kept").iterdir()) == [kept]
    assert not gone.exists()


def test_a_file_that_comes_cut_short_is_fetched_again_and_only_the_whole_one_has_its_name(tmp_path: Path) -> None:
    faults = [{"what": "truncates"}]
    with session(keep=tmp_path / "kept", faults=faults) as one:
        path = one.shoot(timed_at("1/125")).path
        assert "It is copied again." in " ".join(one.remarks)
    check_frame(path)
    damaged = path.with_name(f"{path.name}.damaged")
    assert sorted((tmp_path / "kept").iterdir()) == sorted([path, damaged])
    assert damaged.stat().st_size < path.stat().st_size


def test_a_file_that_never_comes_whole_is_said_and_has_no_frame_s_name(tmp_path: Path) -> None:
    faults = [{"what": "truncates", "times": "always"}]
    with session(keep=tmp_path / "kept", faults=faults) as one, pytest.raises(UnreadableFileError, match="cut short"):
        one.shoot(timed_at("1/125"))
    assert len(kept := list((tmp_path / "kept").iterdir())) == 3
    assert all(path.suffix.startswith(".damaged") for path in kept)


def test_a_camera_library_that_is_led_to_no_camera_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(machine.SPOILING[0], "1")
    with pytest.raises(PlanError, match="has a camera that is none: unset it"):
        look_for(Connection(way="camera"), "tether base")
    look_for(SIMULATED, "tether base")


def test_a_camera_that_is_not_there_is_said_before_it_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tether.checks.host.connected", lambda: ())
    with pytest.raises(CameraError, match="tether measure hold"):
        look_for(Connection(way="camera"), "tether measure hold")


def test_a_world_that_says_how_it_is_lit_is_lit_so_and_another_by_its_plan() -> None:
    plan = prepare(plan_of(BASE + '[rungs]\ntimes = ["1/125"]\n')).plan
    lit = World.model_validate({"base": {"time_s": 2.0**-10, "aperture": 8.0, "iso": 100}})
    assert world_of(plan, lit).base.time_s == 2.0**-10
    assert world_of(plan, World(base_level_stops=-3.0)).base.time_s == 2.0**-7


def test_a_value_that_is_not_taken_is_a_sentence() -> None:
    faults = [{"what": "takes another", "setting": "iso", "at_frame": 1}]
    with session(faults=faults) as one, pytest.raises(CameraError, match=r"the ISO is \d+, not 100"):
        one.shoot(timed_at("1/125"))


@pytest.mark.parametrize("end", ["good", "bad", "left set"])
def test_the_body_is_put_back_as_it_was_found(monkeypatch: pytest.MonkeyPatch, end: str) -> None:
    left: list[ReadBack] = []
    leave = LocalCamera.leave

    def look_and_leave(camera: LocalCamera) -> None:
        left.append(camera.read_back())
        leave(camera)

    monkeypatch.setattr(LocalCamera, "leave", look_and_leave)
    with suppress(KeyboardInterrupt), session(leave_set=end == "left set") as one:
        found = one.camera.read_back()
        read = one.shoot(timed_at("1/8")).read
        assert read != found
        if end == "bad":
            raise KeyboardInterrupt
    assert left == [read if end == "left set" else found]


def test_a_turn_is_taken_at_once_in_a_simulated_world() -> None:
    with session() as one:
        before = one.shoot(timed_at("1/125"))
        one.turn("Put the Calder 6 on", SceneChange(fitted=(Fitted(name="Calder 6", stops=6.0),)))
        assert mean(one.shoot(timed_at("1/125"))) < mean(before) / 30


@pytest.mark.parametrize("reach", [SIMULATED, Connection(way="wire", dialect="eos")], ids=["process", "wire"])
def test_it_works_with_real_processes_in_real_time(reach: Connection) -> None:
    with session(reach, stepped=False) as one:
        one.require_ready("tether base")
        quick, long = one.shoot(timed_at("1/125")), one.shoot(held(1.0, F8, ISO100))
        assert one.seen.identity.simulated
        assert mean(long) > mean(quick)
        assert long.held_s == pytest.approx(1.015, abs=0.2)
