"""What an outing was: how much was made, what was kept, where, and in what light; valid by its schema."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from tests.journal.outings import as_entries, weir
from tether.journal.readings import FrameReadings, RockSaid, StreakSaid
from tether.journal.records import ExposeOutcome, FrameRead, LadderStarted, Record
from tether.journal.store import Contents
from tether.plan.learned import Figure, What
from tether.report.choices import Choice
from tether.report.done_before import Gone, OutingDone, mark_of, outing_done, outings_json, place_of

SCHEMA = json.loads(files("tether").joinpath("schemas/outings.schema.json").read_text(encoding="utf-8"))
PLAN = '[place]\nname = "Elbow weir"\nlatitude = 64.1\nlongitude = -21.9\n'
CHOICES = {
    3: Choice(verdict="keep"),
    5: Choice(verdict="keep", note="the thread"),
    6: Choice(verdict="maybe"),
    99: Choice(verdict="keep"),
}


def read(frame: int, *, streak_px: float | None = None, off_stops: float | None = None) -> FrameRead:
    """What a frame says: how long a streak is in it, and how much brighter than expected its rock is."""
    rock = RockSaid(
        brighter_stops={"G": 0.0}, uncertainty_stops=0.01, lifted_share=0.0, expected_stops=0.0, off_stops=off_stops
    )
    says = FrameReadings(
        headroom_stops=0.4,
        clipped_share=0.0,
        rock=rock if off_stops is not None else None,
        streak=None if streak_px is None else StreakSaid(length_px=streak_px),
    )
    return FrameRead(frame=frame, readings=says)


def evening(*more: Record) -> list[Record]:
    """The evening at the weir, its plan with a place, and more that is read of its frames."""
    records = [replace(one, plan_text=PLAN) if isinstance(one, LadderStarted) else one for one in weir()]
    at = next(index for index, one in enumerate(records) if isinstance(one, ExposeOutcome) and one.frame == 8)
    return [*records[: at + 1], *more, *records[at + 1 :]]


def contents(records: list[Record]) -> Contents:
    return Contents(entries=as_entries(records), running=False)


def done(*more: Record, choices: dict[int, Choice] | None = None) -> OutingDone:
    return outing_done(Path("/outings/weir"), contents(evening(*more)), choices or {})


def test_rungs_and_frames_are_counted_as_they_were_done() -> None:
    """Of six rungs the second was left early; a base frame and a test exposure are no frames of a rung."""
    (ladder,) = done().ladders
    assert (ladder.rungs_done, ladder.rungs, ladder.frames) == (5, 6, 7)


def test_what_was_kept_has_its_time_and_streak() -> None:
    kept = done(read(5, streak_px=83.4), choices=CHOICES).kept
    assert [(one.frame, one.time_s, one.streak_px) for one in kept] == [(3, 0.125, None), (5, 2.0, 83.4)]
    assert kept[1].file == "frames/weir_l1_r03_0005_SIM_0005.dng"


def test_the_light_is_told_by_the_base_and_by_the_last_frame_without_filters() -> None:
    """1/8 s at f/11 and ISO 100 is EV 10 (Av 7, Tv 3), through a polariser of 1.5 stops: the scene has EV 11.5."""
    (ladder,) = done(read(1, off_stops=0.0), read(4, off_stops=-1.3), read(6, off_stops=-4.0)).ladders
    assert ladder.base_ev == pytest.approx(11.5)
    assert ladder.light_stops == -1.3, "frame 6 has a filter in front: what it shows may be the filter's"
    assert done().ladders[0].light_stops is None


def test_the_framing_is_the_preview_of_the_first_base_frame() -> None:
    assert done().ladders[0].framing == "previews/weir_l1_0001_SIM_0001.jpg"


def test_the_place_is_the_plans_as_far_as_it_can_be_read() -> None:
    place = done().place
    assert (place.name, place.spot and place.spot.latitude) == ("Elbow weir", 64.1)
    for text in ("no [ toml", '[place]\nname = 7\nheight_m = "high"\n', "", 'place = "weir"'):
        assert place_of(text).name == ""


def test_an_outing_is_told_from_every_other_by_when_it_began_wherever_it_lies() -> None:
    assert mark_of(contents(evening())) == "2026-10-03T16:30:05.000000+00:00 5000000000"
    assert mark_of(Contents(entries=(), running=False)) is None


def test_one_without_a_ladder_is_called_by_its_folder() -> None:
    bare = outing_done(Path("/outings/weir"), contents(weir()[:1]), {})
    assert (bare.title, bare.place.name, bare.kept, bare.simulated) == ("weir", "", (), True)


def test_as_data_it_is_valid_by_the_schema() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    gone = Gone(folder=Path("/g"), title="Gone", begun_utc=datetime(2026, 9, 1, tzinfo=UTC), sentence="It is gone.")
    learned: dict[tuple[What, str], Figure] = {("copying", "A body"): Figure(value=2.1, outings=3)}
    data = outings_json([done(read(5, streak_px=83.4), choices=CHOICES)], [gone], learned=learned)
    Draft202012Validator(SCHEMA).validate(json.loads(json.dumps(data, allow_nan=False)))
    assert data["outings"][0]["begun_utc"] == "2026-10-03T16:30:05Z"
    assert data["outings"][0]["ladders"][0]["kept"][1]["streak_px"] == 83.4


def test_the_schema_knows_every_name_that_is_written() -> None:
    (written,) = outings_json([done(choices=CHOICES)], [])["outings"]
    ladder = SCHEMA["$defs"]["ladder"]["properties"]
    assert written.keys() == SCHEMA["properties"]["outings"]["items"]["properties"].keys()
    assert written["ladders"][0].keys() == ladder.keys()
    assert written["ladders"][0]["kept"][0].keys() == ladder["kept"]["items"]["properties"].keys()
