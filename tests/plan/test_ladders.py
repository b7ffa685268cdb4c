"""Twenty ladders by a photographer's habit, written down beforehand, and what the planner makes of the same kits.

`DIFFERS` holds what differs; `docs/ladders.md` explains each of these.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tether.body.bodyfile import load_body_file
from tether.exposure.labels import parse_time, time_label
from tether.plan.file import SCALES, Plan, plan_from_text
from tether.plan.ladder import Ladder, Rung
from tether.plan.planner import make_ladder

Kit = dict[str, Any]
TABLE = Path(__file__).parents[1] / "data" / "ladders.toml"
KITS: list[Kit] = tomllib.loads(TABLE.read_text(encoding="utf-8"))["kit"]
NOT_ONE = ["is another rung", "", "", ""]
#: Kit and time asked, with what the planner makes instead: time, aperture, ISO, filters.
DIFFERS = {
    ("base at ISO 400 for leaves in wind, three", "1/4"): ["1/4", "f/11", "200", "3"],
    ("nothing longer than a minute, ten", "4m"): ["51", "f/10", "100", "10"],
    ("one three-stop filter, open shade", "1/8"): ["1/8", "f/5.6", "100", "3"],
    ("measured filters of 6.33 and 10.67 stops", "30"): ["30", "f/9", "100", "10.67"],
}
DOCUMENT = Path(__file__).parents[2] / "docs" / "ladders.md"


def text_of(kit: Kit) -> str:
    focal_mm, widest, narrowest = kit.get("lens", [24, "f/2.8", "f/22"])
    body = kit.get("body", "simulated")
    lines = ['title = "Kit"', 'scale = "half"' if body == "simulated-mirror" else ""]
    lines += [f'[body]\nfile = "{body}"', f"[lens]\nfocal_mm = {focal_mm}"]
    lines += [f'widest = "{widest}"\nnarrowest = "{narrowest}"']
    lines += [
        "[base]",
        *(f'{key} = "{one}"' for key, one in zip(("time", "aperture", "iso"), kit["base"], strict=True)),
    ]
    lines += [f"[rungs]\nframes = 1\ntimes = {[row[0] for row in kit['rungs']]}", "[limits]"]
    lines += [f"{key} = {kit[key]!r}" for key in ("aperture", "iso", "longest", "depth_m") if key in kit]
    lines += ["extended_iso = true"] if kit.get("extended") else []
    for stops in kit["filters"]:
        lines += [f'[[filter]]\nname = "{stops}"\nstops = {stops}']
        lines += [f"measured_stops = {stops}"] if isinstance(stops, float) else []
    if "polariser" in kit:
        lines += [f'[[filter]]\nname = "polariser"\nstops = {kit["polariser"]}\nkind = "always on"']
    return "\n".join(lines)


@cache
def planned(at: int) -> tuple[Plan, Ladder]:
    plan = plan_from_text(text_of(KITS[at]))
    abilities = load_body_file(plan.body.file).abilities(plan.lens.widest.exact, plan.lens.narrowest.exact)
    return plan, make_ladder(plan, abilities)


def as_row(rung: Rung) -> list[str]:
    choice = rung.choice
    time = time_label(choice.time_s) if choice.way == "held" else choice.time_label
    filters = sorted((one.name for one in choice.stack), key=float)
    return [time, choice.aperture.label, choice.iso.label, "+".join(filters)]


CASES = [(at, row) for at, kit in enumerate(KITS) for row in kit["rungs"]]


@pytest.mark.parametrize(("at", "row"), CASES, ids=[f"{KITS[at]['name']}: {row[0]}" for at, row in CASES])
def test_a_rung_is_made_as_habit_has_it_or_the_difference_is_explained(at: int, row: list[str]) -> None:
    plan, ladder = planned(at)
    asked = parse_time(row[0], SCALES[plan.top.scale]).exact
    found = [as_row(rung) for rung in ladder.rungs if rung.asked.exact == pytest.approx(asked)]
    expected = DIFFERS.get((KITS[at]["name"], row[0]), row[1:])
    assert (found or [NOT_ONE])[0][1:] == expected[1:]
    if found:
        made = parse_time(found[0][0], SCALES[plan.top.scale]).exact
        assert made == pytest.approx(parse_time(expected[0], SCALES[plan.top.scale]).exact, rel=0.13)


@pytest.mark.parametrize("at", range(len(KITS)), ids=[kit["name"] for kit in KITS])
def test_every_rung_asked_for_is_there_or_explained(at: int) -> None:
    _, ladder = planned(at)
    told = {one.wanted_s for one in ladder.unreached}
    there = {rung.asked.exact for rung in ladder.rungs}
    assert len(told | there) == len(KITS[at]["rungs"])
    assert all(one.sentence.endswith(".") for one in ladder.unreached)


def test_each_difference_is_explained() -> None:
    document = DOCUMENT.read_text(encoding="utf-8")
    assert all(kit in document and f"**{time}" in document for kit, time in DIFFERS)
    assert all(kit["name"] in document for kit in KITS)
