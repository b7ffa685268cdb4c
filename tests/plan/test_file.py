"""The plan file: what is read, and how mistakes are told."""

from __future__ import annotations

from datetime import time
from pathlib import Path

import pytest

from tests.plan.plans import HEAD, ladder_of, plan_of
from tether.body.layers import profile_folders
from tether.errors import PlanError
from tether.light.spot import Spot
from tether.plan.file import plan_from_text, read_plan

BASE = '[base]\ntime = "1/125"\naperture = "f/8"\niso = 100\n'
RUNGS = '[rungs]\nfrom = "1/500"\nto = "2m"\n'


def mistakes(text: str) -> list[str]:
    with pytest.raises(PlanError) as caught:
        plan_from_text(text)
    return list(caught.value.sentences)


def test_labels_become_exact_values() -> None:
    plan = plan_of(BASE + RUNGS)
    assert plan.base.time.exact == 2**-7
    assert plan.base.aperture.exact == 8
    assert plan.base.iso.exact == 100
    assert plan.rungs.to is not None
    assert plan.rungs.to.exact == 120


def test_the_scale_in_force_decides_between_two_readings() -> None:
    thirds = plan_of(BASE + '[rungs]\ntimes = ["0.3"]\n')
    halves = plan_of(BASE + '[rungs]\ntimes = ["0.3"]\n', head='scale = "half"\n' + HEAD)
    assert thirds.rungs.times[0].exact == pytest.approx(2 ** (-5 / 3))
    assert halves.rungs.times[0].exact == pytest.approx(2**-1.5)


def test_numbers_may_stand_for_labels() -> None:
    plan = plan_of('[base]\ntime = 0.5\naperture = 11\niso = 200\n[rungs]\ntimes = [1, 30, "2m"]\n')
    assert plan.base.time.exact == 0.5
    assert plan.base.aperture.exact == 2**3.5
    assert [mark.exact for mark in plan.rungs.times] == [1, 32, 120]


TEN_MISTAKES = """
title = "Ten"
darker_by = "a lot"
[body]
file = 7
[lens]
focal_mm = -24
widest = "f/22"
narrowest = "f/2.8"
[base]
time = "1/0"
aperture = "f/8"
iso = "fast"
[rungs]
from = "2m"
to = "1/500"
[limits]
isoo = [100, 400]
[[filter]]
name = "Calder 6"
stops = 6
density = 1.8
[[filter]]
name = "Calder 10"
stops = "ten"
[run]
leave_by = "dusk"
"""


def test_ten_mistakes_give_ten_sentences() -> None:
    found = mistakes(TEN_MISTAKES)
    assert len(found) == 10
    for sentence, words in zip(
        found,
        [
            ("darker_by", "a lot", "nothing"),
            ("body.file", "7", "text"),
            ("lens.focal_mm", "-24", "more than 1"),
            ("base.time", "1/0"),
            ("base.iso", "fast"),
            ("rungs", '"from" 2:00', "shorter"),
            ("limits.isoo", "iso"),
            ("run.leave_by", "dusk", "18:40"),
            ("filter[1]", "exactly one"),
            ("filter[2].stops", "ten", "number"),
        ],
        strict=True,
    ):
        assert sentence.startswith("plan.toml: ")
        for word in words:
            assert word in sentence


