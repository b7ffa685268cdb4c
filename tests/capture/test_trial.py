"""A trial of a body, on the simulated one: what is measured is what is true of it, and the report tells it."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.body.choices import choice
from tether.body.bodyfile import load_body_file
from tether.body.open import open_camera
from tether.body.simulated.world import Latency
from tether.capture.session import CameraClient
from tether.capture.trial import Trying, abilities_to_try
from tether.capture.trial_report import About, report_of
from tether.capture.trial_result import Trial
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


def test_a_body_is_tried_for_more_than_its_file_knows() -> None:
    file = load_body_file("simulated-mirror")
    abilities = abilities_to_try(file)
    assert abilities.times[-1].exact > file.times.longest.exact
    assert abilities.isos[-1].exact > file.isos.highest.exact
    assert abilities.apertures[0].exact < 1.0
