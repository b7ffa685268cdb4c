"""The contract, through the driver and the real camera library, on a camera on the wire in every dialect.

`PARTS` lists which parts of the suite a dialect is put through: the plain one has no way to hold a shutter.
"""

from __future__ import annotations

import queue
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.body.choices import really
from tests.body.contract import (
    HELD,
    STILL,
    CameraBench,
    CannotHold,
    Exposes,
    Focuses,
    Holds,
    IsSteered,
    Leaves,
    Settles,
    Shows,
    ShowsNothing,
    Times,
)
from tests.body.driver.on_wire import DIALECTS, on_wire
from tether.body.dialects import Dialect
from tether.body.protocol import CameraEvent, Order, Settings
from tether.body.remote import CameraProcess
from tether.body.responder.faults import WireFault
from tether.body.responder.start import AS_IT_SHOULD, WireHow
from tether.clock import AffineClock
from tether.errors import CameraError

SHORT = Times(timed=Settings(time="1/8", aperture="f/8", iso="200"), timed_s=0.125, held_s=0.5, unit_s=1.0, late_s=20.0)
PARTS: dict[Dialect, tuple[type, ...]] = {
    "eos": (Settles, Exposes, Holds, Shows, IsSteered, Leaves),
    "eos-old": (Settles, Exposes, Holds, Leaves),
    "nikon": (Settles, Exposes, Holds, Shows, IsSteered, Leaves),
    "plain": (Settles, Exposes, CannotHold, ShowsNothing, Leaves),
}


class OnWire:
    """Where the parts find what they are put to."""

    dialect: Dialect
    how = AS_IT_SHOULD

    @pytest.fixture
    def bench(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[CameraBench]:
        monkeypatch.setenv("HOME", str(tmp_path))
        monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
        box: queue.SimpleQueue[CameraEvent] = queue.SimpleQueue()
        clock = AffineClock.started_now(1.0)
        with on_wire(tmp_path, self.dialect, how=self.how, scene=STILL) as wire:
            camera = CameraProcess(wire.choice, clock, box)
            yield CameraBench(asked=camera, clock=clock, box=box, folder=tmp_path, truth=wire.truth, times=SHORT)
            camera.leave()

    @pytest.fixture
    def camera(self, bench: CameraBench) -> CameraBench:
        return bench


class ManualFocus:
    """A lens on manual focus is not moved."""

    def test_the_person_is_told_what_to_do(self, bench: CameraBench) -> None:
        with pytest.raises(CameraError, match="Set the lens to AF"):
            bench.asked.nudge_focus(1)
        assert really(bench.truth, "focus") == []


class TestEos(OnWire, Settles, Exposes, Holds, Shows, ManualFocus, IsSteered, Leaves):
    dialect: Dialect = "eos"


@pytest.mark.prove  # TestEos shows what is common to all of them; the others, what is different about each
class TestOldEos(OnWire, Settles, Exposes, Holds, Leaves):
    dialect: Dialect = "eos-old"


@pytest.mark.prove
class TestNikon(OnWire, Settles, Exposes, Holds, Shows, ManualFocus, IsSteered, Leaves):
    dialect: Dialect = "nikon"


@pytest.mark.prove
class TestPlain(OnWire, Settles, Exposes, CannotHold, ShowsNothing, Leaves):
    dialect: Dialect = "plain"


class TestEosFocus(OnWire, Focuses):
    dialect: Dialect = "eos"
    how = WireHow(focus="af")


class TestNikonFocus(OnWire, Focuses):
    dialect: Dialect = "nikon"
    how = WireHow(focus="af")


@pytest.mark.prove
def test_a_frame_that_no_event_tells_of_is_found_though_the_card_was_listed_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The library lists a folder once in a session; what no event tells of is in no later list of it."""
    monkeypatch.setenv("HOME", str(tmp_path))
    clock, box = AffineClock.started_now(1.0), queue.SimpleQueue[CameraEvent]()
    how = WireHow(faults=(WireFault(what="event never", at_frame=2),))
    with on_wire(tmp_path, "eos", how=how, scene=STILL) as wire:
        camera = CameraProcess(wire.choice, clock, box)
        bench = CameraBench(asked=camera, clock=clock, box=box, folder=tmp_path, truth=wire.truth, times=SHORT)
        camera.apply(HELD)
        found = []
        for number in (1, 2):
            bench.opening(Order(frame=number, way="held", command_s=SHORT.held_s))
            found.append([file.number for file in camera.new_files(1, 3.0)])
            camera.card_files()
        camera.leave()
    assert found == [[1], [2]]


def test_every_dialect_is_put_through_all_that_it_can() -> None:
    classes = {one.dialect: one for one in (TestEos, TestOldEos, TestNikon, TestPlain)}
    assert set(classes) == set(DIALECTS)
    for dialect, parts in PARTS.items():
        assert all(issubclass(classes[dialect], part) for part in parts)
