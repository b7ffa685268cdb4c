"""Outings that are known: by memory and by looking; what moved, what is gone, and what deleting the memory costs."""

from __future__ import annotations

import shutil
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from tests.command.written import written
from tests.journal.outings import START, run_started
from tests.journal.planned import a_ladder
from tests.outing.test_learning import real_run
from tether.errors import PlanError
from tether.journal.records import FetchIntent, FetchOutcome, LadderStarted, Noted
from tether.journal.store import JOURNAL_NAME, Journal
from tether.outing.known import Known, forgotten, known_outings, outings_in, remember_outing
from tether.outing.memory import cases, memory_path, remembered
from tether.report.choices import CHOICES_NAME, Choice, choose


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def begun_later(folder: Path) -> Path:
    """Write an outing that began an hour after the others, and return its folder."""
    with closing(Journal.create(folder)) as journal:
        journal.add(run_started(), utc=START + timedelta(hours=1), mono_ns=1)
    return folder


def folders(known: Known) -> list[str]:
    return [one.folder.name for one in known.outings]


def test_an_outing_that_was_remembered_is_known_with_what_was_kept(tmp_path: Path) -> None:
    weir = written(tmp_path / "weir")
    choose(weir, 3, Choice(verdict="keep"))
    remember_outing(weir)
    known = known_outings()
    assert [one.folder for one in known.outings] == [weir]
    assert [frame.frame for frame in known.outings[0].kept] == [3]
    assert (known.gone, known.sentences) == ((), ())


def test_outings_in_a_folder_are_told_and_remembered_only_when_that_is_wished(tmp_path: Path) -> None:
    written(tmp_path / "all" / "weir")
    assert folders(known_outings([tmp_path / "all"])) == ["weir"]
    assert remembered() == ()
    known_outings([tmp_path / "all"], and_remember=True)
    assert folders(known_outings()) == ["weir"]


def test_an_outing_is_looked_for_in_its_folder_or_two_above(tmp_path: Path) -> None:
    weir = written(tmp_path / "2026" / "autumn" / "weir")
    for folder in (weir, weir.parent, weir.parent.parent):
        assert outings_in(folder) == [weir]
    with pytest.raises(PlanError, match="no outing lies in this folder"):
        outings_in(tmp_path)


def test_one_that_was_moved_is_said_so_and_remembered_where_it_is(tmp_path: Path) -> None:
    weir = written(tmp_path / "weir")
    remember_outing(weir)
    there = weir.rename(tmp_path / "disk")
    known = known_outings([there])
    assert known.sentences == (f"{weir} was moved: it is {there} now.",)
    assert [one.folder for one in remembered()] == [there]
    assert known_outings().sentences == ()


def test_one_that_is_gone_is_said_so_with_what_to_do(tmp_path: Path) -> None:
    weir = written(tmp_path / "weir")
    remember_outing(weir)
    shutil.rmtree(weir)
    known = known_outings()
    assert known.outings == ()
    (sentence,) = known.sentences
    assert sentence == (
        f"{weir} is gone: Weir below the mill, 2026-10-03. If it was moved, show where: tether outings FOLDER."
        f" To forget it: tether outings --forget {weir}"
    )
    assert [one.sentence for one in known.gone] == [sentence]


def test_another_outing_in_its_place_is_not_taken_for_it(tmp_path: Path) -> None:
    weir = written(tmp_path / "weir")
    remember_outing(weir)
    weir.rename(tmp_path / "elsewhere")
    begun_later(weir)
    known = known_outings()
    assert known.outings == ()
    assert known.sentences[0].startswith(f"{weir} holds another outing now: Weir below the mill, 2026-10-03.")
    (weir / JOURNAL_NAME).unlink()
    assert known_outings().sentences[0].startswith(f"{weir} cannot be read as an outing: ")


def test_a_copy_is_the_same_outing_and_listed_once(tmp_path: Path) -> None:
    weir = written(tmp_path / "weir")
    remember_outing(weir)
    shutil.copytree(weir, tmp_path / "copies" / "weir")
    known = known_outings([tmp_path / "copies"], and_remember=True)
    assert [one.folder for one in known.outings] == [weir]
    assert [one.folder for one in remembered()] == [weir]


def test_deleting_the_memory_loses_nothing_but_memory(tmp_path: Path) -> None:
    weir = written(tmp_path / "all" / "weir")
    choose(weir, 3, Choice(verdict="keep", note="the thread"))
    before = known_outings([tmp_path / "all"], and_remember=True)
    files = {path: path.read_bytes() for path in weir.rglob("*") if path.is_file()}
    memory_path().unlink()
    assert known_outings().outings == ()
    assert known_outings([tmp_path / "all"], and_remember=True) == before
    assert {path: path.read_bytes() for path in weir.rglob("*") if path.is_file()} == files


def test_what_an_outing_tells_of_how_long_things_take_is_remembered_with_it_and_comes_back(tmp_path: Path) -> None:
    """A file was there 2 s after it was asked for: one case, by the run and, once forgotten, by showing the folder."""
    weir = tmp_path / "weir"
    plain = LadderStarted(ladder=1, title="Weir", plan_text="", planned=a_ladder(plan="Weir"))
    beside = Noted(about="note", text="something else")
    home = FetchOutcome(frame=1, card_name="A", name="frames/A", size=1, sha256=None)
    with closing(Journal.create(weir)) as journal:
        for at_s, record in enumerate([real_run(), plain, FetchIntent(frame=None, folder="", name="A"), beside, home]):
            journal.add(record, utc=START, mono_ns=at_s * 10**9)
    remember_outing(weir)
    told = cases()
    assert [(one.what, one.value) for one in told] == [("copying", 2.0)]
    memory_path().unlink()
    known_outings([weir])
    assert cases() == (), "listing a folder alone teaches nothing"
    known_outings([weir], and_remember=True)
    assert cases() == told


def test_a_folder_in_which_nothing_was_written_yet_is_no_outing_to_tell_of(tmp_path: Path) -> None:
    planned = written(tmp_path / "planned", [])
    remember_outing(planned)
    assert (known_outings([planned]).outings, remembered()) == ((), ())


def test_what_cannot_be_read_is_said_and_the_rest_told(tmp_path: Path) -> None:
    weir = written(tmp_path / "all" / "weir")
    (weir / CHOICES_NAME).write_text("no [ table")
    (tmp_path / "all" / "bad").mkdir()
    (tmp_path / "all" / "bad" / "journal.sqlite").write_text("not a journal " * 100)
    known = known_outings([tmp_path / "all"])
    assert folders(known) == ["weir"]
    assert [sentence.split(" is not ")[1][:20] for sentence in known.sentences] == [
        "a journal of this pr",
        "valid TOML: Unexpect",
    ]


def test_a_run_is_not_kept_from_its_end_by_a_memory_that_cannot_be_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "data").write_text("in the way")
    remember_outing(written(tmp_path / "weir"))
    assert "This outing is not remembered: " in capsys.readouterr().err


def test_outings_are_forgotten_by_their_folder_or_one_above(tmp_path: Path) -> None:
    remember_outing(written(tmp_path / "all" / "a"))
    remember_outing(begun_later(tmp_path / "all" / "b"))
    known = remembered()
    assert len(known) == 2
    assert forgotten(known, [tmp_path / "all" / "b"]) == {known[1].mark}
    assert forgotten(known, [tmp_path / "all"]) == {one.mark for one in known}
    with pytest.raises(PlanError, match="no outing is remembered there"):
        forgotten(known, [tmp_path / "other"])
