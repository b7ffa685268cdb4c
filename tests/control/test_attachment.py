"""The run process comes and goes: the desk says so, attaches again by itself, and keeps no word for later."""

from __future__ import annotations

import asyncio
import os
import socket
from collections.abc import Callable
from contextlib import ExitStack, closing
from pathlib import Path

import pytest

from tests.desk.rig import SOON_S, PlayedRun, asked, at_desk, begun, held, planned
from tests.journal.shown import ladder_ended
from tether.clock import AffineClock
from tether.control import attachment as attachment_module
from tether.control.attachment import Attachment, RunView, WordReply
from tether.control.client import Face
from tether.control.messages import Bye, Facts, Hello, encode
from tether.control.registry import announce
from tether.control.server import MOST_FACES
from tether.desk.screens import wrong
from tether.desk.widgets import Large
from tether.journal.records import FrameOpened
from tether.journal.snapshot import Snapshot


def gone_process() -> int:
    """Return the number of a process that has ended."""
    child = os.fork()
    if child == 0:
        os._exit(0)
    os.waitpid(child, 0)
    return child


class Vanishing:
    """A run process that can be made to vanish without goodbye: a socket of its own, a hello, and nothing more."""

    def __init__(self, outing: Path, snapshot: Snapshot, *, guard: int | None = None) -> None:
        self.path = announce(outing, "Weir", {"guard": guard or os.getpid()})
        self.path.unlink(missing_ok=True)
        self._listening = socket.socket(socket.AF_UNIX)
        self._listening.bind(str(self.path))
        self._listening.listen()
        self._listening.settimeout(SOON_S)
        self._ends: list[socket.socket] = []
        facts = Facts(outing=str(outing.resolve()), title="Weir", simulated=True)
        self._hello = encode(Hello(facts=facts, clock=AffineClock(), snapshot=snapshot))

    def greet(self, last: bytes = b"") -> None:
        """Take connections until one of a face stays, and greet it; who only looks whether somebody is there goes."""
        for _ in range(2):
            end, _ = self._listening.accept()
            self._ends.append(end)
            try:
                end.sendall(self._hello + last)
            except OSError:
                continue

    def vanish(self) -> None:
        for end in (*self._ends, self._listening):
            end.close()


def test_a_run_that_vanishes_is_said_to_be_lost_and_found_again(tmp_path: Path) -> None:
    async def do() -> None:
        async with at_desk(tmp_path) as rig:
            first = Vanishing(tmp_path, Snapshot(stream=3))
            await asyncio.to_thread(first.greet)
            await rig.until(lambda: rig.desk.sight.state == "attached")
            first.vanish()
            await rig.shows("No word from the run for")
            await rig.press("4", "p")
            await rig.shows("was not sent: no run is attached")
            second = PlayedRun(tmp_path)
            try:
                await rig.attached(second, *held())
                await rig.until(lambda: "No word" not in rig.text())
                assert second.said.empty()  # the word said meanwhile was not kept for later
                assert "SIMULATED" in rig.text()
                await rig.press("p")
                assert await rig.heard(second) == "pause"
            finally:
                second.end()

    asyncio.run(do())


def test_a_frame_left_open_is_counted_down_until_the_run_that_took_over_has_begun(tmp_path: Path) -> None:
    opened = held()[-1]
    assert isinstance(opened, FrameOpened)

    async def do() -> None:
        async with at_desk(tmp_path) as rig:
            first = Vanishing(tmp_path, Snapshot(stream=3, planned=planned(), open=opened))
            await asyncio.to_thread(first.greet)
            await rig.shows("OPEN: frame 7")
            first.vanish()
            await rig.shows("No word from the run")
            second = PlayedRun(tmp_path)
            try:
                await rig.shows("Frame 7 was open when the run was lost")
                assert "closes at 12:12:05" in rig.text()
                assert rig.desk.screen.query_one("#large", Large).text == "12:05"
                await rig.attached(second, *begun())
                assert "was open" not in rig.text()
                assert "closes at" not in rig.text()
            finally:
                second.end()

    asyncio.run(do())


