"""Where each frame's light went: the split of its level by hand, and filter and light found in a whole ladder."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from math import log2, nan
from pathlib import Path

import pytest

from tests.engine.rig import HONEST, TEN, work, world
from tests.journal.outings import CALDER, START, applied, frame_begun, frame_exposed, ladder_started, run_started, told
from tests.plan.plans import HEAD
from tether.journal.readings import FrameReadings, RockSaid
from tether.journal.records import ExifRead, ExposeIntent, FrameRead, Record
from tether.journal.story import LadderStory
from tether.plan.file import plan_from_text
from tether.plan.light_ahead import light_ahead, mean_stops
from tether.report.audit import audit

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'


def off(stops: float) -> dict[str, dict[str, object]]:
    """Return filters of which the one of ten stops is off."""
    return {**HONEST, "Calder 10": {"stops": 10.0 + stops, "cast_stops": (0.0, 0.0, 0.0)}}


def test_the_audit_finds_filter_and_light(tmp_path: Path) -> None:
    """Filters off by known amounts under light that falls and wanders: what is left is the filter, to 0.03 stop."""
    true = off(0.3) | {"Calder 6": {"stops": 5.8, "cast_stops": (0.0, 0.0, 0.0)}}
    falling = world(filters=true, stops_per_minute=0.04, clouds={"stops": 0.03, "period_s": 300})
    six = '[[filter]]\nname = "Calder 6"\nstops = 6\nmeasured_stops = 6.0\n'
    text = BASE + '[rungs]\nfrom = "1/125"\nto = "2m"\nframes = 1\n' + TEN + six
    ladder = work(tmp_path, text, truth=falling).ladder
    through = {"Calder 6": 0.2, "Calder 10": -0.3}
    worked = {split.frame: split for split in audit(ladder)}
    assert len(worked) > 10
    for frame in ladder.frames:
        split = worked.get(frame.frame)
        if split is None or frame.aperture != pytest.approx(8.0, rel=0.01):
            continue
        total = (
            split.wanted_stops
            + split.rounding_stops
            + split.changed_stops
            + split.hold_stops
            + split.light_stops
            + split.rest_stops
        )
        assert total == pytest.approx(split.level_stops, abs=1e-9)
        assert split.rest_stops == pytest.approx(sum(through[name] for name in frame.filters), abs=0.03)


# By hand


def ladder_of(*frames: Record) -> LadderStory:
    """Return a ladder of a base of 1/8 s at f/11 and ISO 100 with these frames."""
    (ladder,) = told([run_started(), ladder_started(), *frames]).ladders
    return ladder


def read(number: int, brighter: float, expected: float) -> FrameRead:
    rock = RockSaid(
        brighter_stops={"G": brighter},
        uncertainty_stops=0.01,
        lifted_share=0.0,
        expected_stops=expected,
        off_stops=brighter - expected,
    )
    return FrameRead(frame=number, readings=FrameReadings(headroom_stops=1.0, clipped_share=0.0, rock=rock))


def base(number: int = 1) -> list[Record]:
    eighth = applied(2**-3, "1/8")
    return [*frame_begun(number, None, eighth, kind="base"), frame_exposed(number, None), read(number, 0.0, 0.0)]


def held(number: int, *, planned_s: float, asked_s: float, held_s: float, brighter: float) -> list[Record]:
    """Return a frame of rung 5 through ten stops, which the plan wants 0.3 stop darker."""
    expected = log2(held_s / 2**-3) - 10
    return [
        *(
            replace(one, asked=applied(asked_s, "bulb")) if isinstance(one, ExposeIntent) else one
            for one in frame_begun(number, 5, applied(planned_s, "bulb"), way="held", open_s=asked_s, filters=(CALDER,))
        ),
        frame_exposed(number, held_s),
        read(number, brighter, expected),
    ]


def test_a_level_is_split_into_what_made_it_so_and_the_parts_add_up() -> None:
    """Planned for 128 s where 104 would be 0.3 darker: rounded up by 0.3; steered to 256; held for 128."""
    ladder = ladder_of(*base(), *held(2, planned_s=128.0, asked_s=256.0, held_s=128.0, brighter=-0.4))
    (first, split) = audit(ladder)
    assert (first.frame, first.level_stops, first.wanted_stops) == (1, 0.0, 0.0)
    assert split.wanted_stops == pytest.approx(-0.3)
    assert split.rounding_stops == pytest.approx(0.3)
    assert split.changed_stops == pytest.approx(1.0)
    assert split.hold_stops == pytest.approx(-1.0)
    assert split.level_stops == -0.4
    parts = (split.wanted_stops, split.rounding_stops, split.changed_stops, split.hold_stops)
    assert sum(parts) + split.light_stops + split.rest_stops == pytest.approx(split.level_stops)
    assert split.light_stops + split.rest_stops == pytest.approx(-0.4), "all that its settings do not tell"


def test_what_is_off_under_a_light_that_base_frames_held_still_is_the_glass() -> None:
    """A base frame before and one after say that the light stayed; the frame between them is off by 0.4."""
    between = held(2, planned_s=128.0, asked_s=128.0, held_s=128.0, brighter=-0.4)
    split = next(one for one in audit(ladder_of(*base(), *between, *base(3))) if one.frame == 2)
    assert split.light_stops == pytest.approx(0.0, abs=0.1)
    assert split.rest_stops == pytest.approx(-0.4, abs=0.1)


def test_where_the_plan_says_where_it_is_the_sun_tells_how_the_light_went_between_frames() -> None:
    """At dusk: ten minutes after the base a frame through glass that is what it says, so that all it lacks is light."""
    nowhere = HEAD + BASE + '[rungs]\ntimes = ["2m"]\n'
    here = nowhere + "[place]\nlatitude = 50.0\nlongitude = 20.0\n"
    ahead = light_ahead(plan_from_text(here), START + timedelta(seconds=40))
    assert ahead is not None
    went = mean_stops(ahead, 600.0, 128.0)
    assert went < -1.0
    long = held(16, planned_s=128.0, asked_s=128.0, held_s=128.0, brighter=went)
    for text, near in ((here, True), (nowhere, False)):
        begun = replace(ladder_started(), plan_text=text)
        (ladder,) = told([run_started(), begun, *base(), *long]).ladders
        split = audit(ladder)[-1]
        assert (abs(split.light_stops - went) < 0.02) == (abs(split.rest_stops) < 0.02) == near


def test_without_a_base_or_a_number_nothing_is_split() -> None:
    long = held(2, planned_s=128.0, asked_s=128.0, held_s=128.0, brighter=0.0)
    assert audit(ladder_of(*long)) == ()
    assert [one.frame for one in audit(ladder_of(*base(), *long[:-1]))] == [1]
    assert [one.frame for one in audit(ladder_of(*base(), *long[:-1], read(2, nan, 0.0)))] == [1]


def test_a_test_exposure_has_no_rounding_whatever_it_was_planned_for() -> None:
    """2 s at ISO 1600 for a base of 1/8 s at ISO 100: eight stops more, none of which a list of values left."""
    bright = applied(2.0, "2", iso=1600.0)
    test = [*frame_begun(2, 5, bright, kind="proof"), frame_exposed(2, None), read(2, 8.0, 8.0)]
    split = audit(ladder_of(*base(), *test))[-1]
    assert (split.kind, split.wanted_stops, split.rounding_stops) == ("proof", 8.0, 0.0)


def test_a_frame_whose_rock_is_clipped_is_in_no_sum() -> None:
    long = held(2, planned_s=128.0, asked_s=128.0, held_s=128.0, brighter=0.19)
    read_of = long[-1]
    assert isinstance(read_of, FrameRead)
    assert read_of.readings is not None
    clipped = replace(read_of, readings=replace(read_of.readings, rock_clipped=True))
    assert [one.frame for one in audit(ladder_of(*base(), *long[:-1], clipped))] == [1]


def test_a_frame_that_was_not_as_asked_tells_next_to_nothing_of_the_light() -> None:
    """It came out three stops too bright; taken at its word the light would have risen for the frame after it."""
    wrong = held(2, planned_s=128.0, asked_s=128.0, held_s=128.0, brighter=3.0)
    differs = ExifRead(frame=2, exif=applied(128.0, "2:08"), taken_at=None, differs=["its ISO is 800, not 100"])
    for said, near in ((differs, True), (replace(differs, differs=[]), False)):
        split = audit(ladder_of(*base(), *wrong, said))[-1]
        assert (abs(split.light_stops) < 0.2) == near
