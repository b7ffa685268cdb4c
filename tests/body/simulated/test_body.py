"""How the body behaves: settings, waiting, its card, and what another process finds in its folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.body.simulated.rig import ABILITIES, Rig, world
from tether.body.protocol import BULB, Body, Fitted, Rehearsable, SceneChange, Settings
from tether.body.simulated.body import SimulatedBody
from tether.body.simulated.world import Latency
from tether.clock import SteppedClock, to_ns
from tether.errors import BusyError, CameraError, LostError, SupplyError

HELD = Settings(time=BULB, aperture="f/11", iso="100")


def test_it_is_a_body_that_can_rehearse(tmp_path: Path) -> None:
    body: Body = SimulatedBody(ABILITIES, world(), tmp_path, SteppedClock())
    stage: Rehearsable = SimulatedBody(ABILITIES, world(), tmp_path / "other", SteppedClock())
    stage.stage(SceneChange())
    identity = body.identify()
    assert (identity.model, identity.simulated) == ("Simulated body", True)


def test_settings_are_read_back_exactly(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    seen = rig.body.apply(Settings(time="1/125", aperture="f/5.6", iso="400"))
    assert (seen.time_s, seen.aperture, seen.iso) == (2**-7, 2**2.5, 400.0)
    assert rig.body.read_back() == seen
    assert rig.body.apply(HELD).time_s is None


def test_only_what_differs_costs_time(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(latency=Latency(apply_s=0.2)))
    rig.set("1/125", "f/5.6", "400")
    before_ns = rig.clock.now_ns()
    rig.set("1/125", "f/8", "400")
    assert rig.clock.now_ns() - before_ns == to_ns(0.2)


@pytest.mark.parametrize(
    ("wanted", "named"),
    [
        (Settings(time="1/9", aperture="f/11", iso="100"), 'time "1/9"; among those it takes are 1/8000'),
        (Settings(time="1/8", aperture="f/99", iso="100"), 'aperture "f/99"; among those it takes are f/2.8'),
        (Settings(time="1/8", aperture="f/11", iso="7"), 'iso "7"; among those it takes are 50'),
    ],
)
def test_what_it_does_not_offer_is_refused_in_a_sentence(tmp_path: Path, wanted: Settings, named: str) -> None:
    with pytest.raises(CameraError, match=named):
        Rig(tmp_path, world()).body.apply(wanted)


def test_bulb_is_refused_by_a_body_that_can_not_hold(tmp_path: Path) -> None:
    abilities = type(ABILITIES)(**(vars(ABILITIES) | {"can_hold": None}))
    body = SimulatedBody(abilities, world(), tmp_path, SteppedClock())
    with pytest.raises(CameraError, match="bulb"):
        body.apply(HELD)


def test_timed_frame_takes_its_time(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(open_delay_s=0.06))
    rig.set("4")
    before_ns = rig.clock.now_ns()
    rig.body.take()
    assert rig.clock.now_ns() - before_ns == to_ns(4.06)
    assert rig.openings("closed")[0]["open_s"] == pytest.approx(4.0)


def test_wrong_dial_for_the_way_of_exposing(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    rig.set("1/8")
    with pytest.raises(CameraError, match="set it to bulb"):
        rig.body.open_shutter()
    rig.body.apply(HELD)
    with pytest.raises(CameraError, match="on bulb"):
        rig.body.take()


def test_open_shutter_leaves_no_room_for_anything_else(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    rig.shoot("1/8")
    file = rig.body.card_files()[0]
    rig.body.apply(HELD)
    rig.body.open_shutter()
    assert rig.body.status().busy
    for call in (
        rig.body.card_files,
        rig.body.take,
        rig.body.open_shutter,
        lambda: rig.body.apply(HELD),
        lambda: rig.body.fetch(file, tmp_path / "x"),
    ):
        with pytest.raises(BusyError, match="shutter"):
            call()
    rig.body.close_shutter()
    assert not rig.body.status().busy


def test_jitter_is_within_its_bounds_and_not_always_the_same(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(open_delay_s=0.06, close_delay_s=0.045, delay_jitter_s=0.005))
    for _ in range(6):
        rig.set("bulb")
        rig.body.open_shutter()
        rig.wait(1.0)
        rig.body.close_shutter()
    times = [line["open_s"] for line in rig.openings("closed")]
    assert all(abs(time_s - (1.0 + 0.005 - 0.015)) <= 0.0101 for time_s in times)
    assert max(times) - min(times) > 1e-4


def test_closing_a_shut_shutter_is_harmless(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    rig.body.close_shutter()
    rig.hold(1.0)
    rig.body.close_shutter()
    assert len(rig.openings("closed")) == 1


def test_shutter_closed_before_it_opened_leaves_no_frame(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(open_delay_s=0.5, close_delay_s=0.1))
    rig.set(BULB)
    rig.body.open_shutter()
    rig.wait(0.2)
    rig.body.close_shutter()
    rig.wait(5.0)
    assert rig.body.card_files() == ()
    assert rig.openings("closed")[0]["open_s"] == 0


def test_new_files_waits_as_long_as_need_be_and_no_longer(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(latency=Latency(card_s=2.0)))
    rig.set("1/8")
    rig.body.take()
    done_ns = rig.clock.now_ns()
    assert rig.body.new_files(1, 0.5) == ()
    assert rig.clock.now_ns() - done_ns == to_ns(0.5)
    assert [file.name for file in rig.body.new_files(1, 30.0)] == ["SIM_0001.DNG"]
    assert rig.clock.now_ns() - done_ns == to_ns(2.0)
    assert rig.body.new_files(0, 30.0) == ()
    assert rig.clock.now_ns() - done_ns == to_ns(2.0)


def test_fetch_takes_the_time_of_the_download(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(latency=Latency(bytes_per_s=100_000)))
    rig.set("1/8")
    rig.body.take()
    file = rig.newest()
    before_ns = rig.clock.now_ns()
    size = rig.body.fetch(file, tmp_path / "frame.dng")
    assert rig.clock.now_ns() - before_ns == to_ns(size / 100_000)
    with pytest.raises(CameraError, match=r"no SIM_0099\.DNG"):
        rig.body.fetch(type(file)(folder=file.folder, name="SIM_0099.DNG", number=99, size=None), tmp_path / "x")


def test_dark_frame_keeps_the_body_busy_as_long_again(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(dark_frame_by_body=True))
    rig.set("8")
    rig.body.take()
    assert rig.body.status().busy
    with pytest.raises(BusyError, match="another"):
        rig.body.take()
    done_ns = rig.clock.now_ns()
    assert rig.newest().number == 1
    assert rig.clock.now_ns() - done_ns == to_ns(8.3)
    rig.set("1/8")
    rig.body.take()
    assert not rig.body.status().busy


def test_card_and_battery_run_out(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(card_frames=2, battery=0.5, battery_per_frame=0.01, battery_per_s=0.001))
    rig.set("10")
    rig.body.take()
    status = rig.body.status()
    assert status.card_frames_left == 1
    assert status.battery == pytest.approx(0.48, abs=1e-3)  # it opens for 10.08 s
    rig.body.take()
    with pytest.raises(SupplyError, match="card"):
        rig.body.take()


def test_battery_that_runs_out_while_open_ends_the_frame(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world(battery=0.1, battery_per_s=0.01))
    rig.body.apply(HELD)
    rig.body.open_shutter()
    rig.wait(60.0)
    with pytest.raises(SupplyError, match="battery"):
        rig.body.close_shutter()
    with pytest.raises(SupplyError, match="battery"):
        rig.body.identify()
    rig.body.stage(SceneChange(new_battery=True))
    assert rig.body.status().battery == 1.0
    assert len(rig.body.card_files()) == 1
    assert rig.openings("closed")[0]["open_s"] == pytest.approx(10.0)


def test_another_process_finds_the_card_and_goes_on(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    first = rig.shoot("1/60")
    rig.body.stage(SceneChange(fitted=(Fitted(name="Orme 3", stops=3.0),)))
    rig.body.leave()
    again = Rig(tmp_path, world(), rig.clock)
    assert again.body.read_back().settings == Settings(time="1/60", aperture="f/11", iso="100")
    assert [file.name for file in again.body.card_files()] == ["SIM_0001.DNG"]
    assert again.body.new_files(1, 0.0) == ()
    assert (again.mosaic(again.body.card_files()[0]) == first).all()
    darker = again.shoot("1/60")
    assert [file.number for file in again.body.card_files()] == [1, 2]
    assert again.still_stops(first) - again.still_stops(darker) > 2.5


def test_another_process_closes_a_shutter_left_open(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    rig.body.apply(HELD)
    opened_ns = rig.clock.now_ns()
    rig.body.open_shutter()
    rig.wait(20.0)
    again = Rig(tmp_path, world(), rig.clock)
    assert again.body.status().busy
    again.wait(5.0)
    closed_ns = rig.clock.now_ns()
    again.body.close_shutter()
    assert again.newest().name == "SIM_0001.DNG"
    (opened,), (closed,) = again.openings("opened"), again.openings("closed")
    assert (opened["at_ns"], closed["at_ns"]) == (opened_ns, closed_ns)
    assert closed["open_s"] == pytest.approx((closed_ns - opened_ns) / 1e9)


def test_timed_frame_of_a_process_that_died_is_on_the_card(tmp_path: Path) -> None:
    class Killed(BaseException):
        pass

    class Deadly(SteppedClock):
        def wait_until(self, at_ns: int) -> None:
            if at_ns - self.now_ns() > to_ns(5):
                raise Killed
            super().wait_until(at_ns)

    clock = Deadly()
    rig = Rig(tmp_path, world(), clock)
    rig.set("30")
    with pytest.raises(Killed):
        rig.body.take()
    for _ in range(10):
        rig.wait(4.0)
    again = Rig(tmp_path, world(), clock)
    assert again.newest().number == 1
    assert again.openings("closed")[0]["open_s"] == pytest.approx(32.0)


def test_clock_that_begins_anew_goes_on_where_the_world_was(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    rig.wait(1000.0)
    rig.body.apply(HELD)
    rig.body.open_shutter()
    again = Rig(tmp_path, world(), SteppedClock())
    again.wait(7.0)
    again.body.close_shutter()
    assert again.openings("closed")[0]["open_s"] == pytest.approx(7.0, abs=0.01)


def test_a_session_that_is_over_answers_nothing(tmp_path: Path) -> None:
    rig = Rig(tmp_path, world())
    rig.body.leave()
    rig.body.leave()
    with pytest.raises(LostError, match="connect anew"):
        rig.body.status()


def test_damaged_folder_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "state.json").write_text("{")
    with pytest.raises(LostError, match="use another folder"):
        Rig(tmp_path, world())
