"""How many frames a ladder makes is said in one place, and is what a run of it makes."""

from __future__ import annotations

import dataclasses
from collections import Counter
from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, TEN, work
from tests.plan.plans import HEAD
from tether.body.protocol import Status
from tether.checks import host as machine
from tether.checks import ladder as needs
from tether.journal.records import SuppliesSeen
from tether.outing.prepare import prepare
from tether.plan.as_json import planned_of
from tether.plan.ladder import Ladder

PLANS = Path(__file__).parents[2] / "profiles/plans"
LONG = '[rungs]\ntimes = ["1/125", "8", "2m"]\nframes = 2\n[run]\nproof_over = "1m"\ndark_frames = "at the end"\n'
#: What each plan makes, counted by hand in its text: base, test exposures, rungs, dark frames. A test exposure through
#: each of the stacks, and bare ones at the ISO values of those (6400), of bulb exposures, and one and two stops above
#: them as far as the limits go and no bare rung has shown them: demo 800; weir 400 and 1600; the others 200 and 400.
#: One more where a bulb exposure has an aperture that its stack was not seen through: demo, one minute at f/11.
COUNTED = {
    "demo": {"base": 3, "proof": 6, "rung": 14},
    "weir": {"base": 3, "proof": 6, "rung": 26},
    "darks": {"base": 3, "proof": 5, "rung": 6, "dark": 2},
    "no base": {"proof": 1, "rung": 6, "dark": 2},
    "base without the one more": {"base": 2, "proof": 5, "rung": 6, "dark": 2},
}


def text_of(name: str) -> str:
    """Return a plan's text; what is not about its frames is made quick."""
    if name in ("demo", "weir"):
        return (PLANS / f"{name}.toml").read_text()
    base = {
        "darks": BASE.replace("frames = 0\n", ""),
        "no base": BASE,
        "base without the one more": BASE.replace("frames = 0\n", "frames = 2\nagain = false\n"),
    }
    return base[name] + LONG + SIX + TEN


def counted(ladder: Ladder) -> dict[str, int]:
    return dict(Counter(one.kind for one in ladder.exposures))


@pytest.mark.prove
@pytest.mark.parametrize("name", COUNTED)
def test_a_ladder_says_how_many_frames_it_makes_and_a_run_makes_them(name: str, tmp_path: Path) -> None:
    worked = work(tmp_path, text_of(name), head="" if name in ("demo", "weir") else HEAD)
    assert Counter(frame.kind for frame in worked.frames) == COUNTED[name]
    ladder = worked.rehearsal.ready.ladder
    assert counted(ladder) == COUNTED[name]
    assert [one.kind for one in ladder.exposures] == [frame.kind for frame in worked.frames]
    assert planned_of(ladder).frames == sum(COUNTED[name].values())


def test_what_is_still_to_come_counts_down_to_the_frames_after_the_last_rung(tmp_path: Path) -> None:
    """Rungs 1/125, 8 and 2m of two frames, tests before the last two (four, one), one base frame and two dark ones."""
    worked = work(tmp_path, text_of("darks"))
    assert [one.to_come for one in worked.events if isinstance(one, SuppliesSeen)] == [14, 12, 6]


def test_card_and_disk_are_held_against_every_frame() -> None:
    ladder = prepare(PLANS / "demo.toml").ladder
    for left, verdict in ((22, "note"), (23, "ok")):
        status = Status(battery=None, card_frames_left=left, temperature_c=None, busy=False)
        assert needs.card(ladder, status).verdict == verdict
    room = machine.Disk(free_bytes=10**12, kind="", writable=True)
    assert "23 frames need" in machine.disk(room, len(ladder.exposures), 30_000_000).sentence


def test_the_forecast_counts_base_frames_and_taking_the_filters_off_for_the_last() -> None:
    """1/60 s (2^-6 s) three times, and a frame is fetched in half a second by the simulated body."""
    forecast = prepare(PLANS / "demo.toml").ladder.forecast
    assert forecast.base_s == pytest.approx(3 * 2**-6)
    assert forecast.fetching_s == pytest.approx(23 * 0.5)
    assert forecast.total_s == pytest.approx(
        sum(getattr(forecast, one.name) for one in dataclasses.fields(forecast) if one.name != "offered_s"), rel=1e-12
    )
