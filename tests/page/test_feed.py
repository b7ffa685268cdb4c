"""What browsers are told: a snapshot, then every change in order, with the run's clock; and what went on meanwhile."""

from __future__ import annotations

import asyncio
import json
import re
import socket
from collections.abc import Iterator
from contextlib import ExitStack, closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from tests.journal.shown import differs, exposed, home, ladder_ended, readings, turn
from tests.page.rig import CLOCK, PLANNED, Browser, FakeRun, Page, next_change
from tether.control.attachment import RunView
from tether.control.messages import Facts, Hello, encode
from tether.control.registry import announce, withdraw
from tether.journal.records import (
    ExposeOutcome,
    FrameOpened,
    FrameRead,
    LadderBegun,
    LadderOutcome,
    Record,
    RungBegun,
    Said,
    StateChanged,
)
from tether.journal.snapshot import Snapshot, after
from tether.page import feed as feed_module
from tether.page.doors import BrowserSession
from tether.page.feed import Feed

TURN = turn(2, "fit Calder 6", "rung 2 is made with it")


@pytest.fixture
def own(tmp_path: Path) -> Iterator[tuple[FakeRun, Page, Browser]]:
    """A run, a page and a browser of this test's own."""
    for part in ("frames", "previews"):
        (tmp_path / part).mkdir()
    with closing(FakeRun(tmp_path)) as run, closing(Page(tmp_path)) as page:
        yield run, page, Browser.let_in(page)


def said(text: str) -> Said:
    return Said(about="note", text=text)


def opened(frame: int = 1, closes_in_s: float = 240.0) -> FrameOpened:
    now = CLOCK.now_ns()
    closes = now + round(closes_in_s * 1e9)
    return FrameOpened(frame=frame, rung=2, kind="rung", way="held", open_s=240.0, at_ns=now, closes_at_ns=closes)


def over(frame: int, rung: int = 1) -> ExposeOutcome:
    return exposed(frame, rung, "rung", outcome="made", held_s=2.0)


def says(frame: int, off_stops: float) -> FrameRead:
    said = readings(headroom_stops=0.81, water=(None, 0.021), off_stops=off_stops, moved=(3.0, 4.0), lost=0.02)
    return FrameRead(frame=frame, readings=said)


def test_a_snapshot_comes_first_and_then_every_event_in_order(own: tuple[FakeRun, Page, Browser]) -> None:
    run, _, browser = own
    texts = [f"sentence {number}" for number in range(100)]
    with browser.events() as events:
        first = next(events)
        assert first["event"] == "snapshot"
        assert first["link"]["state"] == "attached"
        run.tell(*map(said, texts))
        heard = [next_change(events) for _ in texts]
    assert [one["line"]["text"] for one in heard] == texts
    numbers = [one["number"] for one in heard]
    assert numbers == list(range(first["number"] + 1, first["number"] + 101))


def test_several_phones_hear_the_same(own: tuple[FakeRun, Page, Browser]) -> None:
    run, page, browser = own
    phones = [browser, Browser.let_in(page), Browser.let_in(page, may_steer=False)]
    with ExitStack() as stack:
        heard = [stack.enter_context(phone.events()) for phone in phones]
        for events in heard:
            next(events)
        run.tell(said("one"), TURN)
        told = [[next_change(events)["line"]["text"] for _ in range(2)] for events in heard]
    assert told == [["one", f"YOUR TURN: {TURN.what} ({TURN.reason})"]] * 3


@pytest.mark.parametrize("how", ["header", "address"])
def test_a_phone_that_was_away_is_told_what_went_on_meanwhile(own: tuple[FakeRun, Page, Browser], how: str) -> None:
    run, _, browser = own
    with browser.events() as events:
        next(events)
        run.tell(said("before"))
        last = next_change(events)["id"]
    with browser.events() as other:
        next(other)
        run.tell(over(1), home(1, "weir_1.dng"), said("meanwhile"))
        for _ in range(3):
            next_change(other)
    again = {"path": f"/events?last={last}"} if how == "address" else {"headers": {"Last-Event-ID": last}}
    with browser.events(**again) as events:
        snapshot = next(events)
    missed = [line["text"] for line in snapshot["lines"] if line["number"] > snapshot["missed_after"]]
    assert missed == ["Frame 1: made, bulb 2.000 s", "Copied: weir_1.dng", "meanwhile"]
    assert snapshot["view"]["last"]["frame"] == 1


