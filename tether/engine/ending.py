"""The end of a ladder: the camera is set back, what is left is brought home, what is unread is read; sidecars.

Every wait says what it is for, and hears the person: "skip" and "next" cut short the one in hand, a stop all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tether.clock import to_ns
from tether.engine.frame_files import FrameFiles
from tether.engine.recovery import with_care
from tether.engine.run_state import Run
from tether.engine.second_copy import keep_copies, say_how_it_stands
from tether.engine.steering import Stopped
from tether.engine.transfer import LATE_S, NAP_S, Fetcher
from tether.errors import BusyError, TetherError
from tether.journal.records import RungOutcome
from tether.journal.story import DONE, SETTLED
from tether.journal.telling import tell
from tether.wording import which_rungs

#: Between two looks at what the person said, the camera is asked for new files for so long [s].
LOOK_S = 1.0


def end(run: Run, fetcher: Fetcher, *, fetch: bool, strays: bool) -> TetherError | None:
    """Bring a ladder to its end, as far as the person lets it.

    Parameters
    ----------
    fetch
        Whether frames are brought home and what they say is waited for.
    strays
        Whether the card is looked through for frames that came late, or by the body's own button.

    Returns
    -------
    TetherError | None
        The trouble for which frames may have stayed on the card, which was told; None: there was none.
    """
    wrong = None
    run.steering.begin_end()
    run.go("ready")
    is_back = _put_back(run, last_try=not fetch)
    if fetch:
        try:
            _bring_home(run, fetcher)
            if strays:
                _look_through_card(run, fetcher)
        except Stopped:
            run.say("note", "What is left stays on the card.")
        except TetherError as error:
            wrong = error
            run.say("trouble", f"{error} What is left stays on the card.")
        run.go("ready")
        reader = run.reader
        wait_for(run, reader.owes, lambda: f"Waiting until {_frames(reader.left())} {_is(reader.left())} read.")
    left = run.reader.left()
    fetcher.keep_readings(run.reader.done())
    run.reader.give_up()
    if left:
        run.say("note", f"{_frames(left).capitalize()} {_is(left)} copied and not read.")
    if not is_back:
        _put_back(run, last_try=True)
    return wrong


def what_is_missing(rungs: Mapping[int, RungOutcome], files: FrameFiles) -> str:
    """Say what a ladder lacks that was gone through: rungs that are not done, and frames that are not copied."""
    said: list[str] = []
    by_outcome: dict[RungOutcome, list[int]] = {}
    for rung, outcome in sorted(rungs.items()):
        if outcome not in DONE:
            by_outcome.setdefault(outcome, []).append(rung)
    if by_outcome:
        said.append(f"Not done: {', '.join(f'{which_rungs(of)} ({how})' for how, of in by_outcome.items())}.")
    if files.incomplete:
        owed = [made.frame for made in files.awaited if made.frame not in files.void]
        said.append(f"Not copied: {which_rungs(owed, 'frame') if owed else 'what could not be fetched from the card'}.")
    if files.incomplete or by_outcome.keys() - SETTLED:
        said.append("Resuming the ladder takes this up again.")
    return " ".join(said)


def _put_back(run: Run, *, last_try: bool) -> bool:
    """Set the body back as it was found before the ladder; False where it is still busy and is to be tried again."""
    try:
        for sentence in run.camera.put_back():
            run.say("note", sentence)
    except TetherError as error:
        if isinstance(error, BusyError) and not last_try:
            return False
        run.say("note", f"The camera's own settings could not be restored: {error}")
    return True


def goes_on(run: Run) -> bool:
    """Act on what was said by now; say whether the wait in hand goes on."""
    run.catch_up()
    steering = run.steering
    return not (steering.stop or steering.skip or steering.hurry)


def begin_wait(run: Run, sentence: str) -> None:
    """Say what is waited for, and that it can be left."""
    run.steering.begin_wait()
    run.say(
        "note",
        f"{sentence} “skip” (s) continues without waiting, “stop after this frame” (q) ends all that is still to do.",
    )


def wait_for(run: Run, owes: Callable[[], bool], sentence: Callable[[], str]) -> None:
    """Wait for what is done beside the run, as far as the person lets it; `sentence` says what for, once it is owed."""
    if not owes() or run.steering.stop:
        return
    begin_wait(run, sentence())
    while owes() and goes_on(run):
        run.hear(run.clock.now_ns() + to_ns(NAP_S))


def _bring_home(run: Run, fetcher: Fetcher) -> None:
    """Wait for files that may still come, then bring home what is there. Raises Stopped where the person stops."""
    if run.files.waited_for:
        begin_wait(run, f"Waiting {LATE_S:.0f} s for {_frames(len(run.files.waited_for))} still to come onto the card.")
        until_ns = run.clock.now_ns() + to_ns(LATE_S)
        while run.files.waited_for and run.clock.now_ns() < until_ns and goes_on(run):
            fetcher.look_again(LOOK_S)
    if run.files.queued:
        begin_wait(run, f"Copying {_frames(len(run.files.queued))} that {_is(len(run.files.queued))} on the card.")
        fetcher.drain(lambda: goes_on(run))
    if run.files.queued and not run.steering.stop:
        run.say("trouble", f"{_frames(len(run.files.queued)).capitalize()} stay on the card.")
    run.stop_if_asked()


def _look_through_card(run: Run, fetcher: Fetcher) -> None:
    """Bring home what else has come onto the card: late frames, and those taken on the body's own button."""
    new = fetcher.queue(with_care(run, run.camera.card_files, rung=None))
    if new:
        begin_wait(run, f"Copying {_frames(new)} that came onto the card besides.")
        fetcher.drain(lambda: goes_on(run))


def copy_rest(run: Run) -> None:
    """Wait for the second copy of the last files, as far as the person lets it and its disk takes them."""
    wait_for(run, run.copier.owes, lambda: "Waiting until the last raw files are on the second disk.")
    keep_copies(run)
    say_how_it_stands(run)


def hand_over(run: Run) -> None:
    """Write sidecars beside the outing's raw files if the plan wants them, and say so; what goes wrong is said too."""
    if not run.plan.run.sidecars:
        return
    from tether.report.choices import read_choices  # loads what most runs do without
    from tether.report.sidecars import write_sidecars

    folder = run.folder.path
    told = tell(run.journal.entries(), name=folder.resolve().name, running=True)
    try:
        written = write_sidecars(folder, told, read_choices(folder))
    except TetherError as error:
        run.say("trouble", f"No sidecars were written. {error}")
        return
    for problem in written.problems:
        run.say("trouble", problem)
    run.say("note", " ".join((written.summary, *written.stayed)))


def _frames(number: int) -> str:
    return "1 frame" if number == 1 else f"{number} frames"


def _is(number: int) -> str:
    return "is" if number == 1 else "are"
