"""Body files: the shipped ones are whole and say what they are from; mistakes are told."""

from __future__ import annotations

import dataclasses
import json
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import gphoto2 as gp
import pytest

from tether.body import connected
from tether.body.bodyfile import BodyFile, load_body_file
from tether.body.connected import fitting, is_of_one_body
from tether.body.driver.profile import Profile
from tether.body.driver.reading import matches
from tether.body.layers import known_names, profile_folders
from tether.body.wire import pack, unpack
from tether.errors import PlanError

SHIPPED = sorted(profile_folders("bodies")[1].glob("*.toml"))
FAMILIES = (
    "canon-eos",
    "nikon",
    "sony-alpha",
    "fujifilm-x",
    "olympus-om",
    "panasonic-lumix",
    "pentax",
    "ricoh-gr",
)
#: Tables that a family file must give itself, so that it can be used alone.
WHOLE = {"times", "apertures", "isos", "hold", "sensor", "body", "driver", "by_hand", "sources"}
#: Keys at the top that are no claims about a body.
NO_CLAIMS = {"name", "like", "simulated", "sources"}
#: What this machine's camera library calls the bodies that it knows.
LIBRARY = gp.CameraAbilitiesList()
LIBRARY.load()
MODELS = [LIBRARY.get_abilities(place).model for place in range(len(LIBRARY))]


#: Shipped files, each read only once; for tests without a file of the user's own.
shipped = cache(load_body_file)


@pytest.fixture
def once(monkeypatch: pytest.MonkeyPatch) -> None:
    """No shipped file is read more than once."""
    monkeypatch.setattr(connected, "load_body_file", shipped)


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's own folder of body files, empty."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    folder = tmp_path / "tether" / "bodies"
    folder.mkdir(parents=True)
    return folder


def raw(path: Path) -> dict[str, Any]:
    """Return a file's own tables, not merged."""
    return tomllib.loads(path.read_text(encoding="utf-8"))


def driver_of(file: BodyFile) -> Profile:
    """Return how a body file's body is spoken to."""
    assert file.driver is not None
    return file.driver


def mistakes(name: str) -> str:
    """Return all sentences about a body file that is wrong."""
    with pytest.raises(PlanError) as caught:
        load_body_file(name)
    return "\n".join(caught.value.args)


# What is shipped


def test_every_shipped_file_can_be_named() -> None:
    assert known_names() == sorted(path.stem for path in SHIPPED)
    assert set(FAMILIES) < set(known_names())


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
class TestShipped:
    """Every file that is shipped."""

    def test_it_is_valid_and_gives_abilities(self, path: Path) -> None:
        abilities = shipped(path.stem).abilities(2.8, 22.0)
        assert min(len(abilities.times), len(abilities.apertures), len(abilities.isos)) > 5
        assert abilities.isos[0].exact <= abilities.base_iso <= abilities.isos[-1].exact
        assert len({mark.label for mark in abilities.times}) == len(abilities.times)

    def test_every_table_that_it_gives_has_a_source_in_it(self, path: Path) -> None:
        data = raw(path)
        if "like" not in data and data.get("simulated"):
            return  # it defines a simulated body: nothing in it is a claim
        without = set(data) - NO_CLAIMS - set(data.get("sources", {}))
        assert without - ({"by_hand"} if not data.get("by_hand") else set()) == set()
        assert set(data.get("sources", {})) <= set(data)

    def test_nothing_is_tried_and_nothing_simulated_is_a_claim(self, path: Path) -> None:
        file = shipped(path.stem)
        assert file.tried is None
        assert file.simulated or (file.driver is not None and file.by_hand)
        assert file.simulated or "Not tried on hardware." in " ".join(
            path.read_text(encoding="utf-8").replace("# ", "").split()
        )

    def test_its_lines_are_read_at_a_terminal(self, path: Path) -> None:
        comments = [line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("#")]
        assert all(len(line) <= 120 for line in comments)

    def test_it_survives_the_way_to_the_camera_process(self, path: Path) -> None:
        file = shipped(path.stem)
        if file.driver is not None:
            assert unpack(json.loads(json.dumps(pack(file.driver)))) == file.driver


@pytest.mark.parametrize("name", FAMILIES)
def test_a_family_is_whole_by_itself(name: str) -> None:
    data = raw(next(path for path in SHIPPED if path.stem == name))
    assert set(data) >= WHOLE
    assert "like" not in data
    assert "assumption" in data["sources"]["sensor"]["what"]
    assert {"mode dial"} <= set(data["driver"]["look"])


def test_delays_of_real_bodies_are_not_known() -> None:
    for path in SHIPPED:
        file = shipped(path.stem)
        delays = (file.hold.open_delay_s, file.hold.close_delay_s, file.hold.delay_uncertainty_s)
        assert file.simulated or delays == (None, None, None)


def test_the_pictures_go_where_they_survive() -> None:
    for name, target in (("canon-eos", "Memory card"), ("nikon", "Memory card"), ("sony-alpha", "card+sdram")):
        look = driver_of(shipped(name)).look["card"]
        assert matches(target, look.good)
        assert look.set_to == (target,)
        assert look.otherwise == "stop"


