"""How far the file of each frame has come: owed, perhaps there, on the card, home, as asked."""

from __future__ import annotations

from pathlib import Path

from tests.shot.frames import made
from tether.body.protocol import CardFile
from tether.engine.frame_files import FrameFiles
from tether.shot.comparison import Difference

HOME = Path("frames/one.dng")
OTHER_ISO = Difference(which="ISO", value=200.0, clause="ISO is 200, not 100")


def on_card(name: str, *beside: str) -> CardFile:
    others = tuple(CardFile(folder="/dcim", name=one, number=None, size=None) for one in beside)
    return CardFile(folder="/dcim", name=name, number=None, size=None, beside=others)


def test_a_frame_that_was_made_is_awaited_until_its_file_is_home() -> None:
    files = FrameFiles()
    files.owe(made(2))
    files.owe(made(1))
    assert [one.frame for one in files.awaited] == [2, 1]  # as they were taken
    assert [one.frame for one in files.to_come] == [1, 2]  # by number
    assert files.incomplete
    files.came(made(2), HOME)
    files.came(made(1), HOME)
    assert (files.awaited, files.to_come, files.incomplete) == ([], [], False)


def test_a_frame_that_may_be_there_is_not_owed_but_its_file_is_still_its() -> None:
    files = FrameFiles()
    files.owe(made(1))
    files.expect_perhaps(files.awaited)
    assert files.awaited == []
    assert [one.frame for one in files.to_come] == [1]
    assert not files.incomplete


def test_a_frame_is_good_once_it_is_home_and_as_asked() -> None:
    files = FrameFiles()
    files.owe(made(1))
    assert not files.good(1)
    assert files.came(made(1), HOME).as_asked
    assert files.good(1)
    assert files.path(1) == HOME


def test_one_that_differs_is_home_and_not_good() -> None:
    files = FrameFiles()
    assert not files.came(made(1), HOME, [OTHER_ISO]).as_asked
    assert not files.good(1)
    assert files.differs(1) == (OTHER_ISO,)
    assert files.made(1) == files.came(made(1), HOME, [OTHER_ISO])


def test_of_a_frame_that_nobody_took_nothing_is_known() -> None:
    files = FrameFiles()
    assert (files.made(7), files.path(7), files.differs(7), files.good(7)) == (None, None, (), False)


def test_what_is_queued_or_left_on_the_card_is_not_home() -> None:
    files = FrameFiles()
    files.queued.append(on_card("A.NEF"))
    assert files.incomplete
    files.queued.clear()
    files.left_on_card = True
    assert files.incomplete


def test_a_file_is_known_by_its_place() -> None:
    files = FrameFiles()
    files.known.update(on_card("A.NEF", "A.JPG").places)
    assert files.is_known(on_card("A.NEF"))
    assert files.is_known(on_card("A.JPG"))
    assert not files.is_known(on_card("B.NEF"))
