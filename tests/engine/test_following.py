"""Light and glass are followed over a ladder: levels measured from the files, what is asked, what is said."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import log2
from pathlib import Path

import pytest

from tests.engine.rig import SIX, TEN, Worked, work, world
from tests.journal.planned import rungs_of
from tests.plan.plans import plan_of
from tether.body.simulated.world import SensorTruth
from tether.control.commands import Verb
from tether.engine.following import Following
from tether.journal.readings import RockSaid
from tether.journal.records import Record, RungEnded, Steered
from tether.journal.snapshot import asks
from tether.light.acting import Acting

BASE = '[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n'
#: Two filters that were never measured.
FILTERS = "".join(f'[[filter]]\nname = "Calder {stops}"\nstops = {stops}\n' for stops in (6, 10))
TEN_ONLY = "[[filter]]" + FILTERS.split("[[filter]]")[2]
LADDER = BASE + '[rungs]\ntimes = ["1/60", "1", "8", "1m", "4m"]\nframes = 1\n' + FILTERS
LIMITS = '[limits]\naperture = ["f/4", "f/16"]\niso = [100, 3200]\n'
WIDE = SensorTruth(window_px=(300, 200))


def truth(falls: float, six: float = 6.35, ten: float = 9.7) -> dict[str, object]:
    """Return a world whose light falls so fast [stops/min], and filters that are a third of a stop off."""
    filters = {"Calder 6": six, "Calder 10": ten}
    light = ((0.0, 0.0), (7200.0, -120.0 * falls))
    return {
        "sensor": WIDE,
        "light": light,
        "filters": {name: {"stops": stops, "cast_stops": (0.0, 0.0, 0.0)} for name, stops in filters.items()},
    }


def off_stops(worked: Worked) -> dict[str, float]:
    """Return how far each rung's still region lies off what the ladder promises, against the first base frame."""
    planned = {rung.rung: rung for rung in rungs_of(worked.ladder)}
    base = worked.still_level(worked.frames[0])
    found = {}
    for frame in worked.frames:
        if frame.kind == "rung" and frame.rung is not None:
            rung = planned[frame.rung]
            found[rung.wanted_label] = log2(worked.still_level(frame) / base) + rung.darker_by_stops
    return found


@pytest.mark.parametrize(("falls", "within"), [(0.0, 0.07), (0.15, 0.12)])
def test_bulb_exposures_come_out_as_bright_as_promised(tmp_path: Path, falls: float, within: float) -> None:
    """Filters a third of a stop off and never measured, steady light and light that falls by two stops meanwhile."""
    off = off_stops(work(tmp_path, LADDER + LIMITS, truth=world(**truth(falls))))
    assert off["1:00"] == pytest.approx(0, abs=within)
    assert off["4:00"] == pytest.approx(0, abs=within)
    assert all(abs(off[label]) <= within + 1 / 6 for label in ("1/60", "1", "8"))


def test_without_following_they_do_not(tmp_path: Path) -> None:
    text = LADDER + LIMITS + '[readings]\ncorrect = "off"\n'
    off = off_stops(work(tmp_path, text, truth=world(**truth(0.15))))
    assert off["4:00"] < -0.5


def answers(verb: Verb, asked: list[str]) -> dict[str, object]:
    """Answer every task; a correction with a verb, keeping what was asked."""

    def when(event: Record) -> Verb | None:
        if not asks(event):
            return None
        if event.what.startswith("give rung"):
            asked.append(event.what)
            return verb
        return "answer"

    return {"when": when, "answer_for_me": False}


def test_the_person_is_asked_once_a_correction_passes_two_thirds_of_a_stop_and_at_each_further_stop(
    tmp_path: Path,
) -> None:
    """The light falls by 0.3 stop a minute: over the last rung, which ends ten minutes after the base, by two stops."""
    asked: list[str] = []
    worked = work(tmp_path, LADDER + LIMITS, truth=world(**truth(0.3)), **answers("answer", asked))  # type: ignore[arg-type]
    assert 1 <= len(asked) <= 2
    assert abs(off_stops(worked)["4:00"]) <= 0.2
    assert "the light is" in " ".join(turn.reason for turn in worked.ladder.turns)