def test_a_mistake_within_the_lens_is_told_with_the_others() -> None:
    found = mistakes(TEN_MISTAKES.replace("focal_mm = -24", "focal_mm = 24"))
    assert any("widest f/22 must be a smaller f-number than narrowest f/2.8" in one for one in found)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (RUNGS, "the table [base] is missing"),
        (BASE, "no rung is asked for"),
        (BASE.replace("f/8", "f/32") + RUNGS, "the lens goes from f/2.8 to f/22"),
        (BASE + "[rungs]\nstreaks_px = [40]\n", "need [water]"),
        (BASE + '[rungs]\nfrom = "1/500"\n', '"from" and "to" go together'),
        (BASE + RUNGS + "[[rung]]\nframes = 3\n", 'exactly one of "time" and "streak_px"'),
        (BASE + RUNGS + "[limits]\niso = [800, 100]\n", "iso runs from low to high"),
        (BASE + RUNGS + '[limits]\naperture = ["f/16", "f/8"]\n', "aperture runs from wide to narrow"),
        (BASE + RUNGS + '[[filter]]\nname = "A"\nstops = 3\n[[filter]]\nname = "A"\nstops = 6\n', "another filter"),
        (BASE + RUNGS + '[[filter]]\nname = "A"\nstops = 3\nstacks_with = ["B"]\n', 'no filter is called "B"'),
        (BASE + RUNGS.replace("[rungs]", '[rungs]\nalso = ["Soft 2"]'), "no graduated filter has this name"),
        (BASE + "rungs = 3\n" + RUNGS, "not a key that is known here"),
        (BASE + RUNGS + "filter = 3\n", "not a key that is known here"),
        (BASE + RUNGS + "[limits]\ntime_off_stops = true\n", "time_off_stops"),
    ],
)
def test_each_mistake_names_key_and_remedy(text: str, words: str) -> None:
    assert any(words in one for one in mistakes(HEAD + text))


def test_a_list_where_tables_are_meant() -> None:
    assert any("begin each with [[filter]]" in one for one in mistakes("filter = 3\n" + HEAD + BASE + RUNGS))


def test_what_is_not_toml_is_told_with_its_place() -> None:
    (sentence,) = mistakes("title = Weir\n")
    assert "line 1" in sentence


def test_a_file_that_is_missing_or_binary(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="cannot be read"):
        read_plan(tmp_path / "none.toml")
    (tmp_path / "frame.toml").write_bytes(b"II*\x00\xff\xfe\xff")
    with pytest.raises(PlanError, match="not a text file"):
        read_plan(tmp_path / "frame.toml")


def test_the_folder_of_the_second_copy_is_a_whole_path(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", "/home/you")
    for text, path in (("/media/you/disk", "/media/you/disk"), ("~/disk", "/home/you/disk")):
        assert plan_from_text(f'{HEAD}{BASE}{RUNGS}[run]\ncopy_to = "{text}"\n').run.copy_to == Path(path)
    for text in ('"disk"', '""', "3"):
        (sentence,) = mistakes(f"{HEAD}{BASE}{RUNGS}[run]\ncopy_to = {text}\n")
        assert "run.copy_to" in sentence
        assert 'is not the whole path of a folder; write it as "/media/you/second-disk"' in sentence


def test_leave_by_is_a_time_of_day() -> None:
    assert plan_of(BASE + RUNGS + '[run]\nleave_by = "18:40"\n').run.leave_by == time(18, 40)
    assert plan_of(BASE + RUNGS + "[run]\nleave_by = 18:40:00\n").run.leave_by == time(18, 40)


@pytest.mark.parametrize("written", ["1900", "19", "190000", "T19:00"])
def test_a_time_of_day_has_a_colon_and_another_number_is_not_taken_for_one(written: str) -> None:
    (sentence,) = mistakes(f'{HEAD}{BASE}{RUNGS}[run]\nleave_by = "{written}"\n')
    assert f'run.leave_by = "{written}": is not a time of day; write "18:40"' in sentence


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[limit]\niso = [100, 400]\n", 'limit: is not a table that is known here; did you mean "limits"?'),
        ('[[filters]]\nname = "A"\n', 'filters: is not a table that is known here; did you mean "filter"?'),
        ("[forecast]\nrain = true\n", "forecast: is not a table that is known here."),
    ],
)
def test_a_table_that_is_not_known_is_told_with_the_one_that_may_be_meant(text: str, said: str) -> None:
    assert mistakes(HEAD + BASE + RUNGS + text) == [f"plan.toml: {said}"]


