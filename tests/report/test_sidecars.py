"""What sidecars say of frames, and what is said of sidecars."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import exiv2  # type: ignore[import-untyped]
import pytest

from tests.journal.outings import as_entries, weir, write_outing
from tether.errors import SupplyError
from tether.files.safe import sha256_of
from tether.files.sidecar import Fields, Ordered, Unordered, Words
from tether.journal.readings import FrameReadings, LevelsSaid, RockSaid, StreakSaid
from tether.journal.records import Applied, FrameRead, LadderStarted, Record, Turn
from tether.journal.story import OpenTime, Outing
from tether.journal.telling import read_outing, tell
from tether.report.audit import Split
from tether.report.choices import Choice, choose, read_choices
from tether.report.sidecar_fields import sidecar_fields
from tether.report.sidecars import write_sidecars

NO_CHOICE = Choice()
READ = FrameReadings(
    headroom_stops=0.8,
    clipped_share=0.0,
    water=LevelsSaid(headroom_stops=0.6, clipped_share=0.001),
    rock=RockSaid(brighter_stops={"R": -0.25, "G": -0.375, "B": -0.5}, uncertainty_stops=0.01, lifted_share=0.0),
    streak=StreakSaid(length_px=42.0),
)
DARKER = Split(frame=8, rung=5, kind="rung", level_stops=-0.5, wanted_stops=0.0, rounding_stops=0.0, changed_stops=0.0,
               hold_stops=0.0, light_stops=-0.35, rest_stops=-0.15, uncertainty_stops=0.05,
               rest_uncertainty_stops=0.06)  # fmt: skip


def told(records: list[Record]) -> Outing:
    return tell(as_entries(records), name="weir", running=False)


def fields_of(frame: int, *, split: Split | None = None, choice: Choice = NO_CHOICE, records: list[Record]) -> Fields:
    outing = told(records)
    ladder = outing.ladders[0]
    return sidecar_fields(outing, ladder, next(one for one in ladder.frames if one.frame == frame), split, choice)


def read(path: Path) -> dict[str, str]:
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    return {one.key(): one.toString() for one in image.xmpData()}


@pytest.mark.parametrize(
    ("choice", "rating"), [(Choice(verdict="keep"), "5"), (Choice(verdict="maybe"), "3"), (Choice(verdict="no"), "-1")]
)
def test_a_choice_is_a_rating(choice: Choice, rating: str) -> None:
    """ISO 16684-1: -1 is rejected, 1 to 5 are stars."""
    assert fields_of(8, choice=choice, records=weir())["Xmp.xmp.Rating"] == rating


def test_of_a_frame_whose_task_was_taken_back_no_filter_is_told() -> None:
    """Nobody knows what was on the lens: not the filters asked for, nor what light or colour would follow from them."""
    back = Turn(ladder=1, rung=5, what="fit it", reason="", state="taken back", fitted=[], void_from=8)
    records = [*weir(), FrameRead(frame=8, readings=READ), back]
    found = fields_of(8, split=DARKER, records=records)
    (description,) = (one for one in (found["Xmp.dc.description"],) if isinstance(one, Words))
    assert "What was on the lens is not known: the task before it was taken back." in description.text
    assert "Calder" not in str(found)
    assert "light" not in description.text
    assert not {"Filters", "FilterStops", "ColourCast", "Light", "LightStops"} & {key.split(".")[2] for key in found}


def test_a_frame_that_nobody_chose_has_no_rating() -> None:
    assert "Xmp.xmp.Rating" not in fields_of(8, choice=Choice(note="the thread"), records=weir())


def test_a_held_frame_says_how_it_was_really_made() -> None:
    """Its commands went out 101.0004 s apart; the opening took 1.2 ms, the closing 1.1 ms (tests.journal.outings)."""
    fields = fields_of(8, split=DARKER, choice=Choice(verdict="keep", note="the  thread\nthere"), records=weir())
    assert fields["Xmp.dc.description"] == Words(
        "Weir below the mill, rung 5. Open 101.00 s at f/11, ISO 100. Filter: Calder 10 (10 stops)."
        " The light was 0.35 stop darker than at the base (±0.10). Simulated: no camera took it. Note: the thread there"
    )
    assert fields["Xmp.dc.subject"] == Unordered(("Weir below the mill", "rung 5", "Calder 10", "simulated"))
    assert fields["Xmp.exif.ExposureTime"] == "252501/2500"
    assert fields["Xmp.exif.FNumber"] == "11/1"
    assert fields["Xmp.exif.ISOSpeedRatings"] == Ordered(("100",))
    assert fields["Xmp.exif.DateTimeOriginal"] == "2026-10-03T16:35:20+00:00"
    assert fields["Xmp.tiff.Model"] == "Simulated body"
    own = {key.removeprefix("Xmp.tether."): value for key, value in fields.items() if key.startswith("Xmp.tether.")}
    assert (own["OpenTime"], own["OpenTimeShortest"], own["OpenTimeLongest"]) == ("101.0004", "100.9992", "101.0015")
    assert (own["OpenedAt"], own["ClosedAt"]) == ("2026-10-03T16:35:20+00:00", "2026-10-03T16:37:01.000400+00:00")
    assert (own["Outing"], own["Ladder"], own["Rung"], own["Frame"], own["Kind"]) == ("weir", "1", "5", "8", "rung")
    assert (own["PlannedTime"], own["Outcome"], own["Simulated"]) == ("124.3", "closed early", "True")
    assert (own["Filters"], own["FilterStops"]) == (Ordered(("Calder 10",)), "10")
    assert (own["LightStops"], own["LightUncertainty"]) == ("-0.35", "0.05")
    assert (own["Choice"], own["Note"]) == ("keep", "the  thread\nthere")


def test_the_readings_are_in_our_own_fields() -> None:
    fields = fields_of(8, records=[*weir(), FrameRead(frame=8, readings=READ)])
    assert (fields["Xmp.tether.Headroom"], fields["Xmp.tether.WaterHeadroom"]) == ("0.8", "0.6")
    assert (fields["Xmp.tether.ClippedShare"], fields["Xmp.tether.WaterClippedShare"]) == ("0", "0.001")
    assert fields["Xmp.tether.StreakLength"] == "42"
    assert fields["Xmp.tether.ColourCast"] == Ordered(("0.125", "0.000", "-0.125"))


def test_without_glass_there_is_no_cast_of_a_stack() -> None:
    assert "Xmp.tether.ColourCast" not in fields_of(3, records=[*weir(), FrameRead(frame=3, readings=READ)])


def test_what_is_not_known_is_left_out() -> None:
    fields = fields_of(9, records=weir(end=False))
    assert not {"Xmp.exif.ExposureTime", "Xmp.exif.DateTimeOriginal", "Xmp.tether.OpenTime"} & set(fields)
    assert not [key for key, value in fields.items() if value in (None, "", "–", "nan")]


@pytest.mark.parametrize(
    ("frame", "place"),
    [(1, "base frame"), (7, "test exposure before rung 5"), (2, "rung 1")],
)
def test_each_kind_of_frame_says_what_it_is(frame: int, place: str) -> None:
    keywords = fields_of(frame, records=weir())["Xmp.dc.subject"]
    assert isinstance(keywords, Unordered)
    assert place in keywords.items


def test_short_times_are_written_as_marks() -> None:
    assert fields_of(2, records=weir())["Xmp.exif.ExposureTime"] == "1/1024"
    assert fields_of(2, records=weir())["Xmp.exif.FNumber"] == "8/1"


def test_no_two_bodies_are_named_as_one() -> None:
    outing = told(weir())
    run = outing.runs[0]
    two = replace(outing, runs=(run, replace(run, camera=replace(run.camera, model="Other"))))
    ladder = two.ladders[0]
    assert "Xmp.tiff.Model" not in sidecar_fields(two, ladder, ladder.frames[0], None, NO_CHOICE)


@pytest.fixture
def outing(tmp_path: Path) -> Path:
    """The evening at the weir on disk, with a title that XML has other uses for, and something for raw files."""
    title = 'Grüne <Weir> & "Söhne"\x1b'
    records = [replace(one, title=title) if isinstance(one, LadderStarted) else one for one in weir()]
    folder = tmp_path / "weir"
    write_outing(folder, records)
    for frame in read_outing(folder).ladders[0].frames:
        for file in frame.files:
            (folder / file.name).parent.mkdir(exist_ok=True)
            (folder / file.name).write_bytes(file.name.encode())
    return folder


def test_every_raw_file_gets_a_sidecar_and_stays_as_it_is(outing: Path) -> None:
    raws = {path: sha256_of(path) for path in (outing / "frames").iterdir()}
    choose(outing, 8, Choice(verdict="keep"))
    written = write_sidecars(outing, read_outing(outing), read_choices(outing))
    assert (written.states, written.stayed, written.problems) == ({"new": 9}, (), ())
    assert written.summary == "9 sidecars are beside the raw files: 9 new."
    assert {path: sha256_of(path) for path in raws} == raws
    assert {path.with_suffix(".xmp") for path in raws} == set((outing / "frames").glob("*.xmp"))
    values = read(outing / "frames/weir_l1_r05_0008_SIM_0008.xmp")
    assert values["Xmp.xmp.Rating"] == "5"
    assert values["Xmp.dc.subject"] == 'Grüne <Weir> & "Söhne"␛, rung 5, Calder 10, simulated'


def test_a_choice_that_changed_changes_one_sidecar(outing: Path) -> None:
    choose(outing, 8, Choice(verdict="keep"))
    write_sidecars(outing, read_outing(outing), read_choices(outing))
    choose(outing, 8, Choice())
    written = write_sidecars(outing, read_outing(outing), read_choices(outing))
    assert written.states == {"changed": 1, "same": 8}
    assert written.summary == "9 sidecars are beside the raw files: 1 changed, 8 as before."
    assert "Xmp.xmp.Rating" not in read(outing / "frames/weir_l1_r05_0008_SIM_0008.xmp")


def test_what_was_rated_elsewhere_and_what_went_wrong_is_told(outing: Path) -> None:
    write_sidecars(outing, read_outing(outing), {})
    rated = outing / "frames/weir_l1_r05_0008_SIM_0008.xmp"
    theirs = 'exif:ExposureTime="101/1" xmp:Rating="2" xmlns:xmp="http://ns.adobe.com/xap/1.0/"'
    rated.write_text(rated.read_text().replace('exif:ExposureTime="252501/2500"', theirs))
    (outing / "frames/weir_l1_r01_0002_SIM_0002.xmp").write_text("no XML")
    (outing / "frames/weir_l1_r03_0005_SIM_0005.dng").unlink()
    written = write_sidecars(outing, read_outing(outing), {8: Choice(verdict="keep")})
    assert written.stayed == ("The rating given elsewhere stays in weir_l1_r05_0008_SIM_0008.xmp.",)
    assert read(rated)["Xmp.xmp.Rating"] == "2"
    damaged, missing = written.problems
    assert "weir_l1_r01_0002_SIM_0002.xmp is left as it is: it is not XML in UTF-8." in damaged
    assert missing == f"Frame 5 has no sidecar: {outing / 'frames/weir_l1_r03_0005_SIM_0005.dng'} is not there."
    assert sum(written.states.values()) == 7


def test_a_disk_that_takes_nothing_is_said_once(outing: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise SupplyError("The disk is full.")

    monkeypatch.setattr("tether.report.sidecars.write_sidecar", full)
    written = write_sidecars(outing, read_outing(outing), {})
    assert written.problems == ("The disk is full.",)
    assert written.summary == "0 sidecars are beside the raw files."


@pytest.mark.parametrize("wrong", [float("nan"), 1e300, 0.0])
def test_numbers_that_can_not_be_are_left_out(wrong: float) -> None:
    ladder = told(weir()).ladders[0]
    frame = ladder.frames[7]
    odd = replace(
        frame, exif=Applied(time_s=wrong, aperture=wrong, iso=wrong), open_s=OpenTime(light=wrong), filter_stops=wrong
    )
    fields = sidecar_fields(told(weir()), ladder, odd, None, NO_CHOICE)
    assert not {"Xmp.exif.ExposureTime", "Xmp.exif.FNumber", "Xmp.exif.ISOSpeedRatings"} & set(fields)