def test_a_person_who_does_not_want_it_gets_no_more_than_was_agreed(tmp_path: Path) -> None:
    asked: list[str] = []
    worked = work(tmp_path, LADDER + LIMITS, truth=world(**truth(0.3)), **answers("skip", asked))  # type: ignore[arg-type]
    assert len(asked) == 1
    assert [rung.outcome for rung in worked.ladder.rungs] == ["done"] * 5
    off = off_stops(worked)["4:00"]
    assert off < -0.3
    assert "than promised: you let it be corrected by 0.67 stop and no more." in worked.notes()


def test_a_filter_that_is_another_one_is_told_by_name(tmp_path: Path) -> None:
    worked = work(tmp_path, LADDER + LIMITS, truth=world(**truth(0.0, six=6.0, ten=6.0)))
    assert "This looks like Calder 6: is Calder 10 really what is on the lens?" in worked.notes()


def test_what_the_limits_leave_no_way_for_is_said_with_what_would_do(tmp_path: Path) -> None:
    """The filter takes 1.2 stops too much, and neither ISO nor aperture may move: a third of a stop by time is all."""
    limits = '[limits]\naperture = ["f/8", "f/8"]\niso = [100, 100]\n'
    text = BASE + '[rungs]\ntimes = ["1"]\nframes = 1\n' + FILTERS + limits
    worked = work(tmp_path, text, truth=world(**truth(0.0, six=7.2)))
    assert "darker than promised: the limits leave no more. ISO " in worked.notes()
    assert off_stops(worked)["1"] == pytest.approx(-1.2 + 1 / 3, abs=0.1)


def test_a_ladder_that_is_resumed_knows_what_it_knew(tmp_path: Path) -> None:
    """It is stopped after the first frame through the ten-stop filter; what goes on makes no test exposure again."""
    from tests.engine.test_base_frames import work_on

    text = BASE + '[rungs]\ntimes = ["8", "1m"]\nframes = 1\n[limits]\naperture = ["f/8", "f/8"]\niso = [100, 800]\n'
    stopped = work(tmp_path, text + TEN_ONLY, truth=world(**truth(0.0)), after=(1, 0.1, "stop after this frame"))
    again = work_on(stopped)
    assert off_stops(again)["1:00"] == pytest.approx(0, abs=0.07)
    assert sum(frame.kind == "proof" and bool(frame.filters) for frame in again.frames) == 1


def test_what_the_person_changed_before_the_lens_is_read_anew(tmp_path: Path) -> None:
    """Said before the last rung: it gets a test exposure of its own, and the steps of its ISO are asked no more."""
    said = {"when": lambda event: "I changed something" if isinstance(event, RungEnded) else None}
    worked = work(tmp_path, LADDER + LIMITS, truth=world(**truth(0.0)), **said)  # type: ignore[arg-type]
    assert abs(off_stops(worked)["4:00"]) <= 0.07
    assert any(steered.verb == "I changed something" for steered in worked.ladder.steering)


def test_a_frame_that_was_not_made_as_asked_teaches_nothing(tmp_path: Path) -> None:
    """The body keeps ISO 100 for the bare frame at 400, two stops dark; the bulb exposure at 400 does not suffer."""
    limits = '[limits]\naperture = ["f/8", "f/8"]\niso = [100, 800]\n'
    text = BASE + '[rungs]\ntimes = ["1/60", "4m"]\nframes = 1\n' + limits + FILTERS
    fault = {"what": "keeps the old", "setting": "iso", "at_frame": 4}
    worked = work(tmp_path, text, truth=world(**truth(0.0, six=6.0, ten=10.0), faults=[fault]))
    bare = next(frame for frame in worked.frames if frame.kind == "proof" and frame.asked.iso == 400)
    assert worked.said(bare.frame).off_stops == pytest.approx(-2.0, abs=0.02)
    assert next(frame for frame in worked.frames if frame.way == "held").asked.iso == 400
    assert off_stops(worked)["4:00"] == pytest.approx(0, abs=0.07)