def test_a_mistake_in_one_of_several_tables_names_the_filter_and_the_line() -> None:
    bag = '[[filter]]\nname = "Peat 3"\nstops = 3\n\n[[filter]]  # the second\nname = "Peat 6"\nfactr = 64\nstops = 6\n'
    text = HEAD + BASE + RUNGS + bag
    line = text.splitlines().index("factr = 64") + 1
    (sentence,) = mistakes(text)
    assert sentence == (
        f'plan.toml: filter[2].factr ("Peat 6", line {line}): is not a key that is known here; did you mean "factor"?'
    )


def test_a_key_that_is_missing_is_told_by_the_line_where_its_table_begins_and_lists_in_a_line_by_none() -> None:
    (sentence,) = mistakes(f"{HEAD}{BASE}{RUNGS}[[filter]]\nstops = 3\n")
    line = f"{HEAD}{BASE}{RUNGS}[[filter]]".count("\n") + 1
    assert sentence == f"plan.toml: filter[1].name (line {line}): is missing; it must be given."
    (sentence,) = mistakes(f"filter = [{{stops = 3}}]\n{HEAD}{BASE}{RUNGS}")
    assert sentence == "plan.toml: filter[1].name: is missing; it must be given."


def test_the_shipped_plans_can_be_read() -> None:
    plans = sorted(path for folder in profile_folders("plans") for path in folder.glob("*.toml"))
    assert plans
    for path in plans:
        assert read_plan(path).top.title


def test_old_keys_are_read_with_a_sentence_on_what_became_of_them() -> None:
    old = '[limits]\ndiffraction = "two pixels"\n[costs]\niso_per_stop = 2.0\nper_touch = 1.0\ntouch_stops = 0.3\n'
    plan = plan_of(BASE + RUNGS + old)
    assert plan.costs.touch_stops == 0.3
    assert len(plan.old_keys) == 3
    told = " ".join(plan.old_keys)
    for words in ("limits.diffraction", "write limits.aperture", "costs.iso_per_stop", "costs.touch_stops"):
        assert words in told
    assert set(plan.old_keys) <= set(ladder_of(BASE + RUNGS + old).notes)
    assert not plan_of(BASE + RUNGS).old_keys


def test_the_detail_that_matters_is_given_once() -> None:
    both = "[costs]\nprint_width_cm = 42\ndetail_per_mm = 60\n"
    assert any("one of" in one for one in mistakes(HEAD + BASE + RUNGS + both))


def test_cold_fingers_take_longer_with_filters() -> None:
    text = BASE + RUNGS + '[[filter]]\nname = "A"\nstops = 3\n[[filter]]\nname = "B"\nstops = 6\nswap_s = 20\n'
    assert [one.swap_s for one in plan_of(text).filters] == [60, 20]
    assert [one.swap_s for one in plan_of(text + "[place]\ncold = true\n").filters] == [90, 20]


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ("latitude = 64.1", '"latitude" and "longitude" go together'),
        ("longitude = -21.9", '"latitude" and "longitude" go together'),
        ("latitude = 91.0\nlongitude = 0.0", "place.latitude = 91"),
        ("latitude = 0.0\nlongitude = 180.5", "place.longitude = 180.5"),
        ('latitude = "64 N"\nlongitude = 0.0', "place.latitude"),
        ("latitude = nan\nlongitude = 0.0", "place.latitude"),
    ],
)
def test_a_place_on_the_earth_is_whole_and_on_it(keys: str, words: str) -> None:
    (sentence,) = mistakes(f"{HEAD}{BASE}{RUNGS}\n[place]\n{keys}\n")
    assert words in sentence


def test_a_place_on_the_earth_may_be_given_or_left_out() -> None:
    assert plan_from_text(HEAD + BASE + RUNGS).place.spot is None
    placed = plan_from_text(f"{HEAD}{BASE}{RUNGS}\n[place]\nlatitude = 64\nlongitude = -21.9\n")
    assert placed.place.spot == Spot(latitude=64, longitude=-21.9)
