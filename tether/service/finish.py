"""The end of an outing: what is missing, what is still set or on the lens, what to do before going.

Findings again: *stop* is what is missing, *note* what is left to do, *ok* what is done.
"""

from __future__ import annotations

import queue
from collections.abc import Callable, Iterable
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from tether.body.connection import SIMULATED, Connection, at_port
from tether.body.driver.found import kept as kept_as_found
from tether.body.protocol import Camera, Finding
from tether.checks.findings import note, ok, stop
from tether.clock import AffineClock, SteppedClock
from tether.control.stream import Stream
from tether.engine.at_rest import Rested, card_at_rest, owed
from tether.engine.reconcile import bring_to_end
from tether.engine.transfer import Fetcher
from tether.errors import PlanError, TetherError
from tether.files.copying import is_apart
from tether.journal.codec import Entry
from tether.journal.history import LadderHistory, known_files, ladder_history, was_apart
from tether.journal.records import EXPOSED, Record
from tether.journal.store import open_journal, read_contents
from tether.journal.story import FileStory, FrameStory, LadderStory, Outing
from tether.journal.telling import tell
from tether.outing.copies import copy_outing
from tether.outing.folder import Folder, open_folder
from tether.outing.job import JOB_NAME, Job, read_job, ready_of
from tether.outing.prepare import Prepared, prepare
from tether.outing.world import world_of
from tether.plan.file import plan_from_text
from tether.service.setup import Work, cable

#: How many names a sentence has.
_NAMED = 6


@dataclass(frozen=True, kw_only=True)
class FinishedOuting:
    """An outing that is to be finished, and its last ladder: the journal's records, told, and what made them."""

    outing: Path
    entries: tuple[Entry, ...]
    told: Outing
    ladder: LadderStory
    ready: Prepared
    job: Job | None

    @property
    def before(self) -> LadderHistory | None:
        """What is known of the last ladder."""
        return ladder_history(self.entries, self.ladder.ladder)

    @property
    def files(self) -> list[FileStory]:
        """All files that came from the card."""
        of_frames = [file for ladder in self.told.ladders for frame in ladder.frames for file in frame.files]
        return [*of_frames, *self.told.loose_files]

    @property
    def reach(self) -> Connection:
        """How its body is reached."""
        return self.job.reach if self.job else SIMULATED


def read_ended(outing: Path) -> FinishedOuting:
    """Read an outing whose last ladder is over. Raises PlanError if there is no outing, or no ladder in it."""
    contents = read_contents(outing)
    told = tell(contents.entries, name=outing.resolve().name, running=False)
    if not told.ladders:
        raise PlanError(f"{outing}: no ladder was begun in this outing, so there is nothing to finish.")
    job = read_job(outing) if (outing / JOB_NAME).exists() else None
    ladder = told.ladders[-1]
    ready = ready_of(job) if job else prepare(plan_from_text(ladder.plan_text))
    return FinishedOuting(outing=outing, entries=contents.entries, told=told, ladder=ladder, ready=ready, job=job)


# What the journal and the disk tell


def told_by_journal(ended: FinishedOuting, *, card_compared: bool = False) -> tuple[Finding, ...]:
    """Return what can be said without the camera; `card_compared` says that nothing is on its card that is not home."""
    home = _home(ended.told, card_compared=card_compared)
    return (_ladder(ended), home, _on_disk(ended), *_settings_left(ended), *_to_pack(ended))


def _ladder(ended: FinishedOuting) -> Finding:
    ladder = ended.ladder
    if ladder.outcome == "done":
        count = len(ladder.rungs)
        return ok("ladder", "1 rung, and it is done." if count == 1 else f"{count} rungs, all of them done.")
    left = len(ladder.planned.rungs if ladder.planned else ()) - len(ended.told.rungs_done(ladder.ladder))
    rungs = "1 rung is" if left == 1 else f"{left} rungs are"
    return note("ladder", f"{ladder.outcome}; {rungs} not done. Resume it: tether run {ended.outing}")


