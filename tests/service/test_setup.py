"""What a run is put together from: how long it has patience, which frame comes next, and what is written down first."""

from __future__ import annotations

import queue
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.engine.small import Telling
from tests.journal.outings import applied, frame_begun, ladder_started, run_started, write_outing
from tests.plan.plans import BASE, plan_of
from tether.body.connection import SIMULATED, Connection
from tether.body.protocol import Identity
from tether.body.simulated.world import Sun, World
from tether.clock import AffineClock, SteppedClock
from tether.journal.records import Noted, Record, RunStarted, Said
from tether.journal.store import open_journal
from tether.outing.folder import open_folder
from tether.outing.prepare import prepare
from tether.service import setup
from tether.service.setup import Work

READY = prepare(plan_of(BASE + '[rungs]\ntimes = ["1/125"]\n'), filters=())


class Camera:
    """A camera that says who it is, and that it was left."""

    left = None

    def __init__(self) -> None:
        self.away = False

    def identify(self) -> Identity:
        return Identity(model="Body A", serial="S1", firmware="1.2", lens="35 mm", simulated=False)


@pytest.fixture
def camera(monkeypatch: pytest.MonkeyPatch) -> Camera:
    found = Camera()

    @contextmanager
    def opened(*_: object) -> Iterator[Camera]:
        try:
            yield found
        finally:
            found.away = True

    monkeypatch.setattr(setup, "opened_camera", opened)
    return found


@contextmanager
def work(folder: Path, *records: Record, **changes: Any) -> Iterator[Work]:
    """Yield the work of ladder 1 in an outing whose journal has these records."""
    folder.mkdir(exist_ok=True)
    if records:
        write_outing(folder, records)
    with closing(open_journal(folder)) as journal:
        usual: dict[str, Any] = {
            "ready": READY,
            "ladder": 1,
            "reach": SIMULATED,
            "world": World(),
            "folder": open_folder(folder, "weir"),
            "clock": SteppedClock(),
            "box": queue.SimpleQueue(),
            "journal": journal,
            "stream": Telling(),
            "pace": "max",
            "answer_for_me": True,
        }
        yield Work(**(usual | changes))


@pytest.mark.usefixtures("camera")
@pytest.mark.parametrize(("pace", "patience_s"), [("max", 60.0), (1.0, 60.0), (3.0, 60.0), (60.0, 1200.0)])
def test_a_camera_process_always_has_twenty_real_seconds(pace: float | str, patience_s: float, tmp_path: Path) -> None:
    """A minute of the run, or twenty real seconds where that is more: at pace 60 they are twenty minutes."""
    with work(tmp_path, pace=pace) as one, one.opened() as run:
        assert run.patience_s == patience_s


@pytest.mark.usefixtures("camera")
def test_frames_are_counted_on_from_what_the_journal_has(tmp_path: Path) -> None:
    with work(tmp_path) as one, one.opened() as run:
        assert (run.hand.next_frame, one.begun) == (1, False)
    begun = [run_started(), ladder_started(), *frame_begun(6, 1, applied(2.0, "2"))]
    with work(tmp_path / "weir", *begun) as one, one.opened() as run:
        assert (run.hand.next_frame, one.begun) == (7, True)
    with work(tmp_path / "other", *begun, ladder=2) as one:
        assert not one.begun


def test_the_camera_is_left_however_it_ends(camera: Camera, tmp_path: Path) -> None:
    with work(tmp_path) as one, pytest.raises(RuntimeError), one.opened():
        raise RuntimeError
    assert camera.away


@pytest.mark.usefixtures("camera")
def test_frames_are_read_in_processes_of_their_own_where_time_really_passes(tmp_path: Path) -> None:
    with work(tmp_path) as one, one.opened() as run:
        assert not run.reader.apart
    with work(tmp_path, clock=AffineClock()) as one, one.opened() as run:
        assert run.reader.apart


def works_nothing(monkeypatch: pytest.MonkeyPatch, checked: Callable[[], None] = lambda: None) -> None:
    monkeypatch.setattr(setup, "check", lambda *_, **__: checked())
    monkeypatch.setattr(setup, "Engine", lambda _run: SimpleNamespace(work=lambda: "done", trouble=None))


@pytest.mark.usefixtures("camera")
@pytest.mark.parametrize(
    ("reach", "begun", "times"),
    [(SIMULATED, [], 1), (SIMULATED, [run_started(), ladder_started()], 0), (Connection(way="camera"), [], 0)],
    ids=["a rehearsal", "resumed", "a camera"],
)
def test_that_the_light_of_a_rehearsal_follows_the_sun_is_said_once(
    reach: Connection, begun: list[Record], times: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    telling = Telling()
    works_nothing(monkeypatch)
    sun = Sun(latitude=47.0, longitude=8.0, base_utc=datetime(2026, 10, 3, 17, 0, tzinfo=UTC))
    changes = {"stream": telling, "world": World(sun=sun), "reach": reach}
    with work(tmp_path, *begun, **changes) as one, one.opened() as run:
        one.done(run, despite={}, again="tether run here")
    said = [one.text for one in telling.of(Said)]
    assert said == ["Simulated light: it follows the sun at this place, with drawn haze."] * times


@pytest.mark.usefixtures("camera")
def test_who_the_camera_is_and_the_cautions_are_written_down_before_it_is_checked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told_before: list[int] = []
    telling = Telling()
    works_nothing(monkeypatch, lambda: told_before.append(len(telling.records)))
    with work(tmp_path, stream=telling, pace=60.0) as one, one.opened() as run:
        assert one.done(run, despite={}, again="tether run here") == ("done", None)
    (started,) = telling.of(RunStarted)
    assert (started.camera.model, started.camera.serial, started.simulated, started.pace) == (
        "Body A",
        "S1",
        False,
        "60.0",
    )
    assert [one.text for one in telling.of(Noted)] == [*READY.ladder.notes, *READY.ladder.cautions]
    assert told_before == [1 + len(READY.ladder.notes) + len(READY.ladder.cautions)]
