"""Editing a plan's keys as a person types them: what is shown is what counts, and nothing else changes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tether.editor.messages import NEW_FILTER, NEW_RUNG
from tether.editor.plan_keys import edited, keys_of
from tether.errors import PlanError
from tether.plan.file import Plan, plan_from_text

PLANS = {path.stem: path.read_text() for path in (Path(__file__).parents[2] / "profiles" / "plans").glob("*.toml")}
DEMO = PLANS["demo"]


def meaning(text: str) -> Plan:
    """Return a plan but for its text."""
    return replace(plan_from_text(text), text="")


def value_of(text: str, key: str) -> str:
    return next(one.value for one in keys_of(text) if one.key == key)


def comments(text: str) -> list[str]:
    return [line.partition("#")[2] for line in text.splitlines() if "#" in line]


@pytest.mark.parametrize("name", PLANS)
def test_a_value_typed_again_as_it_is_shown_means_the_same(name: str) -> None:
    text = PLANS[name]
    given_ones = [one for one in keys_of(text) if one.value]
    assert len(given_ones) > 8
    for one in given_ones:
        again = edited(text, one.key, one.value)
        assert meaning(again) == meaning(text), one.key
        assert comments(again) == comments(text)


def test_a_value_that_is_shown_with_few_figures_stays_what_it_is_where_it_is_typed_again() -> None:
    text = DEMO.replace("6.12", "6.1234567").replace("speed_m_s = 1.4", "speed_m_s = 1.2345678")
    for key in ("filter.1", "water.speed_m_s"):
        assert edited(text, key, value_of(text, key)) == text
    assert "6.1234567" in edited(text, "filter.1", value_of(text, "filter.1").replace("0.02", "0.03"))


@pytest.mark.parametrize("name", PLANS)
def test_a_default_typed_where_nothing_is_said_means_the_same(name: str) -> None:
    text = PLANS[name]
    for one in keys_of(text):
        if one.default and not one.value and one.key.partition(".")[0] in plan_tables(text):
            assert meaning(edited(text, one.key, one.default)) == meaning(text), one.key


def plan_tables(text: str) -> set[str]:
    return {line.strip("[] \n") for line in text.splitlines() if line.startswith("[")} | {"darker_by"}


@pytest.mark.parametrize("name", PLANS)
def test_every_choice_is_one_that_the_plan_takes(name: str) -> None:
    text = PLANS[name]
    offered = [(one.key, choice) for one in keys_of(text) for choice in one.choices]
    assert len(offered) > 15
    for key, choice in offered:
        changed = edited(text, key, choice)
        plan_from_text(changed)
        assert value_of(changed, key) == choice


@pytest.mark.parametrize(
    ("key", "typed", "shown"),
    [
        ("rungs.times", "1/1000, 1/30, 2m", "1/1000, 1/30, 2m"),
        ("limits.aperture", "f/4 to f/8", "f/4, f/8"),
        ("limits.iso", "200,800", "200, 800"),
        ("rungs.frames", "3", "3"),
        ("rungs.step_stops", "1.5", "1.5"),
        ("run.settle_s", "2,5", "2.5"),
        ("run.leave_by", "18:40", "18:40"),
        ("run.leave_by", "2026-10-03T18:40", "2026-10-03 18:40:00"),
        ("tide.last_safe_exit", "17:30", "17:30"),
        ("run.proof", "NO", "no"),
        ("darker_by", "0.5", "0.5"),
        ("water.speed_m_s", "2", "2"),
        ("filter.1", "6 stops", "6 stops"),
        ("filter.1", "6,5", "6.5 stops"),
        ("filter.2", "factor 1000, measured 9.8", "factor 1000, measured 9.8"),
        ("filter.2", "density 3.0, measured 10 +- 0.1", "density 3, measured 10 ± 0.1"),
    ],
)
def test_a_value_is_read_as_it_was_meant(key: str, typed: str, shown: str) -> None:
    changed = edited(DEMO, key, typed)
    assert value_of(changed, key) == shown
    plan_from_text(changed)
    assert [one for one in keys_of(changed) if one.key != key] == [one for one in keys_of(DEMO) if one.key != key]


def test_keys_are_taken_out_and_put_back() -> None:
    bare = edited(edited(DEMO, "limits.aperture", ""), "limits.iso", "")
    assert value_of(bare, "limits.aperture") == ""
    back = edited(edited(bare, "limits.aperture", "f/4, f/16"), "limits.iso", "100, 1600")
    assert meaning(back) == meaning(DEMO)
    assert plan_from_text(edited(DEMO, "water.speed_m_s", "")).water is None


@pytest.mark.parametrize(
    ("table", "typed", "given"),
    [
        (
            '[rungs]\nfrom = "1/2000"\nto = "4:16"\n',
            ("rungs.from", "1/8 to 4m"),
            {"rungs.from": "1/8", "rungs.to": "4m"},
        ),
        ("[water]\nspeed_m_s = 1.4\ndistance_m = 8.0\n", ("water.distance_m", "0.8 at 6"), {"water.speed_m_s": "0.8"}),
    ],
)
def test_two_keys_that_go_together_come_and_go_together(
    table: str, typed: tuple[str, str], given: dict[str, str]
) -> None:
    assert table in DEMO
    times = edited(DEMO, "rungs.times", "1/8, 1")
    for key in given:
        bare = edited(times, key, "")
        assert [value_of(bare, one) for one in given] == [""] * len(given)
        plan_from_text(bare)
        with pytest.raises(PlanError, match=f"go together; write both at once, such as .* {typed[1].split()[1]} "):
            edited(bare, key, typed[1].split()[0])
        both = edited(bare, *typed)
        plan_from_text(both)
        assert {one: value_of(both, one) for one in given} == given


def test_a_new_key_stands_with_the_others_of_its_table_and_remarks_stay_where_they_belong() -> None:
    weir = edited(PLANS["weir"], "limits.extended_iso", "yes")
    assert weir.index("extended_iso = true") < weir.index("# [costs]")
    text = DEMO.replace("[water]", "# of the water\n[water]").replace("[run]", "# of the run\n[run]")
    longest = edited(text, "limits.longest", "8m").splitlines()
    assert longest.index('longest = "8m"') == longest.index("iso = [100, 1600]") + 1
    assert longest.index("[water]") == longest.index("# of the water") + 1
    more = edited(text, NEW_FILTER, "Calder 3 = 3")
    assert more.replace('[[filter]]\nname = "Calder 3"\nstops = 3\n\n', "") == text
    for filters in ((2,), (1, 1), (2, 1)):
        fewer = text
        for number in filters:
            fewer = edited(fewer, f"filter.{number}", "")
        assert len(plan_from_text(fewer).filter) == 2 - len(filters)
        assert "# of the run\n[run]\n" in fewer


def test_only_the_value_that_is_edited_changes_in_the_file() -> None:
    assert edited(DEMO, "base.iso", "200") == DEMO.replace("iso = 100\n", "iso = 200\n")
    assert edited(DEMO, "limits.iso", "100 to 800") == DEMO.replace("[100, 1600]", "[100, 800]")
    off = value_of(DEMO, "filter.2").replace("0.02", "0.03")
    assert edited(DEMO, "filter.2", off) == "0.03".join(DEMO.rsplit("0.02", 1))


def test_filters_come_and_go() -> None:
    more = edited(DEMO, NEW_FILTER, "Calder 3 = density 0.9, measured 3.1 ± 0.05")
    added = plan_from_text(more).filter[-1]
    assert (added.name, added.density, added.measured_stops, added.uncertainty_stops) == ("Calder 3", 0.9, 3.1, 0.05)
    assert meaning(edited(more, "filter.3", "")) == meaning(DEMO)
    none = edited(edited(DEMO, "filter.1", ""), "filter.1", "")
    assert plan_from_text(none).filter == ()
    assert plan_from_text(edited(none, NEW_FILTER, "Calder 6 = 6 stops")).filter[0].stops == 6


@pytest.mark.parametrize(
    ("key", "typed", "why"),
    [
        ("rungs.frames", "a few", "whole number"),
        ("run.settle_s", "soon", "seconds"),
        ("run.proof", "perhaps", "yes or no"),
        ("darker_by", "a bit", "nothing"),
        ("base.time", "", "must be given"),
        ("filter.1", "dark", "10 stops"),
        ("filter.1", "1.2.3 stops", "10 stops"),
        ("filter.1", "6 stops ± 0.1", "10 stops"),
        ("filter.9", "6 stops", "there are 2"),
        (NEW_FILTER, "6 stops", "Calder 6 = 6 stops"),
        ("title", "other", "can't be edited here"),
    ],
)
def test_what_cannot_be_meant_is_a_sentence(key: str, typed: str, why: str) -> None:
    with pytest.raises(PlanError, match=why):
        edited(DEMO, key, typed)


@given(st.sampled_from([one.key for one in keys_of(DEMO)]), st.text(max_size=20))
def test_whatever_is_typed_is_taken_or_refused_in_a_sentence(key: str, typed: str) -> None:
    try:
        changed = edited(DEMO, key, typed)
    except PlanError:
        return
    assert comments(changed)[0] == comments(DEMO)[0]
    assert len(keys_of(changed)) >= len(keys_of(DEMO)) - 1


def test_a_text_that_is_no_toml_has_no_keys() -> None:
    assert keys_of("[rungs") == ()
    with pytest.raises(PlanError, match="no longer valid TOML"):
        edited("[rungs", "rungs.frames", "1")


# Rungs with wishes of their own


def test_a_rung_is_marked_as_one_that_must_be_had_and_gets_frames_around_it() -> None:
    text = edited(DEMO, NEW_RUNG, "4:16 = must, -2, +2")
    (entry,) = plan_from_text(text).rung
    assert entry.time is not None
    assert (entry.time.label, entry.must, entry.bracket) == ("4:16", True, [-2, 2])
    assert value_of(text, "rung.1") == "must, -2, +2"
    assert comments(text) == comments(DEMO)
    assert plan_from_text(edited(text, "rung.1", "+1.5,-1")).rung[0].bracket == [1.5, -1]
    assert not plan_from_text(edited(text, "rung.1", "+1.5")).rung[0].must


def test_a_rung_that_has_wishes_already_keeps_them() -> None:
    text = edited(PLANS["weir"], NEW_RUNG, '0"5 = must')
    before, after = plan_from_text(PLANS["weir"]).rung, plan_from_text(text).rung
    assert after == (before[0].model_copy(update={"must": True}), *before[1:])
    assert meaning(edited(text, NEW_RUNG, "0.5 = asked for")) == meaning(PLANS["weir"])


def test_a_rung_that_is_asked_for_elsewhere_leaves_nothing_behind_once_it_has_no_wish() -> None:
    for time in ("4:16", "1/30"):
        assert edited(edited(DEMO, NEW_RUNG, f"{time} = must"), NEW_RUNG, f"{time} = asked for").strip() == DEMO.strip()


def test_a_rung_of_its_own_stays_until_it_is_taken_out() -> None:
    text = edited(edited(DEMO, NEW_RUNG, "0.3"), NEW_RUNG, "0.7 = +1")
    assert [(value_of(text, key)) for key in ("rung.1", "rung.2")] == ["asked for", "+1"]
    assert [one.called for one in keys_of(text) if one.group == "a rung"] == ["0.3", "0.7", "one more"]
    assert value_of(edited(text, "rung.2", "asked for"), "rung.2") == "asked for"
    assert edited(edited(text, "rung.2", ""), "rung.1", "").strip() == DEMO.strip()


@pytest.mark.parametrize(
    ("key", "typed", "says"),
    [
        (NEW_RUNG, "4:16 = most", "must, -2, +2"),
        (NEW_RUNG, "soon = must", "soon"),
        (NEW_RUNG, "= must", "write a time"),
        ("rung.3", "must", "there is no such rung"),
    ],
)
def test_what_is_no_wish_for_a_rung_is_told_so(key: str, typed: str, says: str) -> None:
    with pytest.raises(PlanError, match=says.replace("+", "[+]")):
        edited(DEMO, key, typed)


def test_every_key_says_what_it_may_be_or_what_it_does() -> None:
    """A list of choices alone does not say what they are about."""
    assert [one.key for one in keys_of(DEMO) if not one.hint] == []