def test_what_was_changed_is_not_forgotten_when_a_ladder_is_resumed(tmp_path: Path) -> None:
    """It is said after the first rung, and the run is stopped: the next rung gets a test exposure, for all is open."""
    from tests.engine.test_base_frames import work_on

    def when(event: Record) -> Verb | None:
        if isinstance(event, RungEnded) and event.rung == 1:
            return "I changed something"
        return "stop after this frame" if isinstance(event, Steered) and event.verb == "I changed something" else None

    limits = '[limits]\naperture = ["f/8", "f/8"]\niso = [100, 800]\n'
    text = BASE + '[rungs]\ntimes = ["8", "1m"]\nframes = 1\n' + limits + TEN_ONLY
    stopped = work(tmp_path, text, truth=world(**truth(0.0)), when=when)
    assert [frame.kind for frame in stopped.frames].count("rung") == 1
    again = work_on(stopped)
    through = [frame.rung for frame in again.frames if frame.kind == "proof" and frame.filters]
    assert through.count(2) == 1


#: One ISO, so that what the light falls by is made up by time: four minutes open for some eight.
FOUR = BASE + '[rungs]\ntimes = ["1/60", "4m"]\nframes = 1\n[limits]\naperture = ["f/4", "f/4"]\niso = [100, 100]\n'


def leaves_in(minutes: float) -> str:
    leave = (datetime.now().astimezone() + timedelta(minutes=minutes)).replace(microsecond=0)
    return f"[run]\nleave_by = {leave.isoformat()}\n"


def test_a_bulb_exposure_that_is_made_longer_still_ends_before_the_person_leaves(tmp_path: Path) -> None:
    """It would open after some 2:20 min: planned it ends after 6:20, made as bright as promised after some 10."""
    text = FOUR + leaves_in(8) + SIX + TEN
    worked = work(tmp_path, text, truth=world(**truth(0.3, six=6.0, ten=10.0)))
    assert [rung.outcome for rung in worked.ladder.rungs] == ["done", "left out"]
    assert not any(frame.way == "held" for frame in worked.frames)


def test_what_the_expected_light_leaves_no_time_for_is_said_at_the_beginning(tmp_path: Path) -> None:
    falls = '[light]\ntrend = "falling"\nstops_per_min = 0.3\n'
    text = FOUR + falls + leaves_in(8) + SIX + TEN
    worked = work(tmp_path, text, truth=world(**truth(0.3, six=6.0, ten=10.0)))
    assert "Left out for want of time, if nothing goes faster than planned: rung 2." in worked.notes()
    assert [rung.outcome for rung in worked.ladder.rungs] == ["done", "left out"]


def test_a_rate_that_the_plan_gives_and_the_sun_are_not_counted_twice() -> None:
    """The plan says what it is at the base; the sun of an evening, a stop in some ten minutes, is no more beside it."""
    place = "[place]\nlatitude = 42.44\nlongitude = -76.5\n"
    plan = plan_of(BASE + '[rungs]\ntimes = ["1"]\n[light]\ntrend = "falling"\nstops_per_min = 0.2\n' + place)
    following = Following()
    following.begin(plan, (), 0.0, datetime(2026, 3, 20, 23, 20, tzinfo=UTC))
    light = following.light(60.0)
    assert light is not None
    assert light.stops == pytest.approx(-0.2, abs=0.005)


def test_how_the_light_goes_is_the_suns_course_until_frames_tell_it_and_once_they_are_ten_minutes_old() -> None:
    """An evening on which 0.2 stop a minute are measured over eight minutes."""
    dusk = datetime(2026, 3, 20, 23, 20, tzinfo=UTC)
    rungs = BASE + '[rungs]\ntimes = ["1"]\n'
    here, nowhere = plan_of("[place]\nlatitude = 42.44\nlongitude = -76.5\n" + rungs), plan_of(rungs)
    acting = Acting(filters=(), aperture=8.0, iso=100.0)
    for plan, before, old in ((here, True, True), (nowhere, False, False)):
        following = Following(sure=True)
        following.begin(plan, (), 0.0, dusk)
        assert following.goes_by_sun(10.0) is before
        for minute in range(9):
            off = RockSaid(brighter_stops={}, uncertainty_stops=0.005, lifted_share=0.0, off_stops=-0.2 * minute)
            following.saw(acting, 60.0 * minute, 0.01, off)
        assert not following.goes_by_sun(500.0)
        assert following.goes_by_sun(480.0 + 601) is old
