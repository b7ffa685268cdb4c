"""Faces on real sockets: all see the same, in order, whatever others send, leave unread or do; nothing stays behind."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import ExitStack, closing
from functools import reduce
from itertools import islice
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.control.rig import CLOCK, FACTS, LAST, SOON_S, Rig, messages
from tether.control import server as server_module
from tether.control.client import Face, GoneError, say_to
from tether.control.messages import LONGEST_LINE
from tether.control.server import ALLOWED_S, MOST_FACES, MOST_WAITING, Allowance
from tether.errors import BusyError, LostError, PlanError
from tether.journal.records import FrameOpened, LadderEnded, Record, Said, StateChanged, Steered
from tether.journal.snapshot import Snapshot, after


def said(number: int, text: str = "") -> Said:
    return Said(about="note", text=f"{number} {text}")


#: More than may wait for one face.
MUCH = [said(number, "x" * 10_000) for number in range(4 * MOST_WAITING // 10_000)]


def until_the_end(face: Face) -> list[Record]:
    """Return the events of a face up to the last of the ladder."""
    events: list[Record] = []
    while not isinstance(events[-1] if events else None, LadderEnded):
        event = face.next(SOON_S)
        assert event is not None
        events.append(event)
    return events


def answer_to(end: socket.socket, number: int) -> dict[str, Any]:
    return next(message for message in messages(end) if message.get("to") == number)


# Snapshot, then events ----------------------------------------------------------------------------------------------


def test_a_face_learns_whose_run_it_is_and_how_it_stands(rig: Rig) -> None:
    opened = FrameOpened(frame=1, rung=1, kind="rung", way="held", open_s=8.0, at_ns=5, closes_at_ns=9)
    rig.server.tell(opened)
    with rig.face() as face:
        assert face.hello.facts == FACTS
        assert face.hello.clock == CLOCK
        assert face.snapshot == Snapshot(stream=1, open=opened)
        assert face.next(0) is None


def test_events_from_before_the_start_are_in_the_snapshot(tmp_path: Path) -> None:
    tmp_path.chmod(0o700)
    rig = Rig(tmp_path / "a.socket")
    with closing(rig.server):
        rig.server.tell(said(1))
        rig.server.start()
        with rig.face() as face:
            assert [one.text for one in face.snapshot.said] == [said(1).text]


def test_faces_that_attach_in_a_burst_miss_nothing_and_hear_nothing_twice(rig: Rig) -> None:
    events: list[Record] = [*(said(number) for number in range(3000)), LAST]
    whole = reduce(after, events, Snapshot())

    def work() -> None:
        for event in events:
            rig.server.tell(event)

    engine = threading.Thread(target=work)
    with ExitStack() as stack:
        engine.start()
        faces = [stack.enter_context(rig.face()) for _ in range(8)]
        engine.join()
        for face in faces:
            start = face.hello.snapshot
            assert start == reduce(after, events[: start.stream], Snapshot())
            if start.over is None:
                assert until_the_end(face) == events[start.stream :]
            assert face.snapshot == whole


def test_a_word_reaches_the_run_and_its_answer_the_face(rig: Rig) -> None:
    with rig.face() as face:
        assert face.say("close and keep") == "The run is told: close and keep."
    assert rig.said.get(timeout=SOON_S) == "close and keep"


def test_events_that_come_while_an_answer_is_waited_for_are_kept_in_order(rig: Rig) -> None:
    events = [said(number) for number in range(5)]
    with rig.face() as face:
        for event in events:
            rig.server.tell(event)
        face.say("pause")
        assert [face.next(0) for _ in events] == events
        assert face.snapshot.stream == len(events)


def test_what_a_word_did_is_seen_by_every_face(rig: Rig) -> None:
    with rig.face() as one, rig.face() as other:
        one.say("brighter")
        rig.server.tell(Steered(verb=rig.said.get(timeout=SOON_S), effect="+0.33 stop"))
        assert one.next(SOON_S) == other.next(SOON_S) == Steered(verb="brighter", effect="+0.33 stop")
        assert one.snapshot == other.snapshot


def test_a_word_after_the_end_is_refused_in_a_sentence(rig: Rig) -> None:
    rig.server.tell(LAST)
    with rig.face() as face, pytest.raises(LostError, match="The ladder has ended"):
        face.say("longer")
    assert rig.said.empty()


def test_a_face_may_ask_again_how_the_run_stands(rig: Rig) -> None:
    with rig.plain() as end:
        rig.server.tell(StateChanged(before="ready", state="opening", at_ns=3))
        end.sendall(b'{"ask":"snapshot","to":8}\n')
        answer = answer_to(end, 8)
        assert answer["ok"]
        assert (answer["snapshot"]["stream"], answer["snapshot"]["state"]) == (1, "opening")


# What cannot be understood -------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def steady(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Rig]:
    folder = tmp_path_factory.mktemp("run")
    folder.chmod(0o700)
    rig = Rig(folder / "a.socket")
    with closing(rig.server):
        rig.server.start()
        yield rig


@given(st.lists(st.binary(max_size=200), max_size=5))
def test_no_bytes_end_the_server_or_the_face_that_sent_them(steady: Rig, garbage: list[bytes]) -> None:
    lines = [line for one in garbage for line in one.split(b"\n")]
    with steady.plain() as end:
        end.sendall(b"".join(line + b"\n" for line in lines) + b'{"ask":"snapshot","to":77}\n')
        answers = []
        for message in messages(end):
            answers.append(message)
            if message.get("to") == 77:
                break
        hello, *refused, last = answers
        assert hello["kind"] == "hello"
        assert last["ok"]
        assert [(one["kind"], one["ok"]) for one in refused] == [("answer", False)] * len(lines)
        assert all(one["sentence"] for one in refused)


def test_a_line_that_is_too_long_is_answered_and_skipped_to_its_end(rig: Rig) -> None:
    with rig.plain() as end:
        end.sendall(b"x" * (LONGEST_LINE + 1))
        received = messages(end)
        hello, refused = islice(received, 2)
        end.sendall(b'{"say":"drop everything"}\n{"ask":"snapshot","to":5}\n')
        last = next(received)
    assert hello["kind"] == "hello"
    assert (refused["ok"], last["to"]) == (False, 5)
    assert "at most 65536 bytes" in refused["sentence"]
    assert rig.said.empty()


def test_a_line_that_is_longer_still_is_skipped_as_well(rig: Rig) -> None:
    with rig.plain() as end:
        end.sendall(b"x" * (5 * LONGEST_LINE) + b'\n{"ask":"snapshot","to":5}\n')
        assert answer_to(end, 5)["ok"]


def test_a_last_line_without_its_end_is_heard_before_the_goodbye(rig: Rig) -> None:
    with rig.plain() as end:
        end.sendall(b'{"say":"pause","to":1}')
        end.shutdown(socket.SHUT_WR)
        kinds = [(message["kind"], message.get("ok")) for message in messages(end)]
    assert kinds == [("hello", None), ("answer", True), ("bye", None)]
    assert rig.said.get(timeout=SOON_S) == "pause"


# Floods, slow and vanished readers -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("cost_s", "at_once"), [(server_module.ACTED_ON_S, 10), (server_module.GARBLED_S, 50)])
def test_a_flood_is_read_no_faster_than_it_may(cost_s: float, at_once: int) -> None:
    allowance = Allowance()
    waits = [allowance.wait_s(cost_s, now_s=100.0) for _ in range(at_once + 5)]
    assert max(waits[:at_once]) == pytest.approx(0.0, abs=1e-9)
    assert waits[at_once:] == pytest.approx([cost_s * number for number in range(1, 6)])
    assert allowance.wait_s(cost_s, now_s=100.0 + 10 * ALLOWED_S) == 0.0


def test_a_flood_of_words_is_let_through_slowly_while_others_are_served(rig: Rig) -> None:
    sent = 400
    with rig.plain() as flooding, rig.face() as face:
        flooding.sendall(b'{"say":"brighter"}\n' * sent)
        face.say("pause")
        rig.server.tell(LAST)
        until_the_end(face)
    heard = [rig.said.get_nowait() for _ in range(rig.said.qsize())]
    assert "pause" in heard
    assert heard.count("brighter") < sent / 2


def test_a_face_that_never_reads_is_cut_off_and_told_so(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server_module, "LAST_WORDS_S", SOON_S)
    with rig.plain() as slow, rig.face() as quick:
        for event in MUCH:
            rig.server.tell(event)
            assert quick.next(SOON_S) == event
        hello, *told, bye = messages(slow)
    assert hello["kind"] == "hello"
    assert [one["stream"] for one in told] == list(range(1, len(told) + 1))
    assert len(told) < len(MUCH)
    assert bye["kind"] == "bye"
    assert bye["again"]
    with rig.face() as again:
        assert again.snapshot == quick.snapshot


def test_a_face_that_does_not_even_read_the_goodbye_is_dropped(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server_module, "LAST_WORDS_S", 0.05)
    with rig.plain() as slow, rig.face() as quick:
        for event in MUCH:
            rig.server.tell(event)
            assert quick.next(SOON_S) == event
        rig.server.close()
        kinds = [message["kind"] for message in messages(slow)]
    assert kinds[0] == "hello"
    assert "bye" not in kinds


def test_a_long_snapshot_is_no_reason_to_be_cut_off(rig: Rig) -> None:
    rig.server.tell(said(0, "x" * (2 * MOST_WAITING)))
    with rig.plain() as end:
        end.sendall(b'{"ask":"snapshot","to":5}\n')
        assert answer_to(end, 5)["snapshot"]["stream"] == 1
        rig.server.tell(LAST)
        assert next(messages(end))["record"] == "LadderEnded"


def test_faces_that_vanish_make_room_for_others(rig: Rig) -> None:
    for _ in range(3 * MOST_FACES):
        with rig.face():
            rig.server.tell(said(1))
    with rig.face() as face:
        rig.server.tell(LAST)
        until_the_end(face)


def test_one_face_too_many_is_sent_away_in_a_sentence(rig: Rig) -> None:
    with ExitStack() as stack:
        for _ in range(MOST_FACES):
            stack.enter_context(rig.face())
        with pytest.raises(GoneError, match=f"{MOST_FACES} faces are attached") as caught:
            Face.attach(rig.path)
        assert caught.value.again


def test_one_face_too_many_can_still_say_a_word(rig: Rig) -> None:
    with ExitStack() as stack:
        for _ in range(MOST_FACES):
            stack.enter_context(rig.face())
        assert "stop now and keep" in say_to(rig.path, "stop now and keep")
        assert rig.said.get(timeout=SOON_S) == "stop now and keep"
        with rig.plain() as end:
            end.sendall(b'{"say":"pause","to":7}\n')
            heard = list(messages(end))
        assert [(one["kind"], one.get("to")) for one in heard] == [("answer", 7), ("bye", None)]


def test_faces_that_are_sent_away_and_say_nothing_do_not_keep_others_from_it(
    rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tether.control.server.LAST_WORD_S", 0.1)
    with ExitStack() as stack:
        for _ in range(MOST_FACES):
            stack.enter_context(rig.face())
        silent = [stack.enter_context(rig.plain()) for _ in range(2 * MOST_FACES)]
        assert all([one["kind"] for one in messages(end)] == ["bye"] for end in silent)
        assert "pause" in say_to(rig.path, "pause")


# Beginning and end ---------------------------------------------------------------------------------------------------


def test_the_end_of_the_run_comes_after_its_last_event(rig: Rig) -> None:
    with rig.face() as face:
        events = [said(number) for number in range(100)]
        for event in events:
            rig.server.tell(event)
        rig.server.close()
        assert [face.next(SOON_S) for _ in events] == events
        for _ in range(2):
            with pytest.raises(GoneError, match="The run is over") as caught:
                face.next(SOON_S)
            assert not caught.value.again
        with pytest.raises(GoneError, match="The run is over"):
            face.say("pause")


def test_what_waits_is_read_out_before_the_goodbye(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server_module, "LAST_WORDS_S", SOON_S)
    count = MOST_WAITING // 20_000
    with rig.plain() as slow, rig.face() as quick:
        for number in range(count):
            rig.server.tell(said(number, "x" * 10_000))
            quick.next(SOON_S)
        closing_thread = threading.Thread(target=rig.server.close)
        closing_thread.start()
        kinds = [message["kind"] for message in messages(slow)]
        closing_thread.join()
    assert kinds == ["hello", *["record"] * count, "bye"]


def test_events_after_the_end_are_let_fall(rig: Rig) -> None:
    rig.server.close()
    rig.server.tell(LAST)
    rig.server.close()


def test_a_server_that_was_never_started_leaves_nothing(tmp_path: Path) -> None:
    rig = Rig(tmp_path / "a.socket")
    rig.server.tell(LAST)
    rig.server.close()
    assert not rig.path.exists()


def test_the_socket_is_for_this_user_only(rig: Rig) -> None:
    assert rig.path.stat().st_mode & 0o777 == 0o600


def test_the_socket_of_a_dead_process_is_replaced(tmp_path: Path) -> None:
    tmp_path.chmod(0o700)
    with socket.socket(socket.AF_UNIX) as dead:
        dead.bind(str(tmp_path / "a.socket"))
    rig = Rig(tmp_path / "a.socket")
    with closing(rig.server):
        rig.server.start()
        with rig.face() as face:
            assert face.hello.facts == FACTS


def test_the_socket_of_a_living_process_is_refused_and_left(rig: Rig) -> None:
    second = Rig(rig.path)
    with closing(second.server), pytest.raises(BusyError, match="A run answers at"):
        second.server.start()
    with rig.face() as face:
        assert face.say("pause")


def test_what_is_no_socket_is_left_alone(tmp_path: Path) -> None:
    tmp_path.chmod(0o700)
    path = tmp_path / "a.socket"
    path.write_text("a letter")
    with closing(Rig(path).server) as server, pytest.raises(PlanError, match="it is not a socket"):
        server.start()
    assert path.read_text() == "a letter"


@pytest.mark.parametrize(
    ("name", "mode", "sentence"), [("a.socket", 0o755, "open to others"), ("a" * 120, 0o700, "107")]
)
def test_a_place_that_will_not_do_is_refused(tmp_path: Path, name: str, mode: int, sentence: str) -> None:
    tmp_path.chmod(mode)
    with closing(Rig(tmp_path / name).server) as server, pytest.raises(PlanError, match=sentence):
        server.start()


def test_no_descriptor_is_left_open(tmp_path: Path) -> None:
    tmp_path.chmod(0o700)
    before = len(list(Path("/proc/self/fd").iterdir()))
    rig = Rig(tmp_path / "a.socket")
    with closing(rig.server):
        rig.server.start()
        with rig.face(), rig.plain():
            rig.server.tell(LAST)
    assert len(list(Path("/proc/self/fd").iterdir())) == before
