"""The chosen frames go on: verified, resumed, nothing else overwritten, and what is missing said."""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest

from tests.journal.outings import weir, write_outing
from tether.errors import PlanError, SupplyError
from tether.files.sidecar import merge
from tether.journal.records import FetchOutcome
from tether.journal.telling import read_outing
from tether.outing.picks import Picked, copy_picks
from tether.report.choices import Choice, Verdict, choose, read_choices
from tether.report.sidecars import write_sidecars

KEPT, PERHAPS, REFUSED = 8, 6, 5
NAMES = {8: "weir_l1_r05_0008_SIM_0008", 6: "weir_l1_r04_0006_SIM_0006", 5: "weir_l1_r03_0005_SIM_0005"}


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    """The evening at the weir, each frame a file of its own whose digest is in the journal; three are chosen."""
    records = [
        replace(one, sha256=sha256(str(one.name).encode()).hexdigest()) if isinstance(one, FetchOutcome) else one
        for one in weir()
    ]
    folder = tmp_path / "weir"
    write_outing(folder, records)
    (folder / "frames").mkdir()
    for frame in read_outing(folder).ladders[0].frames:
        for file in frame.files:
            (folder / file.name).write_bytes(file.name.encode())
    choices: dict[int, Verdict] = {KEPT: "keep", PERHAPS: "maybe", REFUSED: "no"}
    for number, verdict in choices.items():
        choose(folder, number, Choice(verdict=verdict))
    return folder


def pick(outing: Path, to: Path, *verdicts: Verdict) -> Picked:
    return copy_picks(outing, read_outing(outing), read_choices(outing), to, frozenset(verdicts or ("keep",)))


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_what_was_chosen_to_keep_is_copied_with_its_sidecar(outing: Path, tmp_path: Path) -> None:
    before = contents(outing / "frames")
    picked = pick(outing, tmp_path / "a" / "picks")
    assert (picked.copied, picked.there, picked.notes, picked.problems) == ((KEPT,), (), (), ())
    assert picked.summary == (
        f"1 chosen frame is in {tmp_path}/a/picks, each with its sidecar: 1 copied or brought up to date."
    )
    found = contents(tmp_path / "a" / "picks")
    assert set(found) == {f"{NAMES[KEPT]}.dng", f"{NAMES[KEPT]}.xmp"}
    assert found[f"{NAMES[KEPT]}.dng"] == before[f"{NAMES[KEPT]}.dng"]
    assert b'xmp:Rating="5"' in found[f"{NAMES[KEPT]}.xmp"]
    assert contents(outing / "frames") == before, "nothing is written into the outing"


def test_those_chosen_as_maybe_go_on_where_that_is_asked(outing: Path, tmp_path: Path) -> None:
    assert pick(outing, tmp_path / "picks", "keep", "maybe").copied == (PERHAPS, KEPT)
    assert b'xmp:Rating="3"' in (tmp_path / "picks" / f"{NAMES[PERHAPS]}.xmp").read_bytes()


def test_it_is_resumed_and_then_says_that_all_is_there(outing: Path, tmp_path: Path) -> None:
    to = tmp_path / "picks"
    to.mkdir()
    (to / f".{NAMES[KEPT]}.dng.part").write_bytes(b"half of")
    pick(outing, to)
    once = contents(to)
    again = pick(outing, to)
    assert (again.copied, again.there, again.problems) == ((), (KEPT,), ())
    assert contents(to) == once
    assert set(once) == {f"{NAMES[KEPT]}.dng", f"{NAMES[KEPT]}.xmp"}


def test_another_file_of_that_name_is_never_overwritten(outing: Path, tmp_path: Path) -> None:
    to = tmp_path / "picks"
    to.mkdir()
    (to / f"{NAMES[KEPT]}.dng").write_bytes(b"another")
    picked = pick(outing, to)
    assert picked.frames == 0
    assert picked.problems == (
        f"{to / NAMES[KEPT]}.dng is another file, and is left as it is. Move it away, then copy again.",
    )
    assert contents(to) == {f"{NAMES[KEPT]}.dng": b"another"}


