"""Rungs of many short frames made into one long exposure each, by processes beside the run that no frame waits for."""

from __future__ import annotations

import subprocess
import time
from collections import deque
from pathlib import Path

from pydantic import TypeAdapter

from tether.engine.ending import wait_for
from tether.engine.run_state import Run
from tether.files.last_words import log_if_any, one_thread, start_beside, where_it_said
from tether.frames.asked import AverageAnswer
from tether.journal.ended import rungs_ended
from tether.journal.telling import tell
from tether.outing.folder import READER_LOG_NAME
from tether.plan.ladder import Rung
from tether.wording import which_rungs

#: A rung's frames may take so long each [real s]; beyond that its process hangs.
LAST_S = 30.0
_ANSWER = TypeAdapter(AverageAnswer)


class Averages:
    """The averages of a ladder's rungs of many frames, one after the other, as far as the plan wants them."""

    def __init__(self, run: Run) -> None:
        self.run = run
        self._begun: set[int] = set()
        self._waiting: deque[Rung] = deque()
        self._in_hand: tuple[Rung, subprocess.Popen[str]] | None = None
        self._begun_s = 0.0

    def rung_done(self, rung: Rung) -> None:
        """Begin the average of a rung that is done, where the plan wants it now; say what came of those before."""
        if self.run.plan.run.average == "between rungs":
            self._begin(rung)
        self._go_on()

    def finish(self) -> None:
        """Average the rungs that are left, as far as the person lets that be waited for."""
        run = self.run
        if run.plan.run.average == "no":
            return
        ended = rungs_ended(run.journal.entries(), run.ladder_number)
        for rung in run.ladder.rungs:
            if rung.number in ended and ended[rung.number].outcome == "done":
                self._begin(rung)
        wait_for(
            run, self._owes, lambda: f"Averaging the frames of {which_rungs([one.number for one in self._left()])}."
        )

    def give_up(self) -> None:
        """Leave the rungs that are still to be averaged, and say how that is done later."""
        waiting = list(self._waiting)
        self._waiting.clear()
        self._go_on()
        left = [*self._left(), *waiting]
        if self._in_hand is not None:
            _, process = self._in_hand
            self._in_hand = None
            process.kill()
            process.communicate()
        for rung in left:
            how = f"tether average {self.run.folder.path} --rung {rung.number} --to FILE.dng"
            self.run.say("note", f"Rung {rung.number} is not averaged. Do so later: {how}", rung=rung.number)

    def _left(self) -> list[Rung]:
        return [*([self._in_hand[0]] if self._in_hand else []), *self._waiting]

    def _owes(self) -> bool:
        """Say whether an average is still to come, and its process does not hang."""
        self._go_on()
        return self._in_hand is not None and time.monotonic() - self._begun_s < LAST_S * self._in_hand[0].frames

    def _begin(self, rung: Rung) -> None:
        if rung.choice.way == "many" and rung.number not in self._begun and not self._file(rung).exists():
            self._begun.add(rung.number)
            self._waiting.append(rung)

    def _file(self, rung: Rung) -> Path:
        return self.run.folder.average(self.run.ladder_number, rung.number)

    def _go_on(self) -> None:
        if self._in_hand is not None:
            rung, process = self._in_hand
            if process.poll() is None:
                return
            self._in_hand = None
            try:
                answer = _ANSWER.validate_json(process.communicate()[0])
            except ValueError:
                where = where_it_said(self.run.folder.path / READER_LOG_NAME)
                answer = AverageAnswer(problem=f"The process for it gave no answer.{where}")
            self._say(rung, answer)
        while self._waiting and self._in_hand is None:
            rung = self._waiting.popleft()
            if self.run.reader.apart:
                self._start(rung)
            else:
                self._say(rung, self._averaged_here(rung))

    def _say(self, rung: Rung, answer: AverageAnswer) -> None:
        number = rung.number
        if answer.problem is not None:
            self.run.say("trouble", f"Rung {number} is not averaged. {answer.problem}", rung=number)
            return
        file = self._file(rung).relative_to(self.run.folder.path)
        self.run.say("note", " ".join((f"Rung {number} is averaged: {file}.", *answer.sentences)), rung=number)

    def _averaged_here(self, rung: Rung) -> AverageAnswer:
        from tether.report.averages import averaged  # it loads much that a run with a process for it does not need

        run = self.run
        ladder = tell(run.journal.entries(), name="", running=True).ladder(run.ladder_number)
        if ladder is None:
            return AverageAnswer(problem="Its ladder is not in the journal.")
        return averaged(run.folder.path, ladder, rung.number, self._file(rung))

    # Processes

    def _start(self, rung: Rung) -> None:
        words = [str(self.run.folder.path), str(self.run.ladder_number), str(rung.number), str(self._file(rung))]
        try:
            with log_if_any(self.run.folder.path / READER_LOG_NAME, f"a process averages rung {rung.number}") as log:
                how = {"stdout": subprocess.PIPE, "text": True, "env": one_thread()}
                process = start_beside("tether.report.averages", *words, log=log, **how)
        except OSError as error:
            self._say(rung, AverageAnswer(problem=f"The process for it can't be started: {error.strerror}."))
            return
        self._in_hand, self._begun_s = (rung, process), time.monotonic()
