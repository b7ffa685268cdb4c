"""The course of an evening out of a journal: its light, the light expected, corrections, rungs done and to come."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import asdict, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.journal.outings import (
    CALDER,
    FENWICK,
    START,
    applied,
    frame_begun,
    frame_exposed,
    ladder_started,
    run_started,
    told,
    weir,
    write_outing,
)
from tests.plan.plans import BASE, HEAD, SIX, TEN, abilities_of, plan_of
from tests.report.test_audit import base, held, read
from tether.journal.records import ExifRead, ExposeOutcome, Record, SuppliesSeen
from tether.journal.telling import read_outing
from tether.light.spot import Spot
from tether.light.sun import altitude
from tether.plan.as_json import planned_of
from tether.plan.planner import make_ladder
from tether.plan.takes import opens_at_s
from tether.report.evening import evening_of
from tether.report.evening_told import Evening

LEAVE = "[run]\nleave_by = 2026-10-03T17:10:00Z\n"
RUNGS = '[rungs]\ntimes = ["1/125"]\n'


def evening(*frames: Record, plan: str = "", running: bool = False) -> Evening:
    """Return the evening of a ladder of these frames, with a plan's text."""
    started = replace(ladder_started(), plan_text=HEAD + BASE + RUNGS + plan)
    found = evening_of(told([run_started(), started, *frames], running=running))
    assert found is not None
    return found


def bare(number: int, off: float) -> list[Record]:
    """Return a frame of rung 2, without filters, that came out so much brighter than its settings say."""
    return [*frame_begun(number, 2, applied(2**-3, "1/8")), frame_exposed(number, None), read(number, off, 0.0)]


def after_start(moment_s: float) -> float:
    return moment_s - START.timestamp()


def test_the_light_is_what_frames_tell_at_the_middle_of_their_exposure() -> None:
    """Frames of 1/8 s 40 s apart, the light half a stop down at each; and one of 128 s through ten stops."""
    long = held(4, planned_s=128.0, asked_s=128.0, held_s=128.0, brighter=-1.5)
    light = evening(*base(), *bare(2, -0.5), *bare(3, -1.0), *long).light
    assert [(one.frame, one.bare) for one in light] == [(1, True), (2, True), (3, True), (4, False)]
    assert [after_start(one.at_s) for one in light] == pytest.approx([40.0625, 80.0625, 120.0625, 224.0], abs=0.01)
    assert [one.stops for one in light[:3]] == pytest.approx([0.0, -0.5, -1.0], abs=0.05)


def test_a_frame_that_was_not_made_as_asked_tells_nothing_of_the_light() -> None:
    differs = ExifRead(frame=2, exif=applied(2**-3, "1/8"), taken_at=None, differs=["its ISO is 800, not 100"])
    assert [one.frame for one in evening(*base(), *bare(2, 3.0), differs).light] == [1]


def test_the_light_is_expected_as_the_plan_says_until_the_person_leaves() -> None:
    """Falling by a tenth of a stop a minute from 16:30:40 on, to leaving at 17:10: 3.93 stops."""
    found = evening(*base(), plan=LEAVE + '[light]\ntrend = "falling"\nstops_per_min = 0.1\n')
    assert found.leave_s == datetime(2026, 10, 3, 17, 10, tzinfo=UTC).timestamp()
    first, last = found.expected[0], found.expected[-1]
    assert (after_start(first[0]), first[1]) == pytest.approx((40.0625, 0.0), abs=0.01)
    assert (after_start(last[0]), last[1]) == pytest.approx((2400.0, -3.93), abs=0.01)
    halfway = min(found.expected, key=lambda one: abs(after_start(one[0]) - 1240))
    assert halfway[1] == pytest.approx(-2.0, abs=0.08)


def test_no_light_is_expected_where_the_sun_is_lower_than_is_known() -> None:
    """In Iceland it is dark some two hours later; the line ends there and not at leaving, five hours later."""
    where = '[place]\nname = "somewhere"\nlatitude = 64.1\nlongitude = -21.9\n'
    begins = START.replace(hour=19)
    spot = Spot(latitude=64.1, longitude=-21.9)
    later = [replace(one, opened_utc=begins.isoformat()) if isinstance(one, ExposeOutcome) else one for one in base()]
    found = evening(*later, plan=where + "[run]\nleave_by = 2026-10-04T00:30:00Z\n")
    ends = datetime.fromtimestamp(found.expected[-1][0], UTC)
    assert altitude(spot, ends) >= -18 > altitude(spot, ends + timedelta(minutes=2))
    assert found.expected[-1][1] < -8


