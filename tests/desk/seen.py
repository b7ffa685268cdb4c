"""Every screen of the desk, drawn from played events with the clock standing still; the drawings are in ``seen/``.

Look at them when they change, and draw them anew with::

    python -m tests.desk.seen
"""

from __future__ import annotations

import asyncio
import os
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import reduce
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from tests.desk.rig import ROOT, Rig, asked, at_desk, begun, held, planned
from tests.desk.test_draft import BARS, CHECKED, START, STATE, Kept
from tests.journal.outings import weir, write_outing
from tests.journal.shown import ladder_ended
from tether.clock import AffineClock
from tether.control.attachment import RunView, WordReply
from tether.control.commands import Verb
from tether.control.messages import Facts
from tether.desk.app import LineHeard
from tether.desk.looks import LOOKS
from tether.editor.messages import Doing, DraftFrame, DraftRegion, EditorEvent, PictureShown
from tether.editor.plan_keys import keys_of
from tether.files.marked import plain_beside, write_marked
from tether.journal.records import Record, RegionsShown, Said, StateChanged
from tether.journal.snapshot import Snapshot, after
from tether.journal.telling import read_outing
from tether.report.choices import Choice, choose

SEEN = Path(__file__).parent / "seen"
LARGE, *SIZES = ((160, 50), (120, 40), (80, 24), (60, 20))


