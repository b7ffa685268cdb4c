"""Files are matched to exposures by a pure function: reordered, missing, late, by hand, of equal settings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tether.journal.records import Applied
from tether.shot.comparison import AskedFrame
from tether.shot.made import Made
from tether.shot.matching import ArrivedFile, BodyClock, clock_of, matched

#: The body's clock is an hour and some ahead of ours.
AHEAD_S = 3607.0
BEGAN_S = 1_790_000_000.0


@dataclass(frozen=True, kw_only=True)
class Exposure(Made):
    sure: bool

    @property
    def began_s(self) -> float:
        assert self.opened_s is not None
        return self.opened_s


def exposure(
    frame: int, opened_s: float, time_s: float = 1 / 128, *, iso: float = 100.0, sure: bool = True
) -> Exposure:
    asked = Applied(time_s=time_s, aperture=8.0, iso=iso)
    return Exposure(
        frame=frame,
        kind="rung",
        rung=1,
        wanted=AskedFrame(way="timed", asked=asked, open_s=time_s),
        filters=(),
        filter_stops=0.0,
        opened_s=BEGAN_S + opened_s,
        sure=sure,
    )


def file_of(one: Exposure, number: int | None = None, **other: Any) -> ArrivedFile:
    """Return the file that a body makes of an exposure, its time in whole seconds."""
    said = replace(one.wanted.asked, **other)
    return ArrivedFile(said=said, taken_s=float(int(one.began_s + AHEAD_S)), number=number)


def by_hand(at_s: float, iso: float = 100.0) -> ArrivedFile:
    return ArrivedFile(
        said=Applied(time_s=1 / 128, aperture=8.0, iso=iso), taken_s=float(int(BEGAN_S + at_s + AHEAD_S)), number=None
    )


def match(
    exposures: list[Exposure], files: list[ArrivedFile], ahead_s: float | None = AHEAD_S, slack_s: float = 3.0
) -> list[int | None]:
    clock = None if ahead_s is None else BodyClock(ahead_s=ahead_s, slack_s=slack_s)
    sure = {one.frame for one in exposures if one.sure}
    return list(matched(exposures, files, sure=sure, clock=clock, now_s=BEGAN_S + 10_000))


#: Exposures at least ten seconds apart, as a ladder's are; many with the same settings.
ladders = st.lists(
    st.tuples(st.floats(10, 400), st.sampled_from([1 / 128, 1 / 8, 2.0]), st.sampled_from([100.0, 400.0])),
    min_size=1,
    max_size=8,
).map(
    lambda parts: [
        exposure(n, sum(gap for gap, _, _ in parts[:n]), time_s, iso=iso)
        for n, (_, time_s, iso) in enumerate(parts, start=1)
    ]
)


@given(ladders, st.randoms())
def test_whatever_their_order_each_file_goes_to_its_exposure(exposures: list[Exposure], rng: object) -> None:
    files = [file_of(one) for one in exposures]
    places = list(range(len(files)))
    rng.shuffle(places)  # type: ignore[attr-defined]
    assert match(exposures, [files[place] for place in places]) == [exposures[place].frame for place in places]


def test_a_frame_that_the_body_was_slow_to_open_is_no_strangers() -> None:
    """The answer to the command came after 2.3 s, the shutter opened some time before it."""
    slow = replace(exposure(7, 100.0), answered_s=2.3)
    late = ArrivedFile(said=slow.wanted.asked, taken_s=BEGAN_S + 100.7, number=None)
    assert match([slow], [late], ahead_s=0.0, slack_s=0.5) == [7]
    assert match([replace(slow, answered_s=0.0)], [late], ahead_s=0.0, slack_s=0.5) == [None]


@given(ladders, st.data())
def test_a_missing_file_shifts_none_of_the_others(exposures: list[Exposure], data: st.DataObject) -> None:
    missing = data.draw(st.integers(0, len(exposures) - 1))
    left = [one for place, one in enumerate(exposures) if place != missing]
    assert match(exposures, [file_of(one) for one in left]) == [one.frame for one in left]


@given(ladders, st.data())
def test_a_frame_by_hand_between_them_is_of_none(exposures: list[Exposure], data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(exposures) - 1))
    stranger = by_hand(exposures[place].began_s - BEGAN_S - 5.0, iso=data.draw(st.sampled_from([100.0, 400.0])))
    files = [*(file_of(one) for one in exposures), stranger]
    assert match(exposures, files) == [*(one.frame for one in exposures), None]


@given(ladders)
def test_without_a_known_clock_their_order_tells(exposures: list[Exposure]) -> None:
    assert match(exposures, [file_of(one) for one in exposures], None) == [one.frame for one in exposures]


@given(ladders)
def test_no_file_is_of_two_exposures_and_no_exposure_has_two_files(exposures: list[Exposure]) -> None:
    files = [file_of(one) for one in exposures for _ in range(2)]
    found = [frame for frame in match(exposures, files) if frame is not None]
    assert len(found) == len(set(found)) == len(exposures)


def test_a_late_file_is_the_missing_ones_and_not_the_next_ones() -> None:
    late, fresh = exposure(1, 0.0, sure=False), exposure(2, 70.0)
    assert match([late, fresh], [file_of(late)]) == [1]


def test_a_file_with_another_setting_is_still_its_exposures_by_its_time() -> None:
    one = exposure(1, 0.0)
    assert match([one], [file_of(one, iso=400.0)]) == [1]


def test_a_file_with_another_setting_and_no_clock_is_of_what_was_made_for_sure() -> None:
    assert match([exposure(1, 0.0)], [file_of(exposure(1, 0.0), iso=400.0)], None) == [1]
    assert match([exposure(1, 0.0, sure=False)], [file_of(exposure(1, 0.0), iso=400.0)], None) == [None]


def test_an_uncertain_exposure_was_open_for_another_time_with_its_own_settings() -> None:
    cut_short = exposure(1, 0.0, 32.0, sure=False)
    assert match([cut_short], [file_of(cut_short, time_s=12.0)], None) == [1]


def test_between_equal_settings_the_one_that_was_made_for_sure_has_the_file() -> None:
    assert match([exposure(1, 0.0, sure=False), exposure(2, 70.0)], [by_hand(0.0)], None) == [2]


@pytest.mark.parametrize("by_s", [-86_400.0, -3600.0, 10_000.0])
def test_a_camera_whose_clock_was_set_meanwhile_still_has_its_frames(by_s: float) -> None:
    one = exposure(1, 4000.0)
    file = file_of(one)
    assert file.taken_s is not None
    assert match([one], [replace(file, taken_s=file.taken_s + by_s)]) == [1]


def test_frames_of_the_same_second_are_in_the_order_of_their_numbers() -> None:
    burst = [exposure(n, 0.2 * n) for n in (1, 2, 3)]
    files = [file_of(burst[place], number=40 + place) for place in (2, 0, 1)]
    assert match(burst, files) == [3, 1, 2]


def test_fractions_of_a_second_tell_a_frame_by_hand_from_ours() -> None:
    one = exposure(1, 100.0)
    stranger = replace(by_hand(0.0), taken_s=BEGAN_S + 99.2 + AHEAD_S)
    assert match([one], [stranger], slack_s=0.5) == [None]
    assert match([one], [replace(stranger, taken_s=BEGAN_S + 100.1 + AHEAD_S)], slack_s=0.5) == [1]


def test_the_clock_is_what_most_frames_say_and_as_sure_as_they_agree() -> None:
    assert clock_of([(0.0, 3600.0), (10.0, 3610.0), (20.0, 9999.0)]) == BodyClock(ahead_s=3600.0, slack_s=3.0)
    fine = clock_of([(0.0, 3600.0), (10.0, 3610.125), (20.0, 3620.0625)])
    assert fine == BodyClock(ahead_s=3600.0625, slack_s=0.5)
    assert clock_of([(0.0, 3600.0)]) == BodyClock(ahead_s=3600.0, slack_s=3.0)
    assert clock_of([]) is None
