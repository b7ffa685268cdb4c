"""The second copy of an outing's raw files, made beside the run: what came of it is kept, and trouble is said once."""

from __future__ import annotations

from contextlib import suppress

from tether.engine.run_state import Run
from tether.errors import TetherError
from tether.files.copying import AskedCopy, is_apart
from tether.journal.history import was_apart
from tether.journal.records import CopyOutcome, FetchOutcome
from tether.outing.copies import names_beside

#: How long the end of a run waits for what lies beside the raw files to be copied [real s].
BESIDE_WITHIN_S = 20.0


def take_up(run: Run) -> None:
    """Have copied what the journal has of raw files, in this run or an earlier one, as far as they have no copy."""
    copier = run.copier
    if copier.under is None:
        return
    entries = run.journal.entries()
    records = [entry.record for entry in entries]
    copier.was_apart = was_apart(entries, run.ladder_number) or is_apart(run.folder.path, copier.under)
    copied = {one.name for one in records if isinstance(one, CopyOutcome) and one.problem is None}
    for one in records:
        if isinstance(one, FetchOutcome) and one.name and one.sha256:
            copier.copy(AskedCopy(name=one.name, sha256=one.sha256, copied=one.name in copied))


def keep_copies(run: Run) -> None:
    """Write down what was copied since; what goes wrong is said once, until all is well again."""
    copier = run.copier
    for answer in copier.done():
        how_far = {"copied": copier.there, "home": copier.files}
        run.tell(CopyOutcome(name=answer.name, **how_far, apart=answer.apart, problem=answer.problem))
        if answer.problem is not None and answer.kind not in copier.said:
            copier.said.add(answer.kind)
            run.say(
                "trouble",
                f"Second copy: {answer.problem} The run continues without it; what is missing is copied later.",
            )
        elif copier.said and copier.there == copier.files:
            copier.said.clear()
            run.say("note", f"Second copy: all {copier.files} raw files have one now.")


def say_how_it_stands(run: Run) -> None:
    """Say at the end of a run how many files have a copy, and how the others get one."""
    copier = run.copier
    if copier.to is None or not copier.files:
        return
    if copier.there == copier.files:
        run.say("note", f"Second copy: all {copier.files} raw files are in {copier.to}{_how_compared(run)}")
        return
    how = f"Once that disk is there and has room, copy the rest: tether finish {run.folder.path}"
    run.say("trouble", f"Second copy: {copier.there} of {copier.files} raw files are in {copier.to}. {how}")


def _how_compared(run: Run) -> str:
    """Say how copies were compared with what they are of: those that an earlier run made, by their size alone."""
    copier, before = run.copier, run.copier.by_size
    if not before:
        return ", read back and the same."
    return (
        f": {copier.there - before} were read back now and are the same; of {before}, compared when"
        f" {'it was' if before == 1 else 'they were'} copied, only the size was looked at."
        f" Compare all again: tether finish {run.folder.path}"
    )


def copy_beside(run: Run) -> None:
    """Copy what lies beside the raw files: the journal, which is at its end now, sidecars, previews; not for long."""
    copier = run.copier
    if copier.to is not None and not copier.said:
        with suppress(TetherError):
            run.journal.settle()
        for name in names_beside(run.folder.path):
            copier.copy(AskedCopy(name=name, sha256=None))
        copier.wait(BESIDE_WITHIN_S)
