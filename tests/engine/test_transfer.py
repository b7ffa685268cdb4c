"""Bringing frames home: each file to its frame, checked and judged; what does not come is told of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.engine.small import FakeCamera, Telling, say_at, small_run
from tests.plan.plans import BASE
from tests.shot.frames import made
from tether.body.protocol import CardFile
from tether.clock import SteppedClock, to_ns
from tether.engine import transfer
from tether.engine.run_state import Run
from tether.engine.transfer import Fetcher
from tether.errors import CameraError, PlanError, SupplyError, TetherError
from tether.files.exif import FrameExif
from tether.files.safe import MOST_FETCHES, Arrived, settle
from tether.frames.asked import FrameAnswer
from tether.journal.records import ExifRead, FetchIntent, FetchOutcome, FrameRead
from tether.outing.folder import Folder
from tether.shot.made import Made

TEXT = BASE + '[rungs]\ntimes = ["1/125"]\n'


def on_card(name: str = "A_0001.NEF", *beside: str) -> CardFile:
    others = tuple(CardFile(folder="/dcim", name=one, number=None, size=None) for one in beside)
    return CardFile(folder="/dcim", name=name, number=int(name[2:6]), size=None, beside=others)


def exif(time_s: float = 0.5, iso: float = 100.0) -> FrameExif:
    return FrameExif(time_s=time_s, aperture=8.0, iso=iso)


class Desk:
    """A run with a fetcher; files on the card say as given by `says`, and a reader that notes what it is to read."""

    def __init__(
        self, monkeypatch: pytest.MonkeyPatch, path: Path, camera: FakeCamera | None = None, text: str = TEXT
    ) -> None:
        self.says: dict[str, FrameExif] = {}
        self.read: list[tuple[Any, ...]] = []
        self.owes = False
        reader = SimpleNamespace(read=lambda *one: self.read.append(one), done=list, owes=lambda: self.owes)
        self.run: Run
        self.telling: Telling
        folder = Folder(path=path, name="weir")
        self.run, self.telling, self.camera = small_run(text, camera, folder=folder, reader=reader)
        self.fetcher = Fetcher(self.run)
        self.settle: Callable[..., Arrived] = lambda *_, **__: Arrived(size=9, sha256="ab")
        self.preview: Callable[..., None] = lambda *_: None
        monkeypatch.setattr(transfer, "read_exif", self._exif)
        monkeypatch.setattr(transfer, "settle", lambda *args, **more: self.settle(*args, **more))
        monkeypatch.setattr(transfer, "save_preview", lambda *args: self.preview(*args))

    def _exif(self, path: Path) -> FrameExif:
        return next((said for name, said in self.says.items() if name in path.name), exif())

    def bring(self, *files: CardFile, of: tuple[Made, ...] = ()) -> None:
        for one in of:
            self.run.files.owe(one)
        self.fetcher.queue(files)
        self.fetcher.drain()

    @property
    def outcomes(self) -> list[FetchOutcome]:
        return self.telling.of(FetchOutcome)


@pytest.fixture
def desk(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Desk:
    return Desk(monkeypatch, tmp_path)


def test_a_file_comes_home_under_its_frames_name_is_judged_and_read(desk: Desk, tmp_path: Path) -> None:
    desk.bring(on_card(), of=(made(1),))
    (outcome,) = desk.outcomes
    assert (outcome.frame, outcome.card_name, outcome.name) == (1, "A_0001.NEF", "frames/weir_L1_R01_0.5s_0001.nef")
    assert (outcome.size, outcome.sha256, outcome.preview) == (9, "ab", "previews/weir_L1_R01_0.5s_0001.jpg")
    assert [type(one) for one in desk.telling.records if isinstance(one, FetchIntent | FetchOutcome | ExifRead)] == [
        FetchIntent,
        FetchOutcome,
        ExifRead,
    ]
    assert (desk.run.files.good(1), desk.run.files.awaited, desk.run.hand.state) == (True, [], "ready")
    assert desk.read == [(1, tmp_path / "frames/weir_L1_R01_0.5s_0001.nef", 8.0, 0.5)]


def test_a_frame_from_another_card_with_the_number_of_one_that_is_home_has_a_name_of_its_own(
    desk: Desk, tmp_path: Path
) -> None:
    (tmp_path / "frames").mkdir()
    desk.settle = lambda temp, final, **_: settle(temp, final)
    for number in (1, 2):
        desk.camera.does["fetch"] = lambda _, temp, number=number: temp.write_bytes(b"frame %d" % number)
        desk.run.files.known.clear()
        desk.bring(on_card(), of=(made(number),))
    names = [f"frames/weir_L1_R01_0.5s_0001{end}.nef" for end in ("", "-2")]
    assert [(one.frame, one.name) for one in desk.outcomes] == list(enumerate(names, start=1))
    assert [(tmp_path / name).read_bytes() for name in names] == [b"frame 1", b"frame 2"]
    assert (desk.run.files.good(2), desk.telling.said) == (True, [])


def test_a_frame_that_is_not_as_asked_is_said_and_is_not_good(desk: Desk) -> None:
    desk.says["0001"] = exif(iso=200.0)
    desk.bring(on_card(), of=(made(1),))
    assert desk.telling.said == ["Frame 1 (weir_L1_R01_0.5s_0001.nef) is not as asked: its ISO is 200, not 100."]
    assert desk.telling.of(ExifRead)[0].differs == ["its ISO is 200, not 100"]
    assert not desk.run.files.good(1)


def test_where_a_file_is_odd_another_that_has_come_fits_better(desk: Desk) -> None:
    """A frame by hand lies between; with both here each goes to its own."""
    desk.says["0001"] = exif(iso=800.0)
    desk.camera.does["new_files"] = lambda *_: (on_card("A_0002.NEF"),)
    desk.bring(on_card("A_0001.NEF"), of=(made(1),))
    assert {one.card_name: one.frame for one in desk.outcomes} == {"A_0001.NEF": None, "A_0002.NEF": 1}
    assert "by-hand" in (desk.outcomes[0].name or "") + (desk.outcomes[1].name or "")
    assert desk.telling.said == []


@pytest.mark.parametrize("body_s", [3600.0, 0.0, -3600.0])
@pytest.mark.parametrize("wall_s", [3600.0, 0.0, -3600.0])
def test_each_file_finds_its_frame_though_a_clock_was_set_meanwhile_ours_or_the_body_s(
    desk: Desk, wall_s: float, body_s: float
) -> None:
    clock = desk.run.clock
    assert isinstance(clock, SteppedClock)
    began = clock.utc()
    for number in range(1, 7):
        opened_s = 100.0 * number
        clock.wait_until(to_ns(opened_s + 1.0))
        was_set = number > 2
        clock.start_utc = began + timedelta(seconds=wall_s * was_set)
        taken_at = began + timedelta(seconds=opened_s + body_s * was_set)
        desk.says[f"{number:04}"] = replace(exif(), taken_at=taken_at.replace(tzinfo=None))
        desk.bring(on_card(f"A_{number:04}.NEF"), of=(replace(made(number), opened_s=opened_s),))
    assert [one.frame for one in desk.outcomes] == [1, 2, 3, 4, 5, 6]
    assert desk.telling.said == []


def test_a_dark_frame_is_not_read(desk: Desk) -> None:
    desk.bring(on_card(), of=(replace(made(1), kind="dark"),))
    assert desk.read == []
    assert desk.run.files.good(1)


def test_what_lies_beside_it_comes_too_without_a_preview(desk: Desk) -> None:
    desk.bring(on_card("A_0001.NEF", "A_0001.JPG"), of=(made(1),))
    assert [(one.card_name, one.frame, one.preview is not None) for one in desk.outcomes] == [
        ("A_0001.NEF", 1, True),
        ("A_0001.JPG", 1, False),
    ]


def test_a_frame_without_a_preview_is_still_a_frame(desk: Desk) -> None:
    def fails(*_: object) -> None:
        raise PlanError("no preview")

    desk.preview = fails
    desk.bring(on_card(), of=(made(1),))
    assert desk.outcomes[0].preview is None
    assert desk.run.files.good(1)


def test_a_file_that_is_damaged_is_copied_again_and_at_last_left_on_the_card(desk: Desk) -> None:
    def damaged(*_: object, **__: object) -> Arrived:
        raise CameraError("It is cut short.")

    desk.settle = damaged
    desk.bring(on_card(), of=(made(1),))
    assert len(desk.camera.told("fetch")) == MOST_FETCHES
    assert desk.telling.said.count("It is cut short. It is copied again.") == MOST_FETCHES - 1
    problem = "It is cut short. The frame is still on the card as /dcim/A_0001.NEF."
    assert desk.outcomes[-1].problem == desk.telling.said[-1] == problem
    assert (desk.run.files.left_on_card, desk.run.files.good(1)) == (True, False)


def test_one_that_comes_whole_at_the_second_try_is_read_anew(desk: Desk) -> None:
    tries: list[TetherError | None] = [CameraError("It is cut short."), None]

    def settle(*_: object, **__: object) -> Arrived:
        error = tries.pop(0)
        if error:
            raise error
        return Arrived(size=9, sha256="ab")

    desk.settle = settle
    desk.bring(on_card(), of=(made(1),))
    assert desk.run.files.good(1)
    assert not desk.run.files.left_on_card


def test_one_that_cannot_be_fetched_is_told_of_and_the_next_one_comes(desk: Desk) -> None:
    def fetch(file: CardFile, _into: Path) -> None:
        if file.name == "A_0001.NEF":
            raise CameraError("It is refused.")

    desk.camera.does["fetch"] = fetch
    desk.bring(on_card("A_0001.NEF"), on_card("A_0002.NEF"), of=(made(1), made(2)))
    assert [(one.card_name, one.name is None) for one in desk.outcomes][:1] == [("A_0001.NEF", True)]
    assert desk.run.files.left_on_card
    assert [one.card_name for one in desk.outcomes if one.name] == ["A_0002.NEF"]


def test_a_frame_whose_file_could_not_be_fetched_is_waited_for_no_longer(desk: Desk) -> None:
    def fetch(file: CardFile, _into: Path) -> None:
        if file.name == "A_0001.NEF":
            raise CameraError("It is refused.")

    desk.camera.does["fetch"] = fetch
    desk.bring(on_card("A_0001.NEF"), of=(made(1),))
    desk.camera.does["new_files"] = lambda *_: (on_card("A_0002.NEF"),)
    desk.run.files.owe(made(2))
    desk.fetcher.collect(2)
    asked = [expected for expected, *_ in desk.camera.told("new_files")]
    assert asked == [1], "only the second one is waited for"
    assert [one.frame for one in desk.run.files.waited_for] == [2]


def test_what_lies_beside_a_frame_and_is_refused_makes_no_other_frame_one_that_is_on_the_card_only(desk: Desk) -> None:
    def fetch(file: CardFile, _into: Path) -> None:
        if file.name == "A_0001.JPG":
            raise CameraError("It is refused.")

    desk.camera.does["fetch"] = fetch
    desk.bring(on_card("A_0001.NEF", "A_0001.JPG"), of=(made(1), made(2)))
    assert desk.run.files.left_on_card
    assert [one.frame for one in desk.run.files.waited_for] == [2]


def test_a_disk_without_room_ends_the_fetching(desk: Desk) -> None:
    def full(*_: object, **__: object) -> Arrived:
        raise SupplyError("The disk is full.")

    desk.settle = full
    with pytest.raises(SupplyError):
        desk.bring(on_card(), of=(made(1),))
    assert desk.run.files.left_on_card


def test_fetching_stops_between_files_where_it_is_not_to_go_on(desk: Desk) -> None:
    desk.fetcher.queue([on_card("A_0001.NEF"), on_card("A_0002.NEF")])
    desk.fetcher.drain(lambda: len(desk.camera.told("fetch")) < 1)
    assert [one.name for one in desk.run.files.queued] == ["A_0002.NEF"]


# What is to come


def test_a_file_is_queued_once(desk: Desk) -> None:
    assert desk.fetcher.queue([on_card("A_0001.NEF", "A_0001.JPG")]) == 1
    jpeg = CardFile(folder="/dcim", name="A_0001.JPG", number=1, size=None)
    assert desk.fetcher.queue([on_card("A_0001.NEF"), jpeg, on_card("A_0002.NEF")]) == 1
    assert [one.name for one in desk.run.files.queued] == ["A_0001.NEF", "A_0002.NEF"]


@pytest.mark.parametrize(("owed", "said"), [((1,), "a frame has not come yet"), ((1, 2), "2 frames have not come yet")])
def test_what_is_owed_and_does_not_come_is_said_and_still_awaited(owed: tuple[int, ...], said: str, desk: Desk) -> None:
    for frame in owed:
        desk.run.files.owe(made(frame))
    desk.fetcher.collect(1)
    assert desk.telling.said == [f"{said}; the run continues and looks again."]
    assert [one.frame for one in desk.run.files.awaited] == list(owed)


def test_a_frame_that_our_own_commands_spoilt_is_waited_for_no_longer(desk: Desk) -> None:
    desk.run.files.owe(made(1, open_s=30.0, commands_s=5.0))
    desk.run.files.owe(made(2))
    desk.fetcher.collect(1)
    assert [one.frame for one in desk.run.files.awaited] == [2]
    assert [one.frame for one in desk.run.files.to_come] == [1, 2]


def test_a_file_that_was_seen_before_does_not_count_as_come(desk: Desk) -> None:
    desk.run.files.known.update(on_card("A_0000.NEF").places)
    cards = [(on_card("A_0000.NEF"), on_card("A_0001.NEF")), (on_card("A_0002.NEF"),)]
    desk.camera.does["new_files"] = lambda *_: cards.pop(0)
    desk.run.files.owe(made(1))
    desk.run.files.owe(made(2))
    desk.fetcher.collect(1)
    assert [one.name for one in desk.run.files.queued] == ["A_0001.NEF", "A_0002.NEF"]
    assert [expected for expected, _ in desk.camera.told("new_files")] == [2, 1]
    assert desk.telling.said == []


def test_where_nothing_is_owed_the_card_is_not_looked_at(desk: Desk) -> None:
    desk.fetcher.collect(1)
    desk.fetcher.look_again()
    assert desk.camera.calls == []


def test_how_long_is_waited_holds_the_bodys_own_dark_frame(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A minute to write it, and as long again where the body makes a dark frame."""
    for dark_frames, allow_s in (("offer", 60.0), ("by the body", 90.0)):
        desk = Desk(monkeypatch, tmp_path, text=TEXT + f'[run]\ndark_frames = "{dark_frames}"\n')
        desk.run.files.owe(made(1, open_s=30.0))
        desk.fetcher.collect(1)
        assert desk.camera.told("new_files")[-1] == (1, allow_s)


