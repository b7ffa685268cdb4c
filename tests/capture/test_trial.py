"""A trial of a body, on the simulated one: what is measured is what is true of it, and the report tells it."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.body.choices import choice
from tether.body.bodyfile import load_body_file
from tether.body.open import open_camera
from tether.body.protocol import Identity
from tether.body.simulated.world import Latency
from tether.capture.session import CameraClient
from tether.capture.trial import Trying, abilities_to_try
from tether.capture.trial_report import About, report_of
from tether.capture.trial_result import FrameTried, SetTried, Trial, write_down
from tether.clock import SteppedClock
from tether.control.commands import Item

ABOUT = About(when=datetime.now(UTC), library="libgphoto2 2.5.33", body_file="simulated", reason="the whole list")


@contextmanager
def trying(folder: Path, **truth: object) -> Iterator[Trying]:
    """Have a trial of a simulated body in hand, on a stepped clock."""
    box: queue.SimpleQueue[Item] = queue.SimpleQueue()
    clock = SteppedClock(start_utc=datetime.now(UTC))
    camera = open_camera(choice(folder / "body", **truth), clock, box)
    try:
        yield Trying(CameraClient(camera, clock, box))
    finally:
        camera.leave()


def tried(folder: Path, holds_s: tuple[float, ...] = (2.0, 10.0), **truth: object) -> Trial:
    with trying(folder, **truth) as one:
        settings = one.set_all(one.whole_list())
        return one.end(settings, [one.make(order) for order in one.orders(holds_s)])


def test_a_whole_trial_measures_what_is_true(tmp_path: Path) -> None:
    trial = tried(tmp_path)
    assert trial.good
    assert [(frame.way, frame.asked_s) for frame in trial.frames] == [("timed", 1.0), ("held", 2.0), ("held", 10.0)]
    assert [frame.held_s for frame in trial.frames] == [None, 2.0, 10.0]
    assert trial.frames[2].exif_s == pytest.approx(10.0, abs=0.1)
    values = trial.measured()
    assert values["hold.can_hold"] is True
    assert values["times.longest"] == trial.offers.times[-1]
    assert values["body.frame_bytes"] == trial.frames[0].size_bytes
    assert "body.dark_frame_by_body" not in values


def test_every_value_that_is_offered_is_set_once_and_the_body_is_set_back(tmp_path: Path) -> None:
    with trying(tmp_path) as one:
        before = one._camera.read_back()
        offers = one.seen.offers
        wanted = one.whole_list()
        trial = one.end(one.set_all(wanted), [])
        assert one._camera.read_back() == before
    assert trial.settings.count == len(offers.times) + len(offers.apertures) + len(offers.isos) + 1
    assert {label for dial, label in trial.settings.right if dial == "time"} == {*offers.times, "bulb"}


def test_a_dark_frame_of_the_bodys_own_is_noticed(tmp_path: Path) -> None:
    latency = Latency(apply_s=0, accept_s=0, card_s=0.1)
    trial = tried(tmp_path, dark_frame_by_body=True, latency=latency)
    assert [frame.dark_frame for frame in trial.frames] == [False, False, True]
    assert trial.measured()["body.dark_frame_by_body"] is True
    assert "it seems to take one" in report_of(trial, ABOUT)


def test_what_is_refused_or_taken_otherwise_is_told(tmp_path: Path) -> None:
    faults = [
        {"what": "refuses", "setting": "iso", "at_frame": 1},
        {"what": "takes another", "setting": "aperture", "at_frame": 1, "times": 2},
    ]
    trial = tried(tmp_path, (2.0,), faults=faults)
    assert not trial.good
    assert len(trial.settings.otherwise) == 2
    report = report_of(trial, ABOUT)
    assert "not as asked: 2" in report
    assert all(sentence in report for sentence in trial.settings.otherwise)


def test_a_frame_that_does_not_come_is_a_problem_and_the_next_is_made(tmp_path: Path) -> None:
    trial = tried(tmp_path, (2.0, 4.0), faults=[{"what": "delivers late", "at_frame": 2, "for_s": 500}])
    assert [frame.problem is None for frame in trial.frames] == [True, False, True]
    assert "No file came" in report_of(trial, ABOUT)


def trial_of(**changed: object) -> Trial:
    """Return a trial without frames."""
    identity = Identity(model="Body A", serial="SECRET-7", firmware="1.2", lens="35 mm", simulated=False)
    settings = SetTried(count=1, median_s=0.1, otherwise=(), right=frozenset())
    with trying(Path(str(changed.pop("folder")))) as one:
        offers = one.seen.offers
    whole = Trial(
        identity=identity, looked=(), offers=offers, settings=settings, frames=(), battery=(0.8, 0.79), took_s=360.0
    )
    return replace(whole, **changed)  # type: ignore[arg-type]


def test_no_serial_number_is_told_unless_it_is_asked_for(tmp_path: Path) -> None:
    trial = trial_of(folder=tmp_path)
    assert "SECRET-7" not in report_of(trial, ABOUT)
    assert "SECRET-7" in report_of(trial, replace(ABOUT, serial=True))
    assert "SIMULATED" not in report_of(trial, ABOUT)
    simulated = replace(trial, identity=replace(trial.identity, simulated=True))
    assert "**SIMULATED: no camera was tried." in report_of(simulated, ABOUT)


@pytest.mark.parametrize(
    ("battery", "per_h"),
    [((0.80, 0.79), 0.1), ((0.8, 0.8), None), ((0.75, 0.5), None), ((None, 0.5), None)],
    ids=["fell a little", "did not fall", "fell by a step of its scale", "not told"],
)
def test_a_rate_of_the_battery_is_believed_only_where_one_can_be(
    tmp_path: Path, battery: tuple[float | None, float | None], per_h: float | None
) -> None:
    trial = trial_of(folder=tmp_path, battery=battery)
    assert trial.battery_per_h == (None if per_h is None else pytest.approx(per_h))
    assert ("body.battery_per_h" in trial.measured()) == (per_h is not None)


def test_a_body_file_says_tried_only_where_a_real_body_made_a_frame(tmp_path: Path) -> None:
    trial = trial_of(folder=tmp_path)
    assert trial.in_words("today") is None
    frames = (FrameTried(way="timed", asked_s=1.0), FrameTried(way="held", asked_s=2.0, problem="No."))
    made = replace(trial, frames=frames)
    assert made.in_words("today") == "today: 1 of 2 frames made, not all as asked, see its report"
    assert replace(made, identity=replace(made.identity, simulated=True)).in_words("today") is None


def test_only_ends_of_lists_that_were_read_back_are_measured(tmp_path: Path) -> None:
    trial = trial_of(folder=tmp_path)
    assert "times.shortest" not in trial.measured()
    right = frozenset({("time", trial.offers.times[0])})
    trial = replace(trial, settings=replace(trial.settings, right=right))
    assert trial.measured()["times.shortest"] == trial.offers.times[0]


def test_a_frame_that_came_at_once_speaks_of_no_dark_frame() -> None:
    frame = FrameTried(way="held", asked_s=60.0, came_s=3.0)
    assert not frame.dark_frame
    assert replace(frame, came_s=61.0).dark_frame
    assert not replace(frame, asked_s=2.0, came_s=2.5).dark_frame


def test_a_body_is_tried_for_more_than_its_file_knows() -> None:
    file = load_body_file("simulated-mirror")
    abilities = abilities_to_try(file)
    assert abilities.times[-1].exact > file.times.longest.exact
    assert abilities.isos[-1].exact > file.isos.highest.exact
    assert abilities.apertures[0].exact < 1.0


def test_what_was_measured_on_a_familys_body_goes_into_a_file_of_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    frame = FrameTried(way="held", asked_s=2.0, held_s=2.0, fetch_s=1.5, size_bytes=31_000_000)
    trial = trial_of(folder=tmp_path, frames=(frame,))
    names = {"own_name": "canon-eos-q9", "file_name": "canon-eos", "model": "Canon EOS Q9"}
    path = write_down(trial, **names, day="2026-11-25", library="libgphoto2 2.5.33")
    assert path == tmp_path / "config" / "tether" / "bodies" / "canon-eos-q9.toml"
    file = load_body_file("canon-eos-q9")
    assert file.tried == "2026-11-25, libgphoto2 2.5.33: 1 of 1 frames made, all as asked"
    assert (file.body.fetch_s, file.body.frame_bytes, file.hold.can_hold) == (1.5, 31_000_000, True)
    assert file.driver is not None
    assert file.driver.models == ("Canon EOS Q9",)
    assert load_body_file("canon-eos").tried is None
    again = write_down(trial, **(names | {"file_name": "canon-eos-q9"}), day="2027-01-01", library="x")
    assert again == path
    assert str(load_body_file("canon-eos-q9").tried).startswith("2027-01-01, x")