def test_a_turn_that_is_still_open_after_a_loss_is_asked_again(tmp_path: Path) -> None:
    async def do() -> None:
        async with at_desk(tmp_path) as rig:
            run = PlayedRun(tmp_path)
            await rig.attached(run, *asked())
            rig.hands.at_s += 5
            for face in run.server._faces.copy():
                run.server._from_outside(face._writer.transport.abort)  # as when the run is killed
            await rig.until(lambda: rig.desk.sight.attached == 2)
            assert len(rig.bells) == 2
            await rig.shows("Space or enter: it is done.")
            run.end()

    asyncio.run(do())


def test_a_run_whose_guard_is_gone_too_is_given_up_with_what_to_do(tmp_path: Path) -> None:
    async def do() -> None:
        async with at_desk(tmp_path) as rig:
            run = Vanishing(tmp_path, Snapshot(stream=3), guard=gone_process())
            await asyncio.to_thread(run.greet)
            await rig.until(lambda: rig.desk.sight.state == "attached")
            run.vanish()
            await rig.shows("has ended without a result")
            assert "tether run" in rig.text()

    asyncio.run(do())


def test_a_run_that_is_over_is_no_loss(tmp_path: Path) -> None:
    async def do() -> None:
        async with at_desk(tmp_path) as rig:
            run = PlayedRun(tmp_path)
            await rig.attached(run, *begun(), ladder_ended("done"))
            run.end()
            await rig.until(lambda: rig.desk.sight.state == "over")
            assert "No word" not in rig.text()
            assert "The ladder has ended: done." in rig.text()

    asyncio.run(do())


def test_silence_is_told_only_after_a_while_and_a_knock_ends_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    attached = RunView(state="attached")
    assert wrong(attached, 103.0, 100.0) == ""
    assert "No word from the run for 5 s" in wrong(attached, 105.0, 100.0)
    monkeypatch.setattr(attachment_module, "KNOCKS_EVERY_S", 0.02)
    run = PlayedRun(tmp_path)
    seen: list[RunView | WordReply] = []
    link = Attachment(tmp_path, seen.append)
    link.start()
    try:
        run.tell(*held())
        heard = wait_for(
            lambda: link.heard_s if seen and isinstance(seen[-1], RunView) and seen[-1].snapshot.open else 0
        )
        wait_for(lambda: link.heard_s > heard)  # nothing happens in the run, and still it gives signs of life
        assert run.said.empty()
    finally:
        link.close()
        run.end()


def test_goodbye_while_it_may_go_on_is_a_loss(tmp_path: Path) -> None:
    run = Vanishing(tmp_path, Snapshot(stream=3))
    seen: list[RunView | WordReply] = []
    link = Attachment(tmp_path, seen.append)
    link.start()
    try:
        run.greet(encode(Bye(sentence="cut off", again=True)))
        wait_for(lambda: any(isinstance(one, RunView) and one.state == "lost" for one in seen))
    finally:
        run.vanish()
        link.close()


def test_a_desk_for_which_there_is_no_room_can_still_say_stop(tmp_path: Path) -> None:
    run = PlayedRun(tmp_path)
    seen: list[RunView | WordReply] = []
    with ExitStack() as stack:
        stack.callback(run.end)
        for _ in range(MOST_FACES):
            stack.enter_context(closing(Face.attach(run.path)))
        link = Attachment(tmp_path, seen.append)
        link.start()
        stack.callback(link.close)
        wait_for(lambda: any(isinstance(one, RunView) and "faces are attached" in one.why_not for one in seen))
        link.say("stop now and keep")
        assert run.said.get(timeout=SOON_S) == "stop now and keep"
        wait_for(
            lambda: WordReply(verb="stop now and keep", ok=True, sentence="The run is told: stop now and keep.") in seen
        )


def wait_for(so: Callable[[], float]) -> float:
    """Wait until something is so, and return it."""

    async def wait() -> float:
        async with asyncio.timeout(SOON_S):
            while not (found := so()):
                await asyncio.sleep(0.01)
            return found

    return asyncio.run(wait())
