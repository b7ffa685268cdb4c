"""Outings that were: which of their forms is shown, and what is refused in words."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.command.written import written
from tests.plan.plans import HEAD
from tether.command import outings
from tether.command.outings import average_frames, draw_sheet, export_log, show_log, show_outings
from tether.errors import PlanError
from tether.report import sheet, strip_picture
from tether.report.strip import Part


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    return written(tmp_path / "outing")


def test_a_log_is_a_table_its_audit_or_json_alone(outing: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shown = {}
    for form, chosen in (("table", (False, False)), ("audit", (False, True)), ("json", (True, True))):
        show_log(outing, *chosen)
        shown[form] = capsys.readouterr().out
    assert json.loads(shown["json"])["ladders"]
    assert len(set(shown.values())) == 3


def test_an_export_says_what_it_can_write_where_nothing_is_asked_for(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="say what to write: --csv FILE, --log FILE, --xmp"):
        export_log(tmp_path / "nowhere", None, None, xmp=False)


@pytest.mark.parametrize(("csv", "as_json"), [(True, False), (False, True), (True, True)])
def test_only_what_is_asked_for_is_written(outing: Path, tmp_path: Path, csv: bool, as_json: bool) -> None:
    export_log(outing, tmp_path / "a.csv" if csv else None, tmp_path / "a.json" if as_json else None, xmp=False)
    assert ((tmp_path / "a.csv").exists(), (tmp_path / "a.json").exists()) == (csv, as_json)


def test_an_average_is_a_raw_file_of_a_ladder_that_is_there(outing: Path, tmp_path: Path) -> None:
    with pytest.raises(PlanError, match=r"an average is written as \.dng; give it that ending"):
        average_frames(outing, 2, None, tmp_path / "mean.jpg", as_json=False)
    with pytest.raises(PlanError, match="there is no such ladder in this outing"):
        average_frames(outing, 2, 7, tmp_path / "mean.dng", as_json=False)


def test_a_sheet_needs_a_ladder(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="this outing has no ladder yet"):
        draw_sheet(written(tmp_path / "outing", []), None, None, tmp_path / "sheet.jpg")


@pytest.mark.parametrize(
    ("number", "rungs", "drawn"), [(None, None, (1, None)), (7, "1,4,9", (7, [1, 4, 9])), (None, " 2 ", (1, [2]))]
)
def test_a_sheet_is_of_the_last_ladder_and_of_all_rungs_unless_told(
    outing: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    number: int | None,
    rungs: str | None,
    drawn: tuple[int, list[int] | None],
) -> None:
    made: list[object] = []

    def make(_outing: Path, ladder: int, _path: Path, *, rungs: list[int] | None, part: Part | None) -> None:
        assert part is None
        made.append((ladder, rungs))

    monkeypatch.setattr(sheet, "make_sheet", make)
    draw_sheet(outing, number, rungs, tmp_path / "sheet.jpg")
    assert made == [drawn]


@pytest.mark.parametrize(
    ("path", "strip", "drawn"),
    [
        (None, None, [("sheet", "sheet.jpg", None)]),
        (None, "strip.png", [("strip", "strip.png", None)]),
        ("s.html", "strip.png", [("strip", "strip.png", None), ("sheet", "s.html", None)]),
    ],
)
def test_a_strip_is_made_instead_of_the_sheet_or_besides(
    outing: Path,
    monkeypatch: pytest.MonkeyPatch,
    path: str | None,
    strip: str | None,
    drawn: list[tuple[str, str, Part | None]],
) -> None:
    made: list[tuple[str, str, Part | None]] = []
    for module, name in ((sheet, "sheet"), (strip_picture, "strip")):

        def make(_outing: Path, _ladder: int, to: Path, *, rungs: None, part: Part | None, name: str = name) -> None:
            made.append((name, str(to), part))

        monkeypatch.setattr(module, f"make_{name}", make)
    draw_sheet(outing, None, None, Path(path) if path else None, Path(strip) if strip else None)
    assert made == drawn


def test_which_part_the_strip_shows_is_read_before_anything_is_made(outing: Path, tmp_path: Path) -> None:
    with pytest.raises(PlanError, match=r"“sky”: write water, rock, or a place such as 0\.4,0\.6"):
        draw_sheet(outing, None, None, None, tmp_path / "strip.png", "sky")


@pytest.mark.parametrize("text", ["1;2", "one", "1,,2", ""])
def test_rungs_that_are_no_numbers_are_told_how_to_be_written(text: str) -> None:
    with pytest.raises(PlanError, match=f'--rungs "{text}": write the numbers of rungs with commas between'):
        outings._numbers(text)


@pytest.fixture
def _own_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)


@pytest.mark.usefixtures("_own_memory")
def test_outings_are_those_here_and_those_that_are_remembered(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    show_outings((), as_json=False, place=None, forget=False)
    assert "No outing is known yet" in capsys.readouterr().out
    written(tmp_path / "outings" / "weir")
    show_outings((), as_json=True, place=None, forget=False)
    assert [one["title"] for one in json.loads(capsys.readouterr().out)["outings"]] == ["Weir below the mill"]
    show_outings((tmp_path / "outings",), as_json=False, place=None, forget=False)
    (tmp_path / "outings").rename(tmp_path / "put away")
    capsys.readouterr()
    show_outings((), as_json=True, place=None, forget=False)
    said = capsys.readouterr()
    assert [one["title"] for one in json.loads(said.out)["gone"]] == ["Weir below the mill"]
    assert f"{tmp_path / 'outings' / 'weir'} is gone" in said.err


@pytest.mark.usefixtures("_own_memory")
def test_outings_are_forgotten_one_or_all_and_stay_where_they_are(
    outing: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for folders, said in (((outing,), "1 outing is forgotten."), ((), "All outings are forgotten.")):
        show_outings((outing,), as_json=False, place=None, forget=False)
        show_outings(folders, as_json=False, place=None, forget=True)
        assert said in capsys.readouterr().err
        show_outings((), as_json=True, place=None, forget=False)
        assert json.loads(capsys.readouterr().out)["outings"] == []
    assert (outing / "journal.sqlite").exists()


@pytest.mark.usefixtures("_own_memory")
def test_a_place_is_named_by_its_name_by_degrees_or_by_a_plan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare, named = tmp_path / "bare.toml", tmp_path / "named.toml"
    for path, more in ((bare, ""), (named, '[place]\nname = "Moor"\n')):
        path.write_text(f'{HEAD}{more}[base]\ntime = "1/60"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["1"]\n')
    for text, called in (("Moor", "Moor"), ("64.1,-21.9", "64.1° N, 21.9° W"), (str(named), "Moor")):
        show_outings((), as_json=False, place=text, forget=False)
        assert f"No outing is known at {called}." in capsys.readouterr().out
    show_outings((), as_json=True, place="Moor", forget=False)
    assert json.loads(capsys.readouterr().out)["place"]["name"] == "Moor"
    with pytest.raises(PlanError, match="this plan does not say where it is"):
        show_outings((), as_json=False, place=str(bare), forget=False)
