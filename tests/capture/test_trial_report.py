"""The report of a trial: what it tells, what it keeps to itself, and what it says where it does not know."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tests.capture.trials import OFFERS, trial_of
from tether.body.protocol import Finding
from tether.capture.trial_report import About, report_of
from tether.capture.trial_result import FrameTried, SetTried

ABOUT = About(
    when=datetime(2026, 5, 4, 12, 0, tzinfo=UTC),
    library="libgphoto2 2.5.33",
    body_file="simulated",
    reason="the whole list",
)
HELD = FrameTried(
    way="held",
    asked_s=20.0,
    held_s=20.0,
    body_said_s=20.0,
    exif_s=None,
    open_call_s=0.0021,
    close_call_s=0.0034,
    came_s=1.25,
    fetch_s=2.5,
    size_bytes=31_000_000,
    files=2,
)


def lines(**changed: object) -> list[str]:
    return report_of(trial_of(**changed), ABOUT).splitlines()


def test_no_serial_number_is_told_unless_it_is_asked_for() -> None:
    trial = trial_of()
    assert "SECRET-7" not in report_of(trial, ABOUT)
    assert "SECRET-7" in report_of(trial, replace(ABOUT, serial=True))
    assert "SIMULATED" not in report_of(trial, ABOUT)
    simulated = replace(trial, identity=replace(trial.identity, simulated=True))
    assert "**SIMULATED: no camera was tried." in report_of(simulated, ABOUT)


def test_what_is_not_known_of_the_camera_is_left_out() -> None:
    identity = replace(trial_of().identity, model="", firmware="", lens="")
    told = lines(identity=identity)
    assert told[0] == "# Trial of a camera without a name"
    assert not [line for line in told if line.startswith(("- firmware", "- lens", "- serial"))]
    assert "- firmware: 1.2" in lines()


def test_how_it_stood_is_told_with_what_that_comes_to() -> None:
    looked = (Finding(what="card", verdict="stop", sentence="There is none."),)
    assert "- card: stop. There is none." in lines(looked=looked)


def test_lists_are_told_by_their_ends() -> None:
    told = lines()
    assert "- times: 1/8000 to 30, 3 values" in told
    assert "- bulb by: bulb" in told
    assert "- not as asked: none" in told
    bare = replace(OFFERS, apertures=(), held_by=None, why_not_held="Its dial is not on M.")
    told = lines(offers=bare)
    assert "- apertures: none can be set from here" in told
    assert "- bulb by: it can't be. Its dial is not on M." in told
    assert "- bulb by: it can't be." in lines(offers=replace(bare, why_not_held=None))


@pytest.mark.parametrize(("count", "more"), [(20, None), (23, "  - and 3 more")])
def test_no_more_than_twenty_sentences_of_a_kind_are_told(count: int, more: str | None) -> None:
    otherwise = tuple(f"ISO {number} was refused." for number in range(count))
    told = lines(settings=SetTried(count=40, median_s=0.1, otherwise=otherwise, right=frozenset()))
    assert f"- not as asked: {count}" in told
    assert sum(line.endswith("was refused.") for line in told) == 20
    assert [line for line in told if "more" in line and line.startswith("  - and")] == ([more] if more else [])


def test_frames_are_a_table_and_those_that_failed_stand_below_it() -> None:
    assert "None was made." in lines()
    told = lines(frames=(replace(HELD, asked_s=2.0), replace(HELD, asked_s=4.0, problem="No file came.")))
    rows = [line for line in told if line.startswith("| bulb")]
    assert rows == ["| bulb 2 s | 20.000 s | 20.000 s | – | 2.1 ms, 3.4 ms | 1.25 s | 2.50 s | 31,000,000 in 2 files |"]
    assert "bulb 4 s: No file came." in told
    assert "None was made." not in told


@pytest.mark.parametrize(
    ("battery", "words"),
    [
        ((0.80, 0.79), "80% before, 79% after 6.0 min: 0.17% a minute"),
        ((0.80, 0.80), "80% before, 80% after 6.0 min: too short, or told in too coarse steps, for a rate"),
        ((None, 0.79), "the camera does not tell"),
    ],
)
def test_a_battery_is_told_with_a_rate_where_there_is_one(battery: object, words: str) -> None:
    assert f"- battery: {words}" in lines(battery=battery)


@pytest.mark.parametrize(
    ("frames", "words"),
    [
        ((HELD,), "none noticed"),
        ((replace(HELD, came_s=19.0),), "it seems to take one after long frames"),
        ((replace(HELD, came_s=None),), None),
        ((replace(HELD, way="timed"),), None),
        ((), None),
    ],
)
def test_dark_frames_are_told_of_where_one_would_have_been_seen(
    frames: tuple[FrameTried, ...], words: str | None
) -> None:
    told = [line for line in lines(frames=frames) if line.startswith("- dark frames: ")]
    assert [line.removeprefix("- dark frames: ").startswith(words or "-") for line in told] == ([True] if words else [])


def test_remarks_are_told_at_the_end() -> None:
    assert "- It was lost once." in lines(remarks=("It was lost once.",))