@pytest.mark.parametrize("dialect", ["eos", "eos-old", "nikon", "plain"])
def test_the_camera_on_the_wire_can_what_the_simulated_body_behind_it_can(dialect: str) -> None:
    wire, behind = (shipped(name).abilities(2.8, 22.0) for name in (f"wire-{dialect}", "simulated"))
    assert dataclasses.replace(wire, name=behind.name, can_hold=behind.can_hold) == behind
    assert wire.can_hold is (dialect != "plain")


# Which file a body gets


@pytest.mark.usefixtures("once")
@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_body_gets_its_own_file_first_and_no_other_body_s(path: Path) -> None:
    file = shipped(path.stem)
    if file.simulated:
        models = file.driver.models if file.driver else ()
        assert not any(path.stem in fitting(model) for model in models)
        return
    for model in driver_of(file).models:
        if "*" not in model:
            assert model in MODELS, f"{model} is no name of the library"
            assert fitting(model)[0] == path.stem
            assert [name for name in fitting(model) if is_of_one_body(shipped(name), model)] == [path.stem]
    meant = [model for model in MODELS if matches(model, driver_of(file).models)]
    assert any(fitting(model)[0] == path.stem for model in meant)


@pytest.mark.usefixtures("once")
@pytest.mark.parametrize(
    ("model", "file"),
    [
        ("Canon EOS R5", "canon-eos-r5"),
        ("Canon EOS 600D", "canon-eos"),
        ("Canon EOS 40D (PTP mode)", "canon-eos-old"),
        ("Nikon DSC D3300", "nikon"),
        ("Nikon DSC D3200", "nikon-old"),
        ("Nikon DSC D4", "nikon-d4"),
        ("Nikon DSC D4s", "nikon"),
        ("Nikon DSC D40 (PTP mode)", "nikon-old"),
        ("Sony Alpha-A7 III (PC Control)", "sony-alpha"),
        ("Fuji Fujifilm X-T4", "fujifilm-x-t4"),
        ("Fuji Fujifilm GFX100 II", "fujifilm-gfx100-ii"),
        ("Pentax K1", "pentax"),
        ("Pentax K1 (PTP Mode)", "ricoh-gr"),
    ],
)
def test_models_find_their_file(model: str, file: str) -> None:
    assert model in MODELS
    assert fitting(model)[0] == file


@pytest.mark.usefixtures("once")
def test_a_body_in_the_wrong_usb_mode_finds_none() -> None:
    assert "Sony Alpha-A7 IV (MTP mode)" in MODELS
    assert fitting("Sony Alpha-A7 IV (MTP mode)") == ()


def test_who_can_be_held() -> None:
    held = {path.stem: shipped(path.stem).hold.can_hold for path in SHIPPED}
    for name in ("nikon-old", "nikon-d4", "sony-a7-iv", "sony-a7r-v", "sony-a6700", "panasonic-gx8", "pentax"):
        assert held[name] is False
    for name in ("canon-eos", "nikon", "fujifilm-x", "olympus-om", "sony-a7r-iii"):
        assert held[name] is True
    for name in ("sony-alpha", "panasonic-lumix"):
        assert held[name] is None


# Mistakes


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[sensor]\npitch_um = -1\n", "canon-eos-r5.toml: sensor.pitch_um = -1: must be more than 0.5."),
        ('[times]\nstep = "thirds"\n', 'canon-eos-r5.toml: times.step = "thirds"'),
        ('[times]\nlongest = "soon"\n', "canon-eos-r5.toml: times.longest"),
        ("[sensor]\npitch = 4\n", "canon-eos-r5.toml: sensor.pitch: is not a key that is known here."),
        ("[hold]\ncan_hold = 7\n", "canon-eos-r5.toml: hold.can_hold = 7: must be true or false."),
        ("[driver.time]\nignored = []\n", "canon-eos-r5.toml: driver.time.ignored"),
        ('[driver.look.focus]\notherwise = "shout"\n', "canon-eos-r5.toml: driver.look.focus.otherwise"),
        ('[sources]\nhold = { kind = "hearsay", what = "" }\n', "canon-eos-r5.toml: sources.hold.kind"),
        (
            "[[driver.release]]\nname = 'x'\n",
            "canon-eos-r5.toml: driver.release[1].needs: is missing; it must be given.",
        ),
        ("like = 3\n", "canon-eos-r5.toml: like = 3: must be the name of a body file, in quotes."),
        ("[sensor\n", "canon-eos-r5.toml: this is not TOML"),
    ],
)
def test_a_mistake_in_one_s_own_file_names_file_key_and_remedy(own: Path, text: str, said: str) -> None:
    (own / "canon-eos-r5.toml").write_text(text)
    assert said in mistakes("canon-eos-r5")


def test_what_is_missing_is_told(own: Path) -> None:
    (own / "mine.toml").write_text('name = "Mine"\n')
    said = mistakes("mine")
    for table in ("times", "apertures", "isos", "sensor"):
        assert f"mine.toml: {table}: is missing; it must be given." in said