def test_nothing_is_expected_where_plan_and_place_say_nothing() -> None:
    assert evening(*base()).expected == ()


def test_a_correction_is_told_where_it_begins_and_where_it_changes() -> None:
    """Planned 128 s: asked 256 twice, a hair more once, then as planned; each is of rung 5."""
    asked = (256.0, 256.0, 260.0, 128.0)
    frames = [
        one
        for number, asked_s in enumerate(asked, start=2)
        for one in held(number, planned_s=128.0, asked_s=asked_s, held_s=asked_s, brighter=0.0)
    ]
    found = evening(*base(), *frames).corrections
    assert [one.rung for one in found] == [5, 5]
    assert [one.stops for one in found] == pytest.approx([1.0, 0.0])
    assert [after_start(one.at_s) for one in found] == pytest.approx([80 + 128, 200 + 64])


def test_rungs_say_when_they_were_open_how_they_ended_and_what_comes_before_them() -> None:
    found = evening_of(told(weir(end=False), running=True))
    assert found is not None
    assert not found.over
    assert [one.outcome for one in found.rungs] == ["done", "done in part", "done", "done, differs", "done", None]
    assert [len(one.spans) for one in found.rungs] == [1, 2, 1, 1, 1, 0]
    opened_s, closed_s = found.rungs[4].spans[0]
    assert (after_start(opened_s), closed_s - opened_s) == pytest.approx((320.0, 101.0004))
    assert found.rungs[2].tasks == (f"fit {FENWICK}",)
    assert found.rungs[4].tasks == (f"take off {FENWICK}, fit {CALDER}", "cover the viewfinder")


@pytest.mark.parametrize("darks", ["none", "by the body"])
def test_rungs_to_come_take_as_long_as_the_planner_counts(darks: str) -> None:
    """Base frames first, then rung by rung what it waits and takes: each opens when the planner says."""
    text = BASE + '[rungs]\nfrom = "1/500"\nto = "4m"\n' + SIX + TEN + f'[run]\ndark_frames = "{darks}"\n'
    plan = plan_of(text, HEAD)
    abilities = abilities_of(plan)
    ladder = make_ladder(plan, abilities)
    started = replace(ladder_started(), plan_text=HEAD + text, planned=planned_of(ladder))
    found = evening_of(told([run_started(), started]))
    assert found is not None
    at_s = ladder.base_frames.before * (2**-7 + (abilities.fetch_s or 0.0))
    opens = []
    for rung in found.rungs:
        at_s += rung.waits_s
        opens.append(at_s)
        at_s += rung.frames * rung.frame_s
    assert found.rungs[-1].label == "4:00 min"
    assert opens == pytest.approx(opens_at_s(plan, abilities, ladder.rungs, ladder.turns, ladder.base_frames))


def test_the_battery_is_what_the_body_told_of_it(tmp_path: Path) -> None:
    """Told twice, and not at all once; records stand five seconds apart, after those of the base."""
    tells = [
        SuppliesSeen(battery=share, card_frames=9, temperature_c=None, disk_bytes=1, disk_frames=1, to_come=3)
        for share in (0.9, None, 0.8)
    ]
    before = [run_started(), ladder_started(), *base()]
    write_outing(tmp_path, [*before, *tells])
    found = evening_of(read_outing(tmp_path))
    assert found is not None
    first_s = 5 * (len(before) + 1)
    assert [(after_start(at_s), share) for at_s, share in found.battery] == [(first_s, 0.9), (first_s + 10, 0.8)]


def test_a_plan_that_can_not_be_read_any_more_tells_nothing_of_leaving() -> None:
    found = evening_of(told([run_started(), ladder_started(), *base()]))
    assert found is not None
    assert (found.leave_s, found.expected) == (None, ())


def test_without_a_ladder_there_is_no_evening() -> None:
    assert evening_of(told([run_started()])) is None


def test_the_process_prints_it_as_json(tmp_path: Path) -> None:
    write_outing(tmp_path, [run_started(), ladder_started(), *base(), *bare(2, -0.5)])
    done = subprocess.run(
        [sys.executable, "-m", "tether.report.evening", str(tmp_path)], capture_output=True, text=True, check=True
    )
    wanted = evening_of(told([run_started(), ladder_started(), *base(), *bare(2, -0.5)]))
    assert wanted is not None
    assert json.loads(done.stdout) == json.loads(json.dumps(asdict(wanted)))
