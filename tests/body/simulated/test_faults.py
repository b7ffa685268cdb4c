"""Each trouble that the body can be told to have."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.body.simulated.rig import Rig, world
from tether.body.protocol import BULB, SceneChange, Settings
from tether.body.simulated.faults import Fault
from tether.clock import to_ns
from tether.errors import BusyError, CameraError, LostError, SupplyError
from tether.files.check import check_frame
from tether.files.errors import UnreadableFileError


def rig_with(folder: Path, *faults: Fault, **truth: float) -> Rig:
    return Rig(folder, world(faults=faults, **truth))


def test_busy_for_a_while(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="busy", at_call="take", at_frame=2, for_s=3.0))
    rig.shoot("1/8")
    with pytest.raises(BusyError, match="busy for 3 s"):
        rig.body.take()
    with pytest.raises(BusyError, match="another"):
        rig.body.take()
    rig.wait(3.0)
    rig.body.take()
    assert rig.newest().number == 2


def test_busy_any_call_some_times(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="busy", times=2))
    for _ in range(2):
        with pytest.raises(BusyError):
            rig.set("1/8")
    rig.set("1/8")
    rig.body.take()


def test_times_out_and_has_done_nothing(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="times out", at_call="close", for_s=4.0))
    rig.set(BULB)
    rig.body.open_shutter()
    rig.wait(2.0)
    before_ns = rig.clock.now_ns()
    with pytest.raises(BusyError, match="within 4 s"):
        rig.body.close_shutter()
    assert rig.clock.now_ns() - before_ns == to_ns(4.0)
    assert rig.body.status().busy
    rig.body.close_shutter()
    assert rig.openings("closed")[0]["open_s"] == pytest.approx(6.0, abs=0.01)


def test_refuses_a_value_it_offers(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="refuses", setting="aperture"))
    with pytest.raises(CameraError, match='refuses aperture "f/8"'):
        rig.set("1/8", "f/8")
    rig.set("1/8", "f/8")
    assert rig.body.read_back().settings.aperture == "f/8"


def test_takes_another_and_says_so(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="takes another", setting="iso", times="always"))
    for _ in range(2):
        seen = rig.body.apply(Settings(time="1/8", aperture="f/8", iso="400"))
        assert seen.settings == Settings(time="1/8", aperture="f/8", iso="500")
        assert seen.iso == pytest.approx(400 * 2 ** (1 / 3))


def test_keeps_the_old_and_lies(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="keeps the old", setting="time", at_frame=2))
    before = rig.still_stops(rig.shoot("1/60"))
    lied = rig.shoot("1/15")
    assert rig.body.read_back().settings.time == "1/15"
    assert rig.still_stops(lied) == pytest.approx(before, abs=0.01)
    assert rig.still_stops(rig.shoot("1/15")) == pytest.approx(before + 2, abs=0.01)


def test_delivers_late(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="delivers late", at_frame=1, for_s=20.0))
    rig.set("1/8")
    rig.body.take()
    assert rig.body.new_files(1, 10.0) == ()
    assert rig.body.card_files() == ()
    assert rig.newest().number == 1


def test_truncates_once_and_heals(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="truncates"))
    rig.set("1/8")
    rig.body.take()
    file = rig.newest()
    part = rig.body.fetch(file, rig.path(file))
    with pytest.raises(UnreadableFileError):
        check_frame(rig.path(file))
    assert rig.body.fetch(file, rig.path(file)) > part
    check_frame(rig.path(file))


def test_truncates_for_ever_also_in_the_next_process(tmp_path: Path) -> None:
    fault = Fault(what="truncates", at_frame=1, times="always")
    rig = rig_with(tmp_path, fault)
    rig.set("1/8")
    rig.body.take()
    file = rig.newest()
    sizes = {rig.body.fetch(file, rig.path(file)) for _ in range(2)}
    again = Rig(tmp_path, rig.truth, rig.clock)
    sizes.add(again.body.fetch(file, rig.path(file)))
    assert len(sizes) == 1
    with pytest.raises(UnreadableFileError):
        check_frame(rig.path(file))


def test_strikes_are_counted_across_processes(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="card full"))
    rig.set("1/8")
    with pytest.raises(SupplyError, match="card"):
        rig.body.take()
    again = Rig(tmp_path, rig.truth, rig.clock)
    again.body.take()
    assert again.newest().number == 1


def test_vanishes_while_held_and_comes_back_open(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="vanishes", after_s=5.0, for_s=20.0))
    rig.set(BULB)
    rig.body.open_shutter()
    rig.wait(10.0)
    for call in (rig.body.close_shutter, rig.body.identify, rig.body.status, rig.body.card_files):
        with pytest.raises(LostError, match="gone from the bus"):
            call()
    rig.wait(20.0)
    rig.body.close_shutter()
    assert rig.newest().number == 1
    assert rig.openings("closed")[0]["open_s"] == pytest.approx(30.0, abs=0.01)


def test_vanishes_and_shuts_by_itself(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="vanishes", after_s=5.0, for_s=20.0), vanish_closes_s=2.0)
    rig.set(BULB)
    rig.body.open_shutter()
    rig.wait(30.0)
    rig.body.close_shutter()
    assert rig.newest().number == 1
    (closed,) = rig.openings("closed")
    assert closed["open_s"] == pytest.approx(7.0)
    assert closed["ended_by"] == "body"


def test_vanishes_while_it_times_a_frame(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="vanishes", at_frame=1, after_s=3.0, for_s=60.0))
    rig.set("15")
    before_ns = rig.clock.now_ns()
    with pytest.raises(LostError, match="gone from the bus"):
        rig.body.take()
    assert rig.clock.now_ns() - before_ns == to_ns(3.0)
    rig.wait(60.0)
    assert rig.newest().number == 1
    assert rig.openings("closed")[0]["open_s"] == pytest.approx(16.0)


def test_card_full_at_a_frame(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="card full", at_frame=2, times="always"))
    rig.shoot("1/8")
    for _ in range(2):
        with pytest.raises(SupplyError, match="card of the simulated body is full"):
            rig.body.take()
    rig.set(BULB)
    with pytest.raises(SupplyError, match="card of the simulated body is full"):
        rig.body.open_shutter()


def test_battery_dies_in_mid_exposure(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, Fault(what="battery dies", at_frame=1, after_s=4.0))
    rig.set("15")
    before_ns = rig.clock.now_ns()
    with pytest.raises(SupplyError, match="battery"):
        rig.body.take()
    assert rig.clock.now_ns() - before_ns == to_ns(4.0)
    rig.wait(100.0)
    with pytest.raises(SupplyError, match="battery"):
        rig.body.new_files(1, 1.0)
    rig.body.stage(SceneChange(new_battery=True))
    assert rig.newest().number == 1
    assert rig.openings("closed")[0]["open_s"] == pytest.approx(4.0)
