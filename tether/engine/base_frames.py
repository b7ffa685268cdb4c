"""The base frames of a ladder: taken first and read, their regions proposed; nothing waits for a word on those.

All later frames are read against them. What is only needed for that moment is loaded then: it takes much memory.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from tether.clock import to_ns
from tether.engine.deadline import frame_takes_s, too_late
from tether.engine.frame import make_extra
from tether.engine.judgement import follow_ups
from tether.engine.recovery import stage_filters
from tether.engine.run_state import Run
from tether.engine.tasks import your_turn
from tether.engine.transfer import Fetcher
from tether.frames.asked import FAILS, BaseAsked, PictureAsked
from tether.journal.history import LadderHistory
from tether.journal.readings import BaseReadings
from tether.journal.records import RegionsSaid, RegionsSet, RegionsShown, RegionsSource
from tether.journal.story import LadderStory
from tether.journal.telling import tell
from tether.light.acting import Acting
from tether.plan.base import TAKE_OFF_S, base_unkept, base_wanted
from tether.shot.shot import Shot, shot_of_base

#: So long the person is waited for to take the filters off for the last base frame [s].
TAKEN_OFF_WITHIN_S = 180.0
#: What the person said of regions that were proposed.
_SAID_OF: dict[RegionsSource, RegionsSaid] = {"proposed": "asked", "confirmed": "right", "refused": "wrong"}
#: Rock that is less than this share of the picture is not enough to compare by.
_LEAST_SHARE = 0.005


def take_base(run: Run, fetcher: Fetcher, before: LadderHistory | None, fitted: tuple[str, ...]) -> None:
    """Take the base frames and read them, unless that was done before; nothing of it stops a ladder.

    Raises
    ------
    Stopped
        If the person stops the run.
    TetherError
        If the camera cannot be used any more.
    """
    if before is not None and before.regions is not None:
        _take_up(run, before.regions)
        return
    if not base_wanted(run.plan) or (before is not None and (before.made or before.done)):
        return
    if fitted:
        run.say("note", f"No base frames: {' + '.join(fitted)} is on the lens, and they are taken without.")
        return
    shot = shot_of_base(run.plan, run.abilities)
    if shot is None:
        run.say("note", f"No base frames: {base_unkept(run.plan, run.abilities)}.")
        return
    taken = [make_extra(run, fetcher, shot) for _ in range(run.ladder.base_frames.before)]
    good = [made for made in taken if made and run.files.good(made.frame)]
    paths = [path for made in good if (path := run.files.path(made.frame))]
    if paths:
        _read(run, shot, paths, good[0].opened_s or run.now_s)


def take_base_again(
    run: Run, fetcher: Fetcher, before: LadderHistory | None, fitted: tuple[str, ...]
) -> tuple[str, ...]:
    """Take one more base frame after the last rung, which tells what the light did; return what is on the lens then.

    Raises as :func:`take_base` does.
    """
    shot = shot_of_base(run.plan, run.abilities)
    done = before is not None and before.bases > run.ladder.base_frames.before
    if run.reader.against is None or shot is None or done or not run.ladder.base_frames.after:
        return fitted
    if too_late(run, TAKE_OFF_S + frame_takes_s(run, shot.time_s)):
        return fitted
    if fitted:
        what, reason = f"take off {' and '.join(fitted)}", "one more base frame tells what the light did"
        off = your_turn(
            run,
            what,
            reason,
            rung=None,
            takes_s=TAKE_OFF_S,
            fitted=[],
            takes_off=True,
            at_most_s=TAKEN_OFF_WITHIN_S,
            unanswered="it is left out",
            otherwise="the base is not taken once more",
        )
        if not off:
            run.steering.skipped()
            return fitted
        stage_filters(run, ())
    make_extra(run, fetcher, shot)
    return ()


def _take_up(run: Run, regions: RegionsSet) -> None:
    """Go on with what an earlier run of this ladder found, and with what its frames said."""
    if not run.folder.readings(run.ladder_number).exists():
        return
    picture = run.folder.readings(run.ladder_number).with_suffix(".jpg")
    run.read_by(regions, _shown(run, regions, picture if picture.exists() else None))
    told = tell(run.journal.entries(), name="", running=False).ladder(run.ladder_number)
    if told is not None:
        _follow_again(run, told)


def _follow_again(run: Run, ladder: LadderStory) -> None:
    """Take in again what the frames of an earlier run said, and what the person said that they had changed."""
    first = next((frame.opened_utc for frame in ladder.frames if frame.kind == "base" and frame.opened_utc), None)
    if first is not None:
        began = datetime.fromisoformat(first)
        run.following.begin(run.plan, run.ladder.on_hand, run.at_s(began), began)
    changed = [steered.utc for steered in ladder.steering if steered.verb == "I changed something"]
    for frame in ladder.frames:
        if frame.readings is None:
            continue
        opened = datetime.fromisoformat(frame.opened_utc) if frame.opened_utc else None
        while changed and opened is not None and changed[0] <= opened:
            run.following.begin_anew()
            del changed[0]
        rock, asked = frame.readings.rock, frame.asked
        if rock is not None and opened is not None and asked.aperture and asked.iso and frame.as_asked:
            acting = Acting(filters=frame.filters, aperture=asked.aperture, iso=asked.iso)
            run.following.saw(acting, run.at_s(opened), frame.believed_open_s or 0.0, rock)
        run.frame_history.take_in(frame.readings, run.plan.readings.sharpness_lost, proof=frame.kind == "proof")
    if changed:
        run.following.begin_anew()


def _read(run: Run, shot: Shot, paths: list[Path], opened_s: float) -> None:
    keep = run.folder.readings(run.ladder_number)
    keep.parent.mkdir(parents=True, exist_ok=True)
    asked = BaseAsked(
        paths=tuple(paths),
        keep=keep,
        aperture=shot.aperture.exact,
        pitch_um=run.abilities.pitch_um,
        time_s=shot.time_s,
        rectangles=tuple((one.kind, one.left, one.top, one.right, one.bottom) for one in run.plan.region),
    )
    answer = run.reader.at_once(asked)
    read = answer.base
    if read is None:
        run.say("note", f"The base frames could not be read, so later frames are not compared: {answer.problem}")
        return
    if answer.problem:
        run.say("note", answer.problem)
    source = _source(run, read)
    if source is None:
        return
    regions = RegionsSet(ladder=run.ladder_number, source=source, cells=read.cells)
    run.tell(regions)
    run.read_by(regions, _shown(run, regions, _drawn(run, regions, paths[0]) if source == "proposed" else None))
    run.following.begin(run.plan, run.ladder.on_hand, opened_s, run.clock.utc_of(to_ns(opened_s)))
    try:
        for verdict in follow_ups(read.first, shot, run.plan, run.frame_history):
            run.say("note", verdict.sentence)
        run.frame_history.take_in(read.first, run.plan.readings.sharpness_lost)
    except FAILS as error:
        run.say("note", f"What the base frames say can't be judged: {error}.")


def _source(run: Run, read: BaseReadings) -> RegionsSource | None:
    """Return where regions are from; None where they are not to be used."""
    if any(one.kind != "ignore" for one in run.plan.region):
        return "given"
    if read.rock_share < _LEAST_SHARE:
        run.say(
            "note",
            "Nothing was found that stands still, as if the tripod was touched between the base frames:"
            " later frames are not compared with them.",
        )
        return None
    if run.plan.readings.regions == "as proposed":
        shares = f"water {read.water_share:.0%}, rock {read.rock_share:.0%} of the picture"
        run.say("note", f"Regions as proposed, not looked at: {shares}.")
        return "as proposed"
    return "proposed"


def _drawn(run: Run, regions: RegionsSet, frame: Path) -> Path | None:
    """Draw proposed regions over a base frame for the person to look at; None where that can't be done."""
    picture = run.folder.readings(run.ladder_number).with_suffix(".jpg")
    problem = run.reader.at_once(PictureAsked(path=frame, cells=regions.cells, into=picture)).problem
    if problem is not None:
        run.say("note", f"Water and rock are used as proposed, and can't be shown: {problem}")
        return None
    return picture


def _shown(run: Run, regions: RegionsSet, picture: Path | None) -> RegionsShown | None:
    """Return how regions are shown that were proposed, and what the person said of them; None: they were not."""
    state = _SAID_OF.get(regions.source)
    if state is None:
        return None
    cells = "".join(regions.cells)
    water, rock = (cells.count(letter) / len(cells) for letter in "wr")
    return RegionsShown(
        picture=None if picture is None else str(picture.relative_to(run.folder.path)),
        found=f"water {water:.0%}, rock {rock:.0%} of the picture",
        state=state,
    )
