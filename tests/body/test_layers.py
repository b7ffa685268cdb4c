"""Body files in layers: what is laid over what, where each value is from, and circles and names that are told."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.body.test_bodyfile import driver_of
from tether.body.bodyfile import checked, load_body_file
from tether.body.layers import Layered, known_names, profile_folders, read_layers
from tether.errors import PlanError


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's own folder of body files, empty."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    folder = tmp_path / "tether" / "bodies"
    folder.mkdir(parents=True)
    return folder


def mistake(name: str) -> str:
    """Return the sentence about a body file that can't be read with all that it is laid over."""
    with pytest.raises(PlanError) as caught:
        read_layers(name)
    (sentence,) = caught.value.sentences
    return sentence


# What is laid over what


def test_a_file_of_the_user_s_own_is_laid_over_key_by_key(own: Path) -> None:
    shipped = load_body_file("canon-eos-r5")
    (own / "canon-eos-r5.toml").write_text("[sensor]\npitch_um = 4.4\n[body]\nfetch_s = 1.5\n")
    layered = read_layers("canon-eos-r5")
    file = checked(layered)
    assert (file.sensor.pitch_um, file.sensor.width_mm) == (4.4, shipped.sensor.width_mm)
    assert file.body.fetch_s == 1.5
    assert file.body.frame_bytes == shipped.body.frame_bytes
    assert file.driver == shipped.driver
    assert [path.parent.parent.name for path in layered.paths] == ["profiles", "profiles", "tether"]
    assert layered.origin["sensor.pitch_um"] == own / "canon-eos-r5.toml"
    assert layered.origin["sensor.width_mm"].parent.parent.name == "profiles"
    assert layered.origin["driver.time.entries"].name == "canon-eos.toml"


def test_a_family_of_the_user_s_own_reaches_the_bodies_that_are_like_it(own: Path) -> None:
    (own / "canon-eos.toml").write_text("[driver.events]\nevery_s = 5.0\n")
    assert driver_of(load_body_file("canon-eos-r5")).events.every_s == 5.0
    assert driver_of(load_body_file("canon-eos-5d-mark-ii")).events.every_s == 5.0


def test_lists_take_the_place_of_lists(own: Path) -> None:
    (own / "mine.toml").write_text('like = "canon-eos"\nby_hand = ["Only this."]\n')
    assert load_body_file("mine").by_hand == ("Only this.",)
    old, family = (driver_of(load_body_file(name)).release for name in ("canon-eos-old", "canon-eos"))
    assert old[0].name == "bulb start and end"
    assert {one.name for one in old} == {one.name for one in family}


def test_a_path_to_a_file_can_be_given(tmp_path: Path) -> None:
    path = tmp_path / "elsewhere.toml"
    path.write_text('name = "Mine"\nlike = "nikon-z7"\n')
    assert load_body_file(str(path)).name == "Mine"
    assert load_body_file(str(path)).sensor == load_body_file("nikon-z7").sensor


def test_tables_are_merged_and_any_other_value_takes_the_place_of_the_one_below(own: Path) -> None:
    (own / "below.toml").write_text('name = "Below"\n[a]\none = 1\ntwo = [1, 2]\n[a.deep]\nx = 1\n[b]\nz = 1\n')
    (own / "above.toml").write_text('like = "below"\nb = 7\n[a]\ntwo = [3]\n[a.deep]\ny = 2\n[c]\nnew = 1\n')
    layered = read_layers("above")
    deep = {"x": 1, "y": 2}
    assert layered.data == {"name": "Below", "a": {"one": 1, "two": [3], "deep": deep}, "b": 7, "c": {"new": 1}}
    assert layered.paths == (own / "below.toml", own / "above.toml")
    from_above = {key for key, path in layered.origin.items() if path.stem == "above"}
    assert from_above == {"like", "a.two", "a.deep.y", "b", "c.new"}


def test_a_key_is_from_the_file_that_gave_it_or_would_have_had_to(own: Path) -> None:
    layered = Layered(
        name="above",
        data={},
        origin={"a.two": own / "below.toml", "b": own / "middle.toml"},
        paths=(own / "below.toml", own / "middle.toml", own / "above.toml"),
    )
    assert layered.file_of(("a", "two")).stem == "below"
    assert layered.file_of(("b", 0, "z")).stem == "middle"  # within a list that the file gave whole
    assert layered.file_of(("a", "three")).stem == "above"


def test_the_uppermost_file_says_what_it_is_like(own: Path) -> None:
    for name, like in (("one", "first"), ("two", "second")):
        (own / f"{like}.toml").write_text(f'name = "{like}"\n')
        (own / f"{name}.toml").write_text(f'like = "{like}"\n')
    assert read_layers("two").data == {"name": "second"}
    (own / "nikon-z7.toml").write_text('like = "first"\n')
    assert [path.stem for path in read_layers("nikon-z7").paths] == ["first", "nikon-z7", "nikon-z7"]


def test_the_users_own_names_are_known_with_those_that_are_shipped(own: Path) -> None:
    before = known_names()
    (own / "aaa.toml").touch()
    (own / "canon-eos.toml").touch()
    assert known_names() == ["aaa", *before]


def test_where_no_folder_of_settings_is_named_the_users_own_is_in_their_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", "")
    monkeypatch.setenv("HOME", "/home/me")
    assert profile_folders("bodies")[0] == Path("/home/me/.config/tether/bodies")


# What can't be laid over each other


def test_a_circle_is_told(own: Path) -> None:
    (own / "a.toml").write_text('like = "b"\n')
    (own / "b.toml").write_text('like = "a"\n')
    assert "circle" in mistake("a")


def test_a_file_like_itself_is_a_circle(own: Path) -> None:
    (own / "canon-eos.toml").write_text('like = "canon-eos"\n')
    assert "circle" in mistake("canon-eos")


def test_eight_layers_are_enough_and_a_ninth_is_a_mistake(own: Path) -> None:
    for number in range(9):
        like = f'like = "x{number - 1}"\n' if number else ""
        (own / f"x{number}.toml").write_text(like)
    assert len(read_layers("x7").paths) == 8
    assert "x8 is like x7 is like x6" in mistake("x8")


def test_a_file_that_is_no_text_is_told_by_its_path(own: Path) -> None:
    (own / "mine.toml").write_bytes(b"\xff\xfe\x00")
    assert mistake("mine").startswith(f"{own / 'mine.toml'}: this body file cannot be read")


def test_a_name_that_there_is_not_is_told_with_those_there_are(own: Path) -> None:
    said = mistake("canon-eos-r55")
    assert 'body.file = "canon-eos-r55"' in said
    assert "canon-eos-r5," in said
    (own / "mine.toml").write_text('like = "cannon"\n')
    assert 'mine: like = "cannon"' in mistake("mine")