# How its time is written


@pytest.mark.parametrize(("fractions", "rounded_s"), [(False, 1.0), (True, 0.0)])
def test_a_body_that_wrote_a_fraction_once_does_not_round(fractions: bool, rounded_s: float, desk: Desk) -> None:
    desk.fetcher.know([], writes_fractions=fractions)
    desk.says["0001"] = exif(time_s=31.0)
    desk.bring(on_card(), of=(made(1, open_s=30.4, commands_s=30.4),))
    (read,) = desk.telling.of(ExifRead)
    assert (read.rounded_s, read.differs) == (rounded_s, [])


def test_a_fraction_in_the_exif_of_a_held_frame_is_remembered(desk: Desk) -> None:
    desk.says["0001"] = exif(time_s=30.4)
    desk.says["0002"] = exif(time_s=31.0)
    desk.bring(on_card("A_0001.NEF"), of=(made(1, open_s=30.4, commands_s=30.4),))
    desk.bring(on_card("A_0002.NEF"), of=(made(2, open_s=30.4, commands_s=30.4),))
    assert [one.rounded_s for one in desk.telling.of(ExifRead)] == [0.0, 0.0]


# Readings


def test_readings_are_waited_for_no_longer_than_a_minute(desk: Desk) -> None:
    desk.owes = True
    desk.fetcher.await_readings()
    assert desk.run.now_s == pytest.approx(60.0, abs=0.2)


def test_a_stop_ends_the_waiting_for_readings(desk: Desk) -> None:
    desk.owes = True
    say_at(desk.run, 5.0, "stop after this frame")
    desk.fetcher.await_readings()
    assert desk.run.now_s == pytest.approx(5.0, abs=0.2)


def test_what_frames_say_is_written_down_each_under_its_own(desk: Desk) -> None:
    desk.fetcher.keep_readings([(4, FrameAnswer(problem="It is cut short.")), (5, FrameAnswer())])
    assert [(one.frame, one.problem) for one in desk.telling.of(FrameRead)] == [(4, "It is cut short."), (5, None)]