@pytest.mark.parametrize("last", ["", "other-7", "x", "-1", "%00", "9" * 400])
def test_an_id_that_is_none_of_this_process_misses_nothing(browser: Browser, last: str) -> None:
    with browser.events(f"/events?last={last}") as events:
        assert next(events)["missed_after"] is None


def test_beats_come_between_and_carry_the_runs_clock(browser: Browser) -> None:
    with browser.events() as events:
        next(events)
        before = CLOCK.now_ns() / 1e9
        beat = next(one for one in events if one["event"] == "beat")
        assert before <= beat["now_s"] <= CLOCK.now_ns() / 1e9
        assert beat["pace"] == 60.0
        assert beat["times"] == "(rehearsed time)"
        assert beat["id"] is None


def test_how_long_ago_the_light_was_measured_is_told_with_every_beat(own: tuple[FakeRun, Page, Browser]) -> None:
    """The run's clock goes sixty times as fast: a minute is a second."""
    run, _, browser = own
    closed = (CLOCK.utc() - timedelta(hours=1)).isoformat()
    with browser.events() as events:
        assert next(events)["light"] == ""
        run.tell(
            LadderBegun(planned=PLANNED),
            replace(over(1, rung=1), closed_utc=closed),
            FrameRead(frame=1, readings=readings(off_stops=0.12)),
        )
        change = [next_change(events) for _ in range(3)][-1]
        beat = next(one for one in events if one["event"] == "beat")
    told = re.compile(r"Light, measured (\d+) min ago: \+0\.12 stop against the base, by frame 1 \(no filter\)")
    ages = [int(found[1]) for one in (change, beat) if (found := told.fullmatch(one["light"]))]
    assert 60 <= ages[0] <= ages[1] < 90


def test_an_open_shutter_is_told_with_when_it_closes(own: tuple[FakeRun, Page, Browser]) -> None:
    run, _, browser = own
    event = opened()
    with browser.events() as events:
        next(events)
        run.tell(LadderBegun(planned=PLANNED), RungBegun(rung=2, label="4 min", frames=1), event)
        change = [next_change(events) for _ in range(3)][-1]
    view = change["view"]
    assert view["open"]["closes_s"] == event.closes_at_ns / 1e9
    assert view["open"]["what"] == "frame 1, 4:00 min"
    assert 0 < view["open"]["closes_s"] - change["now_s"] <= 240
    assert view["rung"] == {"rung": 2, "of": 2, "label": "4 min", "frames": 1, "made": 0}
    assert view["simulated"] is True
    of_use = {one["verb"]: one["of_use"] for one in view["steering"]}
    assert of_use["longer"]
    assert of_use["close and keep"]


def test_a_turn_is_asked_for_answered_and_over(own: tuple[FakeRun, Page, Browser]) -> None:
    run, _, browser = own
    with browser.events() as events:
        next(events)
        run.tell(StateChanged(before="ready", state="your turn", at_ns=1), TURN)
        ask = [next_change(events) for _ in range(2)][-1]["view"]["ask"]
        assert ask["what"] == "fit Calder 6"
        assert browser.say("answer", "something else").status == 409
        assert browser.say("answer", ask["of"]).status == 200
        assert run.said.get(timeout=5) == "answer"
        run.tell(turn(2, "fit Calder 6", "", "answered"))
        assert next_change(events)["view"]["ask"] is None
        assert browser.say("answer", ask["of"]).status == 409
    assert run.said.empty()


def test_a_word_for_an_open_frame_does_not_hit_the_next(own: tuple[FakeRun, Page, Browser]) -> None:
    run, _, browser = own
    with browser.events() as events:
        next(events)
        run.tell(opened(1), over(1, rung=2), opened(2))
        for _ in range(3):
            next_change(events)
    late = browser.say("close and keep", "frame 1")
    assert late.status == 409
    assert "over already" in late.text
    assert browser.say("close and keep", "frame 2").status == 200