def test_what_was_developed_in_the_copy_stays_and_a_new_choice_is_told(outing: Path, tmp_path: Path) -> None:
    to = tmp_path / "picks"
    pick(outing, to)
    copy = to / f"{NAMES[KEPT]}.xmp"
    develops = b'<rdf:Description rdf:about="" xmlns:z="http://example.org/z/" z:exposure="+0.35"/>\n</rdf:RDF>'
    copy.write_bytes(copy.read_bytes().replace(b"</rdf:RDF>", develops))
    choose(outing, KEPT, Choice(verdict="maybe"))
    assert pick(outing, to, "maybe").copied == (PERHAPS, KEPT)
    assert b'z:exposure="+0.35"' in copy.read_bytes()
    assert b'xmp:Rating="3"' in copy.read_bytes()


def test_the_copy_begins_with_what_another_program_wrote_in_the_outing(outing: Path, tmp_path: Path) -> None:
    at_home = outing / "frames" / f"{NAMES[KEPT]}.xmp"
    at_home.write_bytes(merge(None, {"Xmp.dc.source": "mine"}).data.replace(b"Xmp.dc.source ", b"-"))
    before = at_home.read_bytes()
    assert pick(outing, tmp_path / "picks").problems == ()
    assert b"mine" in (tmp_path / "picks" / at_home.name).read_bytes()
    assert at_home.read_bytes() == before


def test_sidecars_that_went_apart_are_told(outing: Path, tmp_path: Path) -> None:
    write_sidecars(outing, read_outing(outing), read_choices(outing))
    assert pick(outing, tmp_path / "picks").notes == ()
    assert pick(outing, tmp_path / "picks").notes == ()
    at_home = outing / "frames" / f"{NAMES[KEPT]}.xmp"
    at_home.write_bytes(at_home.read_bytes().replace(b"</rdf:RDF>", b"<!-- -->\n</rdf:RDF>"))
    (note,) = pick(outing, tmp_path / "picks").notes
    assert "what stands in the copy stays" in note


def test_what_is_missing_is_said_and_the_rest_is_copied(outing: Path, tmp_path: Path) -> None:
    for number in (1, 2, 99):
        choose(outing, number, Choice(verdict="keep"))
    (outing / "frames/weir_l1_r01_0002_SIM_0002.dng").unlink()
    (outing / "frames/weir_l1_0001_SIM_0001.dng").write_bytes(b"no longer")
    picked = pick(outing, tmp_path / "picks")
    unknown, changed, missing = picked.problems
    assert unknown == "Frame 99 was chosen, and is not in the journal."
    assert "weir_l1_0001_SIM_0001.dng is no longer what came from the camera" in changed
    assert missing.startswith("Frame 2 was chosen, and ")
    assert picked.copied == (KEPT,)
    assert {path.stem for path in (tmp_path / "picks").iterdir()} == {NAMES[KEPT]}


def test_a_frame_that_was_never_copied_from_the_card_is_said(outing: Path, tmp_path: Path) -> None:
    told = read_outing(outing)
    ladder = told.ladders[0]
    frames = tuple(replace(frame, files=()) if frame.frame == KEPT else frame for frame in ladder.frames)
    told = replace(told, ladders=(replace(ladder, frames=frames),))
    picked = copy_picks(outing, told, read_choices(outing), tmp_path / "picks", frozenset({"keep"}))
    (problem,) = picked.problems
    assert problem.startswith("Frame 8 was chosen, and no file of it is in the outing.")
    assert problem.endswith(f"tether finish {outing} --fetch")
    assert picked.summary == f"None of the chosen frames is in {tmp_path / 'picks'} as it should be."


def test_a_full_disk_ends_it_with_one_sentence(outing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> bool:
        raise SupplyError("The disk is full.")

    monkeypatch.setattr("tether.outing.picks.copy_frame", full)
    assert pick(outing, tmp_path / "picks", "keep", "maybe").problems == ("The disk is full.",)


def test_nothing_chosen_is_said(outing: Path, tmp_path: Path) -> None:
    (outing / "choices.toml").unlink()
    picked = pick(outing, tmp_path / "picks")
    assert "No frame was chosen, so nothing is copied." in picked.summary
    assert not (tmp_path / "picks").exists()


@pytest.mark.parametrize("place", ["weir", "weir/frames", "plain"])
def test_copies_go_into_a_folder_beside_the_outing(outing: Path, tmp_path: Path, place: str) -> None:
    (tmp_path / "plain").write_text("no folder")
    with pytest.raises(PlanError, match="choose another"):
        pick(outing, tmp_path / place)