def _home(told: Outing, *, card_compared: bool) -> Finding:
    frames = [frame for ladder in told.ladders for frame in ladder.frames]
    made = [frame for frame in frames if frame.outcome in EXPOSED]
    away = [str(frame.frame) for frame in made if not frame.files]
    if away:
        return stop("frames", f"{_some(away, 'Frame')} made, but on the card only. Copy what is on the card: --fetch")
    perhaps = [str(frame.frame) for frame in frames if frame.outcome not in EXPOSED and _may_be_on_card(frame)]
    if perhaps and not card_compared:
        home = f"{len(made)} made and copied. {_some(perhaps, 'Frame')} perhaps on the card too"
        return stop("frames", f"{home}. Connect the camera and finish again.")
    return ok("frames", f"{len(made)} made, all of them copied.")


def _may_be_on_card(frame: FrameStory) -> bool:
    """Say whether a frame that is not home may all the same be on the card: not one that was refused."""
    return not frame.files and (not frame.outcome.startswith("failed") or frame.opened_utc is not None)


def _on_disk(ended: FinishedOuting) -> Finding:
    files = ended.files
    wrong = []
    for file in files:
        path = ended.outing / file.name
        if not path.is_file() or file.size not in (None, path.stat().st_size):
            wrong.append(file.name)
    if wrong:
        return stop(
            "disk", f"{_some(wrong, 'File')} not on the disk as it came. Look for a copy before the card is cleared."
        )
    return ok("disk", f"{len(files)} raw files there, each as large as it came.")


def _settings_left(ended: FinishedOuting) -> tuple[Finding, ...]:
    if ended.reach.way == "simulated" or not kept_as_found(_folder(ended).camera):
        return ()
    return (stop("settings", "The camera's own settings were not restored: connect it, and finish again."),)


def _to_pack(ended: FinishedOuting) -> tuple[Finding, ...]:
    before, ladder = ended.before, ended.ready.ladder
    fitted = before.fitted if before else ()
    answered = {what for _, what in before.turns} if before else set()
    always = [one.name for one in ladder.always_on]
    turns = {turn.kind: turn.what for turn in ladder.turns}
    off = [f"take off {' and '.join((*fitted, *always))}"] if fitted or always else []
    off += ["uncover the viewfinder"] if turns.get("cover the finder") in answered else []
    off += ["keep the cap that is on"] if turns.get("cap on") in answered else []
    found = [note("pack", f"{_listed(off)}.")] if off else [ok("pack", "There is nothing to take off the lens.")]
    if ended.ready.abilities.simulated:
        return (*found, ok("body", "Simulated: nothing was set by hand and nothing has to be switched off."))
    by_hand = " ".join(ended.ready.body_file.by_hand)
    set_back = f"Set back what you set on it by hand ({by_hand.rstrip('.')})." if by_hand else "Set back what you set."
    return (*found, note("body", f"{set_back} It can't be switched off over USB: switch it off by hand."))


def _listed(parts: list[str]) -> str:
    text = ", ".join(parts)
    return text[:1].upper() + text[1:]


def _some(names: list[str], what: str) -> str:
    shown = ", ".join(names[:_NAMED]) + (f" and {len(names) - _NAMED} more" if len(names) > _NAMED else "")
    return f"{what} {shown} is" if len(names) == 1 else f"{what}s {shown} are"


# What the camera tells