class Quiet:
    """A line to a run over which nothing comes but what the test posts."""

    def __init__(self, *_: object, **__: object) -> None:
        self.heard_s = 100.0

    def start(self) -> None: ...
    def say(self, verb: Verb) -> None: ...
    def turn_to(self, outing: Path) -> None: ...
    def close(self) -> None: ...


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What a screen is drawn from.

    Attributes
    ----------
    events
        What the run has told; None: there is no run.
    news
        What the process that plans has told; None: no plan is open.
    more
        What else the desk knows of it.
    reply
        What came of a word.
    keys
        What is pressed then.
    at_s
        Where the clock stands when it is drawn, after the hundred at which it stood [s].
    """

    events: Iterable[Record] | None = None
    news: tuple[EditorEvent, ...] | None = None
    more: dict[str, Any] | None = None
    reply: WordReply | None = None
    keys: tuple[str, ...] = ()
    at_s: float = 0.0


TEXT = (ROOT / "profiles" / "plans" / "demo.toml").read_text()
DRAFTED = replace(STATE, text=TEXT, keys=keys_of(TEXT))
EDITED = replace(
    DRAFTED,
    saved=False,
    edits=1,
    ladder=replace(planned(), leave_by="12:05", rungs=tuple(replace(one, frames=2) for one in planned().rungs)),
)
MISTAKES = ('demo.toml: rungs.to = "soon": “soon” cannot be read as an exposure time.',)
WITH_REGIONS = replace(
    STATE,
    regions=(DraftRegion(what="water", box=(0.1, 0.5, 0.7, 0.9)), DraftRegion(what="rock", box=(0.7, 0.1, 0.95, 0.5))),
)
FRAME = DraftFrame(
    picture="base.jpg",
    bars=BARS,
    exposure="1/60 s, f/8, ISO 100",
    sentence="0.42 stops of headroom.",
    headroom_stops=0.42,
    clipped_share=0.0,
)
TROUBLE = "The camera no longer answers. Look at the cable and whether it is switched on; then press space."
REGIONS = RegionsShown(picture="readings/ladder-1.jpg", found="water 33%, rock 33% of the picture", state="asked")
SCENES: dict[str, Scene] = {
    "run-open": Scene(events=held(725)),
    "run-last-seconds": Scene(events=held(4.2)),
    "run-between": Scene(events=[*begun(), StateChanged(before="ready", state="settling", at_ns=0)]),
    "run-trouble": Scene(
        events=[
            *begun(),
            Said(about="trouble", text=TROUBLE),
            StateChanged(before="ready", state="in trouble", at_ns=0),
        ]
    ),
    "run-lost": Scene(events=held(725), more={"state": "lost", "since_s": 100.0}, at_s=7),
    "run-silent": Scene(events=held(725), at_s=6),
    "run-gone": Scene(events=held(-5), more={"state": "gone"}),
    "run-over": Scene(events=[*begun(), ladder_ended("done in part")], more={"state": "over"}),
    "turn": Scene(events=asked()),
    "turn-flash": Scene(events=asked(), at_s=1.1),
    "turn-set-aside": Scene(events=asked(), keys=("escape",)),
    "turn-told": Scene(
        events=asked(), reply=WordReply(verb="answer", ok=True, sentence="The run is told: answer."), at_s=1.1
    ),
    "stop": Scene(events=held(725), keys=("w",)),
    "help": Scene(events=held(725), keys=("question_mark",)),
    "log": Scene(events=held(725), keys=("6",)),
    "log-idle": Scene(keys=()),
    "body": Scene(news=(STATE, CHECKED)),
    "body-of-run": Scene(events=held(725), keys=("1",)),
    "despite": Scene(news=(STATE, CHECKED), keys=("o",)),
    "base": Scene(news=(WITH_REGIONS, FRAME), keys=("2",)),
    "base-of-run": Scene(events=[*held(725), REGIONS], keys=("2",)),
    "run-regions": Scene(events=[*held(725), REGIONS]),
    "base-searching": Scene(news=(STATE, Doing(what="The base exposure is looked for.")), keys=("2",)),
    "base-water": Scene(news=(STATE, FRAME), keys=("2", "w", "right", "down")),
    "base-live": Scene(news=(STATE, PictureShown(picture="base.jpg", times=5)), keys=("2", "z")),
    "ladder": Scene(news=(DRAFTED, EDITED), keys=("3",)),
    "ladder-rungs": Scene(news=(DRAFTED, EDITED), keys=("3", "tab", *["down"] * 4)),
    "ladder-edit": Scene(news=(DRAFTED,), keys=("3", "down", "enter", "backspace")),
    "ladder-mistake": Scene(news=(replace(DRAFTED, ladder=None, mistakes=MISTAKES, saved=False),), keys=("3", "tab")),
    "ladder-of-run": Scene(events=held(725), keys=("3",)),
    "begin": Scene(news=(STATE, CHECKED), keys=("B",)),
    "frames": Scene(keys=("5", "down", "k")),
    "frames-compare": Scene(keys=("5", "c", "down", "down")),
    "note": Scene(keys=("5", "o", *"calm")),
}
#: Drawn in every look, with their colours; few with pictures, which make the drawings large.
IN_LOOKS = (
    "body",
    "base",
    "ladder",
    "ladder-rungs",
    "begin",
    "run-open",
    "run-lost",
    "turn",
    "turn-flash",
    "stop",
    "log-idle",
    "frames",
    "log",
    "help",
)


#: Not drawn large: on a large screen they differ from their neighbours by a line.
NOT_LARGE = (
    "run-last-seconds",
    "run-silent",
    "run-gone",
    "run-lost",
    "turn-flash",
    "turn-told",
    "stop",
    "body-of-run",
    "base-searching",
    "base-live",
    "ladder-edit",
    "ladder-mistake",
)


def sizes_of(name: str) -> tuple[tuple[int, int], ...]:
    """Return the sizes in which a scene is drawn."""
    return tuple(SIZES) if name in NOT_LARGE else (LARGE, *SIZES)


def make_outing(folder: Path) -> Path:
    """Make an outing with previews: slopes of grey, each frame as bright as its number has it."""
    outing = folder / "weir"
    write_outing(outing, weir())
    (outing / "previews").mkdir(exist_ok=True)
    Image.fromarray(np.tile(np.linspace(30, 210, 90)[None, :, None], (60, 1, 3)).astype(np.uint8)).save(
        folder.parent / "base.jpg", quality=95
    )
    for frame in read_outing(outing).ladders[0].frames:
        slope = np.linspace(60, 140 + 8 * frame.frame, 90)[None, :, None]
        picture = np.broadcast_to(slope, (60, 90, 3)).astype(np.uint8)
        for file in frame.files:
            Image.fromarray(picture).save(outing / str(file.preview), quality=95)
            (outing / file.name).parent.mkdir(exist_ok=True)
            (outing / file.name).touch()  # the strip shows what is there; its pictures are not drawn here
    cells = ["w" * 24 + "." * 24 + "r" * 24] * 48
    (outing / "readings").mkdir()
    plain = Image.new("RGB", (360, 240), (70, 70, 70))
    plain.save(outing / str(REGIONS.picture))
    write_marked(plain_beside(outing / str(REGIONS.picture)), plain, cells)
    choose(outing, 2, Choice(verdict="keep", note="the thread beside the stone"))
    return outing


async def _set(rig: Rig, scene: Scene) -> None:
    if scene.events is not None:
        sight = RunView(
            state="attached",
            outing=Path("outings/weir"),
            facts=Facts(outing="outings/weir", title="Weir at evening", simulated=True),
            clock=AffineClock(),
            snapshot=reduce(after, scene.events, Snapshot()),
            attached=1,
        )
        rig.desk.post_message(LineHeard(sight))
        await rig.pilot.pause()
        rig.desk.post_message(LineHeard(replace(sight, **(scene.more or {}))))
        await rig.pilot.pause()
    for news in scene.news or ():
        rig.desk.post_message(LineHeard(news))
        await rig.pilot.pause()
    if scene.reply:
        rig.desk.post_message(LineHeard(scene.reply))
        await rig.pilot.pause()
    await rig.press(*scene.keys)
    rig.hands.at_s += scene.at_s
    tick: Callable[[], None] | None = getattr(rig.desk.screen, "tick", None)
    if tick:
        tick()
    await rig.pilot.pause()


async def _resize(rig: Rig, width: int, height: int) -> None:
    """Give the terminal a size, and wait until the screen is drawn in it, its first line too."""

    def fits() -> bool:
        lines = rig.text().splitlines()
        return len(lines) == height and len(lines[0]) in (width - 1, width) and all(len(one) <= width for one in lines)

    await rig.pilot.resize_terminal(width, height)
    await rig.until(fits)
    await rig.pilot.pause()


def draw(name: str, folder: Path) -> dict[str, str]:
    """Return the drawings of a scene by their file names: as text in every size, some as pictures in every look."""

    async def sit() -> dict[str, str]:
        drawings = {}
        scene = SCENES[name]
        more: dict[str, Any] = {"start": START, "keep": Kept} if scene.news else {}
        sizes = sizes_of(name)
        async with at_desk(None if scene.news else Path("outings/weir"), sizes[0], line=Quiet, **more) as rig:
            await _set(rig, scene)
            for width, height in sizes:
                await _resize(rig, width, height)
                drawings[f"{name}-{width}x{height}.txt"] = rig.text()
            if name in IN_LOOKS:
                await _resize(rig, 80, 24)
                for look in LOOKS:
                    rig.desk.take_look(look)
                    await rig.pilot.pause()
                    drawings[f"{name}-{look}.svg"] = rig.desk.export_screenshot(title="Tether", simplify=True)
        return drawings

    before = Path.cwd()
    os.chdir(folder)
    try:
        return asyncio.run(sit())
    finally:
        os.chdir(before)


def main() -> None:
    """Draw all of them anew."""
    SEEN.mkdir(exist_ok=True)
    for old in SEEN.iterdir():
        old.unlink()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = os.environ["XDG_DATA_HOME"] = folder
        make_outing(Path(folder) / "outings")
        for name in SCENES:
            for file, drawing in draw(name, Path(folder)).items():
                (SEEN / file).write_text(drawing, encoding="utf-8")


if __name__ == "__main__":
    main()
