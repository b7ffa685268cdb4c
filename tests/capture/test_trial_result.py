"""What a trial found, and what of it is sure enough for the user's own body file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.capture.trials import trial_of
from tether.body.bodyfile import load_body_file
from tether.capture.trial_result import FrameTried, SetTried, write_down

MADE = FrameTried(way="timed", asked_s=1.0, fetch_s=1.0, size_bytes=30_000_000, came_s=0.5)


@pytest.mark.parametrize(
    ("battery", "per_h"),
    [((0.80, 0.79), 0.1), ((0.8, 0.8), None), ((0.75, 0.5), None), ((None, 0.5), None)],
    ids=["fell a little", "did not fall", "fell by a step of its scale", "not told"],
)
def test_a_rate_of_the_battery_is_believed_only_where_one_can_be(
    battery: tuple[float | None, float | None], per_h: float | None
) -> None:
    trial = trial_of(battery=battery)
    assert trial.battery_per_h == (None if per_h is None else pytest.approx(per_h))
    assert ("body.battery_per_h" in trial.measured()) == (per_h is not None)


def test_a_body_file_says_tried_only_where_a_real_body_made_a_frame() -> None:
    trial = trial_of()
    assert trial.in_words("today") is None
    frames = (FrameTried(way="timed", asked_s=1.0), FrameTried(way="held", asked_s=2.0, problem="No."))
    made = replace(trial, frames=frames)
    assert made.in_words("today") == "today: 1 of 2 frames made, not all as asked, see its report"
    assert replace(made, identity=replace(made.identity, simulated=True)).in_words("today") is None


def test_only_ends_of_lists_that_were_read_back_are_measured() -> None:
    trial = trial_of()
    assert "times.shortest" not in trial.measured()
    right = frozenset({("time", trial.offers.times[0])})
    trial = replace(trial, settings=replace(trial.settings, right=right))
    assert trial.measured()["times.shortest"] == trial.offers.times[0]


def test_a_frame_that_came_at_once_speaks_of_no_dark_frame() -> None:
    frame = FrameTried(way="held", asked_s=60.0, came_s=3.0)
    assert not frame.dark_frame
    assert replace(frame, came_s=61.0).dark_frame
    assert not replace(frame, asked_s=2.0, came_s=2.5).dark_frame


def test_what_was_measured_on_a_familys_body_goes_into_a_file_of_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    frame = FrameTried(way="held", asked_s=2.0, held_s=2.0, fetch_s=1.5, size_bytes=31_000_000)
    trial = trial_of(frames=(frame,))
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


def test_a_trial_is_good_where_all_was_as_asked() -> None:
    assert trial_of(frames=(MADE,)).good
    assert not trial_of(frames=(MADE, replace(MADE, problem="No file came."))).good
    otherwise = SetTried(count=2, median_s=0.1, otherwise=("ISO 100 became 200.",), right=frozenset())
    assert not trial_of(frames=(MADE,), settings=otherwise).good


def test_what_is_measured_is_the_median_way_home_and_the_largest_frame_of_those_that_were_made() -> None:
    frames = (
        MADE,
        replace(MADE, fetch_s=3.006, size_bytes=31_000_000),
        replace(MADE, fetch_s=2.0, size_bytes=None),
        replace(MADE, fetch_s=99.0, size_bytes=99_000_000, problem="It was cut short."),
    )
    values = trial_of(frames=frames).measured()
    assert (values["body.fetch_s"], values["body.frame_bytes"]) == (2.0, 31_000_000)
    assert "hold.can_hold" not in values


def test_that_it_can_hold_is_known_from_a_held_frame_that_was_made() -> None:
    held = FrameTried(way="held", asked_s=2.0)
    assert trial_of(frames=(held,)).measured()["hold.can_hold"] is True
    assert "hold.can_hold" not in trial_of(frames=(replace(held, problem="It failed."),)).measured()


def test_a_dark_frame_is_believed_of_frames_that_were_made() -> None:
    dark = FrameTried(way="held", asked_s=20.0, came_s=16.1)
    assert dark.dark_frame
    assert not replace(dark, came_s=15.9).dark_frame
    assert not replace(dark, way="timed").dark_frame
    assert trial_of(frames=(dark,)).measured()["body.dark_frame_by_body"] is True
    assert "body.dark_frame_by_body" not in trial_of(frames=(replace(dark, problem="It failed."),)).measured()


def test_nothing_is_measured_where_nothing_was_made() -> None:
    assert trial_of(battery=(None, None)).measured() == {}
