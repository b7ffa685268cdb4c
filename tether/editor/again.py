"""Same again, new composition: a ladder like an outing's last one, with a new base, and the filters on that are on."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from tether.body.connection import at_port
from tether.body.protocol import Fitted, SceneChange
from tether.capture.base_search import in_words
from tether.capture.session import look_for, shooting
from tether.capture.through import BaseThrough, find_base_through
from tether.clock import AffineClock
from tether.control.registry import running
from tether.editor.base_edit import with_base
from tether.errors import BusyError
from tether.exposure.filters import Filter
from tether.journal.history import ladder_history
from tether.journal.store import open_journal
from tether.outing.job import Job, read_job, ready_of, rehearsed_until
from tether.outing.prepare import Prepared
from tether.plan.file import SCALES, plan_from_text
from tether.service.launch import StartedJob, give_plan


def same_again(
    outing: Path, say: Callable[[str], None], *, port: str = "", model: str = "", despite: dict[str, str] | None = None
) -> StartedJob:
    """Find a new base with the camera, and keep in an outing the job of a ladder that is else like its last one.

    Parameters
    ----------
    outing
        The outing's folder.
    say
        Told what is done, a sentence each time.
    port, model
        Where the camera is now (empty: where it was), and what it is where that is on a network.
    despite
        Checks that are not to stop it, each with the reason, on top of those given before.

    Raises
    ------
    PlanError
        If there is no ladder in it.
    BusyError
        If one is still under way.
    TetherError
        If no base was found.
    """
    job = read_job(outing)
    if any(one.outing == outing.resolve() for one in running()):
        raise BusyError(f"{outing}: its ladder is still under way; end it first: tether stop {outing}")
    ready = ready_of(job)
    with closing(open_journal(outing)) as journal:
        entries = journal.entries()
    before = ladder_history(entries, job.ladder)
    # What the last ladder left on the lens, beside what is always on.
    fitted = ready.ladder.stack(job.fitted if before is None else before.fitted)
    names = tuple(one.name for one in fitted)
    reach = at_port(job.reach, ready.body_file, port, model)
    job = job.model_copy(update={"reach": reach, "despite": job.despite | (despite or {})})
    clock = AffineClock.started_now(1.0, rehearsed_until(reach, entries))
    found = _found(outing, job, ready, fitted, clock, say)
    how = f", through {' + '.join(names)}" if names else ""
    say(f"New base: {in_words(found.shot)}, with {found.headroom_stops:.2f} stops of headroom{how}.")
    text = with_base(job.plan_text, found.shot, SCALES[ready.plan.top.scale], found.headroom_stops)
    return give_plan(
        plan_from_text(text, Path(job.plan_name)),
        pace=job.pace,
        root=outing.parent,
        outing=outing,
        world=job.world,
        reach=job.reach,
        answer_for_me=job.answer_for_me,
        despite=job.despite,
        fitted=names,
    )


def _found(
    outing: Path,
    job: Job,
    ready: Prepared,
    fitted: tuple[Filter, ...],
    clock: AffineClock,
    say: Callable[[str], None],
) -> BaseThrough:
    again = f"tether run {outing} --same-again"
    look_for(job.reach, again)
    with shooting(job.reach, ready, job.world, clock=clock) as session:
        on_lens = (*ready.ladder.always_on, *fitted)
        session.stage(SceneChange(fitted=tuple(Fitted(name=one.name, stops=one.nominal_stops) for one in on_lens)))
        session.require_ready(again, job.despite)
        return find_base_through(session, ready.plan, fitted, lambda looked: say(looked.sentence))
