"""Files on their way to a second disk, by a process beside the run that nobody waits for while a ladder goes on."""

from __future__ import annotations

import json
import os
import select
import subprocess
import time
from collections import deque
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path

from tether.files.copying import AskedCopy, CopyAnswer, SecondDisk
from tether.files.last_words import log_if_any, start_beside, where_it_said

#: A disk from which nothing has been heard for so long counts as stuck [real s]: a large frame takes a slow stick half.
STUCK_S = 60.0
#: How often the process that copies is started before it is given up.
MOST_STARTED = 3
#: How long the end of a process that was killed is waited for; one that hangs on a disk may end later [real s].
KILLED_S = 1.0
_MOST_READ = 65536


@dataclass
class Copier:
    """Files to be copied, in order.

    `under` is the folder on the second disk, None where no copy is wanted; `outing` what is copied; `was_apart` is
    whether that was another disk than the outing's when it was looked at before. `apart` says whether a process of its
    own copies; else each is copied at once, for a clock that is stepped. `words` is where such a process leaves its
    last words. `said` are kinds of trouble that the person was told of, `by_size` is of how many copies only the size
    was looked at.
    """

    outing: Path | None = None
    under: Path | None = None
    was_apart: bool = False
    apart: bool = False
    words: Path | None = None
    said: set[str | None] = field(default_factory=set)
    by_size: int = 0
    _owed: dict[str, AskedCopy] = field(default_factory=dict)
    _unsent: deque[AskedCopy] = field(default_factory=deque)
    _failed: dict[str, AskedCopy] = field(default_factory=dict)
    _there: set[str] = field(default_factory=set)
    _answers: list[CopyAnswer] = field(default_factory=list)
    _process: subprocess.Popen[bytes] | None = None
    _read: bytes = b""
    _started: int = 0
    _heard_s: float = 0.0
    _disk: SecondDisk | None = None

    @property
    def to(self) -> Path | None:
        """The folder of the copy; None where none is wanted."""
        return self.under / self.outing.resolve().name if self.under and self.outing else None

    def copy(self, asked: AskedCopy) -> None:
        """Have a file copied; nothing where no copy is wanted."""
        if self.to is None:
            return
        if not self._owed:
            self._heard_s = time.monotonic()
        self._owed[asked.name] = asked
        self._unsent.append(asked)
        self._go_on()

    @property
    def files(self) -> int:
        """How many files there are that are to have a copy."""
        return len(self._there | self._failed.keys() | self._owed.keys())

    @property
    def there(self) -> int:
        """How many have one."""
        return len(self._there)

    def owes(self) -> bool:
        """Say whether a file is still to be copied, and its disk not stuck."""
        self._go_on()
        return bool(self._owed) and time.monotonic() - self._heard_s < STUCK_S

    def wait(self, within_s: float) -> None:
        """Wait until nothing is owed, so long at most [real s]."""
        until_s = time.monotonic() + within_s
        while self.owes() and (left_s := until_s - time.monotonic()) > 0:
            if self._process is not None:
                select.select([self._pipe(self._process, "stdout")], [], [], min(left_s, 1.0))

    def done(self) -> list[CopyAnswer]:
        """Return what came of copying since the last call, but for files that were known to be there, and are."""
        self._go_on()
        done, self._answers = self._answers, []
        return done

    def give_up(self) -> None:
        """Leave what is still to be copied. A process that hangs on its disk is not waited for."""
        self._owed.clear()
        self._unsent.clear()
        if self._process is not None:
            self._process.kill()
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(timeout=KILLED_S)
            self._let_go()

    def _go_on(self) -> None:
        if self.apart:
            self._hear()
            self._send()
            return
        while self._unsent:
            if self._disk is None and self.outing and self.under:
                self._disk = SecondDisk(self.outing, self.under, was_apart=self.was_apart)
            if self._disk is not None:
                self._take(self._disk.copied(self._unsent.popleft()))

    def _take(self, answer: CopyAnswer) -> None:
        asked = self._owed.pop(answer.name, None)
        self._heard_s = time.monotonic()
        if asked is None:
            return
        if not answer.by_size:
            self._answers.append(answer)
        if answer.problem is not None:
            self._failed[answer.name] = asked
            return
        self._there.add(answer.name)
        self.by_size += answer.by_size
        self.was_apart = answer.apart
        # A disk that takes one may take again what it did not take before.
        again, self._failed = self._failed, {}
        self._owed |= again
        self._unsent.extend(again.values())

    # The process

    def _send(self) -> None:
        if not self._unsent or not self._is_running():
            return
        with suppress(BlockingIOError, BrokenPipeError):  # it is busy, or has ended, which is looked at the next time
            while self._unsent:
                line = json.dumps(asdict(self._unsent[0])).encode() + b"\n"
                os.write(self._pipe(self._process, "stdin"), line)
                self._unsent.popleft()

    def _hear(self) -> None:
        if self._process is None:
            return
        ended = self._process.poll() is not None
        with suppress(BlockingIOError):
            while more := os.read(self._pipe(self._process, "stdout"), _MOST_READ):
                self._read += more
        *lines, self._read = self._read.split(b"\n")
        for line in lines:
            self._take(CopyAnswer(**json.loads(line)))
        if ended:
            self._let_go()
            self._unsent = deque(self._owed.values())

    def _let_go(self) -> None:
        for pipe in (self._process.stdin, self._process.stdout) if self._process else ():
            if pipe is not None:
                pipe.close()
        self._process, self._read = None, b""

    def _is_running(self) -> bool:
        if self._process is None and self._started < MOST_STARTED:
            self._started += 1
            with suppress(OSError):
                self._process = self._begun()
        if self._process is None:
            problem = f"The process that copies has ended again and again.{where_it_said(self.words)}"
            for name in tuple(self._owed):
                self._take(CopyAnswer(name=name, problem=problem, kind="process"))
            self._unsent.clear()
        return self._process is not None

    def _begun(self) -> subprocess.Popen[bytes]:
        words = [str(self.outing), str(self.under), *(["apart"] if self.was_apart else [])]
        with log_if_any(self.words, f"a process copies to {self.under}") as log:
            pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "bufsize": 0}
            process = start_beside("tether.files.copying", *words, log=log, **pipes)
        for name in ("stdin", "stdout"):
            os.set_blocking(self._pipe(process, name), False)
        return process

    @staticmethod
    def _pipe(process: subprocess.Popen[bytes] | None, name: str) -> int:
        file = getattr(process, name)
        return int(file.fileno())