def test_a_frame_that_waits_for_a_touch_is_taken_by_the_large_button(own: tuple[FakeRun, Page, Browser]) -> None:
    run, _, browser = own
    with browser.events() as events:
        next(events)
        run.tell(StateChanged(before="setting", state="waiting for your key", at_ns=1))
        ask = next_change(events)["view"]["ask"]
    assert ask["button"] == "Take it now"
    assert browser.say("answer", ask["of"]).status == 200


def test_the_last_frame_is_told_in_words_and_shown(own: tuple[FakeRun, Page, Browser]) -> None:
    run, _, browser = own
    (run.outing / "previews" / "weir_1.jpg").write_bytes(b"a picture")
    happened: list[Record] = [
        over(1),
        home(1, "weir_1.dng"),
        differs(1, "It is darker than asked."),
        says(1, 0.0),
    ]
    with browser.events() as events:
        next(events)
        run.tell(*happened)
        last = [next_change(events) for _ in happened][-1]["view"]["last"]
    assert last["what"] == "Frame 1, rung 1: made, bulb 2.000 s"
    assert "Headroom: 0.8 stops" in last["says"]
    assert "Headroom of the water: 2.1% clipped" in last["says"]
    assert "Moved: 5.0 px" in last["says"]
    assert last["differs"] == ["It is darker than asked."]
    assert browser.ask("GET", "/frames/1/preview.jpg").text == "a picture"
    assert browser.ask("GET", "/frames/2/preview.jpg").status == 404
    assert browser.ask("GET", "/frames/1/histogram.svg").status == 404  # there is no such file


# Lost, and found again -----------------------------------------------------------------------------------------------


def test_a_run_that_is_over_says_so_and_one_that_comes_back_is_attached_to(
    own: tuple[FakeRun, Page, Browser],
) -> None:
    run, _, browser = own
    with browser.events() as events:
        next(events)
        run.tell(ladder_ended("closed and kept"))
        assert next_change(events)["view"]["over"] == "The ladder has ended: stopped at once."
        run.close()
        gone = next_change(events)
        assert gone["link"] == {"state": "over", "sentence": "The run has ended, as you asked."}
        assert gone["view"]["over"]  # what was known last stays
        run.begin()
        back = next_change(events)
        assert back["link"]["state"] == "attached"
        assert back["view"]["over"] is None


@pytest.mark.parametrize(
    ("outcome", "link"),
    [
        ("done", {"state": "over", "sentence": "The run has ended."}),
        ("stopped after a frame", {"state": "over", "sentence": "The run has ended, as you asked."}),
        ("failed", {"state": "failed", "sentence": "The run has ended."}),
        (None, {"state": "lost", "sentence": "The run is over. This page waits for it to come back."}),
    ],
)
def test_a_run_that_is_over_is_no_trouble_but_where_it_failed_or_nobody_knows(
    outcome: LadderOutcome | None, link: dict[str, str]
) -> None:
    snapshot = after(Snapshot(), ladder_ended(outcome)) if outcome else Snapshot()
    feed = Feed(lambda: 0.0)
    feed.publish(RunView(state="over", snapshot=snapshot, why_lost="The run is over."))

    async def told() -> object:
        events = feed.listen(BrowserSession(may_steer=True, token=""), None)
        return json.loads((await anext(events)).split("data: ", 1)[1])["link"]

    assert asyncio.run(told()) == link


class Mute:
    """A run that greets and then says nothing, not even that it is there; or that vanishes without goodbye."""

    def __init__(self, outing: Path) -> None:
        self.path = announce(outing, "Weir", {})
        self._listening = socket.socket(socket.AF_UNIX)
        self._listening.bind(str(self.path))
        self._listening.listen()
        self.ends: list[socket.socket] = []
        self._hello = encode(
            Hello(facts=Facts(outing=str(outing), title="Weir", simulated=False), clock=CLOCK, snapshot=Snapshot())
        )

    def greet(self) -> None:
        """Take the next face that attaches; looks whether a run answers are let go."""
        while True:
            end, _ = self._listening.accept()
            self.ends.append(end)
            try:
                end.sendall(self._hello)
                end.settimeout(0.02)
                if end.recv(1, socket.MSG_PEEK):
                    return
            except TimeoutError:
                return
            except OSError:
                continue

    def vanish(self) -> None:
        """Go without goodbye, as a process that is killed."""
        self._listening.close()
        for end in self.ends:
            end.close()
        self.path.unlink(missing_ok=True)
        withdraw(self.path)