def finish(
    ended: FinishedOuting, *, fetch: bool, copy_to: Path | None, port: str, show: Callable[[Record], None]
) -> tuple[Finding, ...]:
    """Bring an outing to its end with the camera, and say how it stands then.

    Parameters
    ----------
    ended
        The outing.
    fetch
        Whether frames that are on the card and not at home are brought home.
    copy_to
        The folder that a second copy is made in; None: that of the plan, if it names one.
    port
        Where the camera is now; empty: where it was.
    show
        Is handed what happens meanwhile.

    Raises
    ------
    TetherError
        If the outing can't be read or written.
    """
    seen = tuple(_with_camera(ended, fetch=fetch, port=port, show=show))
    ended = read_ended(ended.outing)
    compared = any(one.what == "card" and one.verdict == "ok" for one in seen)
    told = told_by_journal(ended, card_compared=compared)
    settled = {one.what for one in seen}
    found = (*(one for one in told if one.what not in settled), *seen)
    planned = ended.ready.plan.run.copy_to
    if copy_to is None and planned is not None and _is_gone(planned, ended):
        gone = f"The disk of {planned} is not there. Connect it and finish again, or name another folder: --copy-to"
        return (*found, stop("copy", gone))
    under = copy_to or planned
    return (*found, *_copied(ended, under)) if under else found


def _with_camera(ended: FinishedOuting, *, fetch: bool, port: str, show: Callable[[Record], None]) -> Iterable[Finding]:
    folder, clock = _folder(ended), _clock(ended.job)
    world = ended.job.world if ended.job else world_of(ended.ready.plan)
    reach = at_port(ended.reach, ended.ready.body_file, port)
    if hindered := [one.sentence for one in cable(reach, folder) if one.verdict == "stop"]:
        return (stop("camera", f"Its card is not compared. {' '.join(hindered)}"),)
    with closing(open_journal(ended.outing)) as journal:
        try:
            with Work(
                ready=ended.ready,
                ladder=ended.ladder.ladder,
                reach=reach,
                world=world,
                folder=folder,
                clock=clock,
                box=queue.SimpleQueue(),
                journal=journal,
                stream=Stream(journal, clock, lambda entry: show(entry.record)),
                pace=ended.job.pace if ended.job else "max",
                answer_for_me=True,
            ).opened() as run:
                run.files.known |= known_files(ended.entries)
                rested = card_at_rest(run, owed(run, ended.entries))
                if fetch and ended.before:
                    bring_to_end(run, Fetcher(run), ended.before)
                    journal.settle()
                    rested = replace(rested, files=run.camera.card_files())
                return (_card(rested, run.files.known), _put_back(run.camera))
        except TetherError as error:
            return (stop("camera", f"Its card is not compared. {error}"),)


def _folder(ended: FinishedOuting) -> Folder:
    return open_folder(ended.outing, ended.ready.plan.top.title)


def _clock(job: Job | None) -> AffineClock | SteppedClock:
    return job.clock_now() if job else SteppedClock(start_utc=datetime.now(UTC))


def _card(rested: Rested, seen: set[tuple[str, str]]) -> Finding:
    new = [file.name for file in rested.files if (file.folder, file.name) not in seen]
    if new:
        return stop("card", f"{_some(new, 'Frame')} on the card and not in the outing. Copy it: --fetch")
    if not rested.at_rest:
        return stop("card", "The camera is still busy, so a frame may still come onto it: finish again in a minute.")
    return ok("card", f"Of {len(rested.files)} frames on it, none is missing in the outing.")


def _put_back(camera: Camera) -> Finding:
    left = camera.put_back()
    return stop("settings", " ".join(left)) if left else ok("settings", "The camera's own settings are restored.")


# A second copy


def _is_gone(planned: Path, ended: FinishedOuting) -> bool:
    """Say whether the second disk of a plan is not there; a folder may be left where it was mounted."""
    before = was_apart(ended.entries, ended.ladder.ladder)
    return not planned.is_dir() or (before and not is_apart(ended.outing, planned))


def _copied(ended: FinishedOuting, under: Path) -> tuple[Finding, ...]:
    sums = {file.name: file.sha256 for file in ended.files if file.sha256}
    copied = copy_outing(ended.outing, under, sums)
    if copied.problems:
        return tuple(stop("copy", sentence) for sentence in copied.problems)
    return (ok("copy", f"{copied.files} files are in {copied.to}, each read back and the same."),)
