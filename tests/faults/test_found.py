"""What is looked for in what a struck run left: each trouble that is planted is found, and nothing else."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.engine.rig import BASE, SIX, TEN, work
from tests.faults.found import Left

RUNGS = '[rungs]\ntimes = ["1/125", "2m"]\nframes = 1\norder = "short first"\n[run]\nproof = false\n'


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return work(tmp_path_factory.mktemp("sound"), BASE + RUNGS + SIX + TEN).folder


def truth(outing: Path, change: Callable[[dict[str, object]], None]) -> None:
    """Change the body's own record of the last exposure."""
    path = outing / "simulated-body" / "openings.jsonl"
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    last = max(line.get("frame", 0) for line in lines)
    for line in lines:
        if line.get("frame") == last:
            change(line)
    path.write_text("".join(f"{json.dumps(line)}\n" for line in lines if line))


def never_shut(outing: Path) -> None:
    truth(outing, lambda line: line.clear() if line["what"] == "closed" else None)


def longer(outing: Path) -> None:
    truth(outing, lambda line: line.update(open_s=300.0) if line["what"] == "closed" else None)


def another_iso(outing: Path) -> None:
    truth(outing, lambda line: line.update(iso="6400") if line["what"] == "opened" else None)


def off_the_disk(outing: Path) -> None:
    sorted((outing / "frames").iterdir())[-1].unlink()


def garbled(outing: Path) -> None:
    path = sorted((outing / "frames").iterdir())[-1]
    path.write_bytes(path.read_bytes()[:-1] + b"\0\1")


def nameless(outing: Path) -> None:
    (outing / "frames" / "stranger.dng").write_bytes(b"")


def one_more_on_card(outing: Path) -> None:
    (outing / "simulated-body" / "card" / "SIM_0077.json").write_text("{}")


def mistaken(outing: Path) -> None:
    (outing / "run.log").write_text("Traceback (most recent call last):\n  somewhere\nValueError: no\n")


@pytest.mark.parametrize(
    ("plant", "found"),
    [
        (never_shut, "never ended"),
        (longer, "was open for 300.00 s"),
        (another_iso, "6400"),
        (off_the_disk, "in the journal and not on the disk"),
        (garbled, "not what the journal says"),
        (nameless, "on the disk and not in the journal: ['stranger.dng']"),
        (one_more_on_card, "on the card and not at home: [77]"),
        (mistaken, "a mistake of the program is in run.log: ValueError: no"),
    ],
)
def test_what_is_planted_is_found(tmp_path: Path, sound: Path, plant: Callable[[Path], None], found: str) -> None:
    outing = Path(shutil.copytree(sound, tmp_path / "outing"))
    plant(outing)
    left = Left(outing)
    assert found in " ".join(left.lost() + left.unfinished())


def test_in_a_sound_outing_nothing_is_found(sound: Path) -> None:
    left = Left(sound)
    assert (left.outcome, left.lost(), left.unfinished()) == ("done", [], [])
    assert left.summary() == "2 made, 2 on card, 2 at home, shut 0.00 s late at most"