def test_a_run_that_is_silent_or_vanishes_is_told_as_what_it_is(tmp_path: Path) -> None:
    mute = Mute(tmp_path)
    with closing(Page(tmp_path)) as page:
        mute.greet()
        with Browser.let_in(page).events() as events:
            silent = next(one for one in events if one["silent_s"] > 0.1)
            assert silent["link"]["state"] == "attached"
            mute.vanish()
            lost = next_change(events)
            assert lost["link"]["state"] == "lost"
            assert "has disappeared" in lost["link"]["sentence"]
            assert next(one for one in events if one["event"] == "beat")["silent_s"] == 0


def test_a_phone_that_does_not_read_is_cut_off_and_holds_up_nobody() -> None:
    """Its connection takes no more, so its events are not asked for; what waits for it does not grow without end."""
    session = BrowserSession(may_steer=False, token="")
    texts = [f"sentence {number}" for number in range(2 * feed_module.MOST_WAITING)]

    async def told() -> tuple[list[str], list[str]]:
        feed = Feed(lambda: 0.0)
        idle, busy = feed.listen(session, None), feed.listen(session, None)
        for listener in (idle, busy):
            assert "snapshot" in await anext(listener)
        heard = []
        for text in texts:
            feed.publish(RunView(record=said(text)))
            heard.append(await anext(busy))
        return heard, [one async for one in idle]  # ends, for it was cut off

    heard, left = asyncio.run(told())
    assert all(text in one for text, one in zip(texts, heard, strict=True))
    assert len(left) < feed_module.MOST_WAITING


def test_more_phones_than_may_are_refused_in_a_sentence(browser: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(feed_module, "MOST_LISTENERS", 0)
    refused = browser.ask("GET", "/events")
    assert refused.status == 503
    assert "Too many phones" in refused.text


def test_the_end_of_the_page_lets_those_go_who_listen(tmp_path: Path) -> None:
    page = Page(tmp_path)
    with Browser.let_in(page, attached=False).events() as events:
        assert next(events)["link"]["state"] == "absent"
        page.close()
        assert all(one["event"] == "beat" for one in events)


def test_without_an_outing_the_page_is_of_whichever_run_begins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))  # none of the other tests' runs is there
    (tmp_path / "previews").mkdir()
    with closing(Page(None)) as page:
        browser = Browser.let_in(page, attached=False)
        assert browser.ask("GET", "/frames/1/preview.jpg").status == 404
        with closing(FakeRun(tmp_path)) as run, browser.events() as events:
            while next(events)["link"]["state"] != "attached":
                pass
            (tmp_path / "previews" / "weir_1.jpg").write_bytes(b"a picture")
            run.tell(home(1, "weir_1.dng"))
            next_change(events)
            assert browser.ask("GET", "/frames/1/preview.jpg").text == "a picture"


def test_hostile_text_reaches_a_phone_as_signs(browser: Browser, run: FakeRun) -> None:
    with browser.events() as events:
        next(events)
        run.tell(Said(about="note", text="\x1b[2J\u202e</script>\x9b"))
        line = next_change(events)["line"]["text"]
    assert "␛[2J�</script>�" in line


def test_each_change_shows_how_it_stood_then_also_where_the_next_came_at_once() -> None:
    """A task taken back and asked again in one moment is two questions: the page is deaf to each as it comes."""

    async def told() -> list[object]:
        feed = Feed(lambda: 0.0)
        facts = Facts(outing="/weir", title="Weir", simulated=True)
        sight = RunView(state="attached", facts=facts, clock=CLOCK)
        feed.publish(sight)
        listening = feed.listen(BrowserSession(may_steer=True, token=""), None)
        await anext(listening)
        snapshot = sight.snapshot
        for record in (TURN, replace(TURN, state="taken back"), TURN):
            snapshot = after(snapshot, record)
            feed.publish(replace(sight, snapshot=snapshot, record=record))
        messages = [await anext(listening) for _ in range(3)]
        await listening.aclose()  # type: ignore[attr-defined]
        return [json.loads(one.split("data: ", 1)[1])["view"]["ask"] for one in messages]

    first, between, again = asyncio.run(told())
    assert between is None
    assert first == again is not None
