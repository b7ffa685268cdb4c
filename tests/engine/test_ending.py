"""The end of a ladder: the camera is set back first, waits say what they are for, and the person cuts them short."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.engine.rig import BASE, Worked, work, world
from tether.body.simulated.body import SimulatedBody
from tether.control.commands import Verb
from tether.engine.analysis_queue import Reader
from tether.engine.ending import what_is_missing
from tether.engine.frame_files import FrameFiles
from tether.errors import BusyError
from tether.journal.records import LadderEnded, Record, RungOutcome, Said

HOW_RUNGS_END: dict[int, RungOutcome] = {1: "done", 2: "failed", 3: "done, differs", 4: "skipped", 5: "failed"}
AGAIN = "Resuming the ladder takes this up again."
TWO = BASE + '[rungs]\ntimes = ["1/125", "1/60"]\nframes = 1\n'
#: The second frame comes onto the card five minutes late: it is not there when the ladder ends.
LATE = world(faults=[{"what": "delivers late", "at_frame": 2, "for_s": 300}])


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the body is asked, in order, as far as it matters here."""
    order: list[str] = []

    def note(name: str) -> None:
        real: Callable[..., Any] = getattr(SimulatedBody, name)

        def called(body: SimulatedBody, *values: Any) -> Any:
            order.append(name)
            return real(body, *values)

        monkeypatch.setattr(SimulatedBody, name, called)

    for name in ("put_back", "fetch", "new_files"):
        note(name)
    return order


def on(start: str, verb: Verb) -> Callable[[Record], Verb | None]:
    """Say a verb when a sentence begins so."""
    return lambda event: verb if isinstance(event, Said) and event.text.startswith(start) else None


def said(worked: Worked) -> list[str]:
    return [event.text for event in worked.events if isinstance(event, Said)]


def test_the_camera_is_set_back_before_anything_else_is_waited_for(tmp_path: Path, calls: list[str]) -> None:
    worked = work(tmp_path, TWO, truth=LATE)
    at_the_end = calls[calls.index("put_back") :]
    assert at_the_end[0] == "put_back"
    assert at_the_end.count("put_back") == 1
    assert "new_files" in at_the_end
    assert any(text.startswith("Waiting 10 s for 1 frame still to come onto the card.") for text in said(worked)), said(
        worked
    )


@pytest.mark.parametrize("verb", ["skip", "next", "stop after this frame", "stop now and keep", "drop everything"])
def test_a_wait_for_a_file_ends_when_the_person_says_so(tmp_path: Path, calls: list[str], verb: Verb) -> None:
    worked = work(tmp_path, TWO, truth=LATE, when=on("Waiting 10 s", verb))
    assert calls[-1] == "put_back", "no more files were waited for after the wait was cut short"
    assert worked.outcome == "done in part"
    assert worked.ladder.note == (
        "Not done: rung 2 (done in part). Not copied: frame 2. Resuming the ladder takes this up again."
    )


@pytest.mark.parametrize(
    ("rungs", "left_on_card", "said"),
    [
        (HOW_RUNGS_END, False, "Not done: rungs 2 and 5 (failed), rung 4 (skipped). " + AGAIN),
        ({1: "done", 4: "skipped"}, False, "Not done: rung 4 (skipped)."),
        ({1: "done"}, True, "Not copied: what could not be fetched from the card. " + AGAIN),
    ],
)
def test_what_is_missing_is_said_and_whether_resuming_takes_it_up(
    rungs: dict[int, RungOutcome], left_on_card: bool, said: str
) -> None:
    assert what_is_missing(rungs, FrameFiles(left_on_card=left_on_card)) == said


def test_a_body_that_is_still_busy_is_set_back_after_the_rest(
    tmp_path: Path, calls: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    real = SimulatedBody.put_back
    busy = iter([True, False])

    def put_back(body: SimulatedBody) -> tuple[str, ...]:
        if next(busy):
            calls.append("busy")
            raise BusyError("The body is busy.")
        return real(body)

    monkeypatch.setattr(SimulatedBody, "put_back", put_back)
    worked = work(tmp_path, TWO, truth=LATE)
    assert calls[calls.index("busy") + 1 :][-1] == "put_back"
    assert not [text for text in said(worked) if "could not be set back" in text]


def test_frames_that_are_not_read_yet_are_waited_for_aloud_and_left_when_the_person_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Reader, "owes", lambda _reader: True)
    monkeypatch.setattr(Reader, "left", lambda _reader: 2)
    worked = work(tmp_path, TWO, when=on("Waiting until 2 frames are read.", "skip"))
    assert worked.outcome == "done"
    assert "2 frames are copied and not read." in said(worked)
    assert isinstance(worked.events[-1], LadderEnded)


def test_an_end_with_nothing_left_says_nothing_and_waits_for_nothing(tmp_path: Path, calls: list[str]) -> None:
    worked = work(tmp_path, TWO)
    assert calls[-1] == "put_back"
    assert worked.outcome == "done"
    assert not [text for text in said(worked) if text.startswith(("Waiting", "Bringing"))]
