"""The card behind the wire, over a body that has frames as told: handles, news, and what is in memory only."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from tether.body.protocol import CardFile
from tether.body.responder import card as module
from tether.body.responder.card import CARD_FOLDER, STORAGE, Card
from tether.body.responder.codes import DNG, JPEG, RefusedError, Response
from tether.body.responder.datasets import object_info
from tether.body.responder.faults import WireFault, WireTroubles

TOP, ROOT, EVERYWHERE = 0xFFFF_FFFF, 0x1000_0000, 0
FIRST, SECOND = 0x2000_0010, 0x2000_0020


@dataclass
class Body:
    """A body with frames on its card; `made` are the files that were made of them."""

    numbers: list[int] = field(default_factory=list)
    open: bool = False
    made: list[str] = field(default_factory=list)

    def on_card(self) -> list[CardFile]:
        return [CardFile(folder="/", name=f"SIM_{one:04d}.DNG", number=one, size=None) for one in self.numbers]

    def shutter(self) -> object:
        return self if self.open else None

    def develop(self, file: CardFile, into: Path) -> None:
        self.made.append(file.name)
        into.write_bytes(file.name.encode())


@dataclass
class Rig:
    folder: Path
    body: Body = field(default_factory=Body)

    def card(self, *faults: WireFault, two_files: bool = False) -> Card:
        body: Any = self.body
        return Card(body, self.folder, WireTroubles(faults), threading.RLock(), two_files=two_files)


@pytest.fixture
def rig(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Rig:
    monkeypatch.setattr(module, "save_preview", lambda raw, into: into.write_bytes(b"picture"))
    return Rig(tmp_path / "wire")


def news(card: Card) -> list[str]:
    return [one.name for one in card.news()]


def refusal(act: Any, *given: int) -> Response:
    with pytest.raises(RefusedError) as caught:
        act(*given)
    return caught.value.code


def test_frames_that_were_there_are_no_news_and_those_that_come_are_told_once(rig: Rig) -> None:
    rig.body.numbers = [1]
    card = rig.card()
    card.look()
    assert news(card) == []
    rig.body.numbers = [1, 2, 3]
    card.look()
    card.look()
    assert news(card) == ["SIM_0002.DNG", "SIM_0003.DNG"]
    assert news(card) == []
    assert rig.body.made == ["SIM_0001.DNG", "SIM_0002.DNG", "SIM_0003.DNG"]


def test_a_file_that_an_earlier_process_made_is_not_made_again(rig: Rig) -> None:
    rig.body.numbers = [1]
    rig.card()
    again = rig.card()
    assert rig.body.made == ["SIM_0001.DNG"]
    assert again.stored(FIRST).size == len("SIM_0001.DNG")


def test_a_folder_has_what_is_in_it(rig: Rig) -> None:
    rig.body.numbers = [2, 1]
    card = rig.card()
    assert card.handles(TOP) == [ROOT]
    assert card.handles(ROOT) == [CARD_FOLDER]
    assert card.handles(CARD_FOLDER) == [FIRST, SECOND]
    assert card.handles(EVERYWHERE) == [ROOT, CARD_FOLDER, FIRST, SECOND]
    assert card.handles(FIRST) == []


def test_a_handle_tells_its_file_and_its_frame(rig: Rig) -> None:
    rig.body.numbers = [1]
    card = rig.card()
    assert card.number_of(FIRST) == 1
    assert card.number_of(SECOND) == 0
    told = object_info(storage=STORAGE, kind=DNG, size=12, parent=CARD_FOLDER, folder=False, name="SIM_0001.DNG")
    assert card.info(FIRST) == told
    assert card.info(CARD_FOLDER) == object_info(
        storage=STORAGE, kind=0x3001, size=0, parent=ROOT, folder=True, name="100SIMUL"
    )
    assert refusal(card.info, SECOND) == refusal(card.stored, SECOND) == Response.INVALID_OBJECT


def test_a_file_is_read_in_parts_and_ends_where_it_ends(rig: Rig) -> None:
    rig.body.numbers = [1]
    stored = rig.card().stored(FIRST)
    assert [stored.part(0, 4), stored.part(4, 4), stored.part(10, 99)] == [b"SIM_", b"0001", b"NG"]


def test_a_frame_may_be_a_raw_file_and_a_jpeg_next_to_it(rig: Rig) -> None:
    card = rig.card(two_files=True)
    rig.body.numbers = [1]
    card.look()
    assert [(one.name, one.handle, one.kind, one.number) for one in card.news()] == [
        ("SIM_0001.DNG", FIRST, DNG, 1),
        ("SIM_0001.JPG", FIRST + 1, JPEG, 1),
    ]
    assert card.handles(CARD_FOLDER) == [FIRST, FIRST + 1]


def test_while_a_shutter_is_open_nothing_is_looked_for_or_handed_out(rig: Rig) -> None:
    rig.body.numbers = [1]
    card = rig.card()
    rig.body.numbers, rig.body.open = [1, 2], True
    card.look()
    assert rig.body.made == ["SIM_0001.DNG"]
    busy = [refusal(card.handles, TOP), refusal(card.stored, FIRST), refusal(card.info, FIRST)]
    assert busy == [Response.BUSY] * 3
    rig.body.open = False
    assert card.handles(CARD_FOLDER) == [FIRST, SECOND]
    assert news(card) == ["SIM_0002.DNG"]


def test_the_files_of_a_card_that_was_changed_go_with_it(rig: Rig) -> None:
    rig.body.numbers = [1, 2]
    card = rig.card(two_files=True)
    rig.body.numbers = [2, 3]
    card.look()
    assert [card.stored(handle).name for handle in card.handles(CARD_FOLDER)] == [
        "SIM_0002.DNG",
        "SIM_0002.JPG",
        "SIM_0003.DNG",
        "SIM_0003.JPG",
    ]
    assert refusal(card.stored, FIRST) == Response.INVALID_OBJECT


def test_what_is_in_memory_is_told_and_got_and_on_no_card_until_it_is_forgotten(rig: Rig) -> None:
    card = rig.card()
    card.keep_in_memory(2)
    rig.body.numbers = [1, 2]
    card.look()
    assert news(card) == ["SIM_0001.DNG", "SIM_0002.DNG"]
    assert card.handles(CARD_FOLDER) == [FIRST]
    assert card.info(SECOND) == object_info(storage=0, kind=DNG, size=12, parent=0, folder=False, name="SIM_0002.DNG")
    assert refusal(card.forget, FIRST) == Response.WRITE_PROTECTED
    card.forget(SECOND)
    assert refusal(card.forget, SECOND) == Response.INVALID_OBJECT


@pytest.mark.parametrize(
    ("fault", "first", "second"),
    [("event never", 0, 1), ("event twice", 2, 1), ("event late", 0, 1)],
)
def test_trouble_with_the_news_befalls_the_frame_it_is_meant_for(rig: Rig, fault: Any, first: int, second: int) -> None:
    card = rig.card(WireFault(what=fault, at_frame=1, for_s=1000.0))
    rig.body.numbers = [1, 2]
    card.look()
    told = news(card)
    assert (told.count("SIM_0001.DNG"), told.count("SIM_0002.DNG")) == (first, second)
    assert card.handles(CARD_FOLDER) == [FIRST, SECOND]


def test_late_news_come_when_they_are_due_and_once(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    card = rig.card(WireFault(what="event late", for_s=1000.0))
    rig.body.numbers = [1]
    card.look()
    assert news(card) == []
    now_ns = time.monotonic_ns()
    monkeypatch.setattr("tether.body.responder.card.time.monotonic_ns", lambda: now_ns + 1000 * 10**9)
    assert [news(card), news(card)] == [["SIM_0001.DNG"], []]
