"""The user's own body files: what was measured goes in, all else stays, and what comes of it is a body file."""

from __future__ import annotations

from pathlib import Path

import pytest

from tether.body.bodyfile import load_body_file
from tether.body.layers import read_layers
from tether.body.ownfile import draft, measured, name_of, own_path, write_new
from tether.body.protocol import Offers
from tether.errors import PlanError

WHAT = "2026-11-25, libgphoto2 2.5.33"
OFFERS = Offers(times=("1/8000", "30"), apertures=("f/2.8",), isos=("100", "51200"), held_by=None, why_not_held=None)


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))


def test_it_is_laid_over_the_shipped_one_and_says_where_it_is_from() -> None:
    measured(own_path("simulated"), {"tried": WHAT, "body.fetch_s": 1.25, "hold.can_hold": True}, WHAT)
    file = load_body_file("simulated")
    assert (file.tried, file.body.fetch_s, file.hold.can_hold) == (WHAT, 1.25, True)
    assert file.body.frame_bytes == 2_000_000
    assert file.sources["body.fetch_s"].kind == "own measurement"
    assert read_layers("simulated").origin["body.fetch_s"] == own_path("simulated")


def test_what_the_user_wrote_stays_to_the_letter() -> None:
    path = own_path("simulated")
    path.parent.mkdir(parents=True)
    text = '# mine\nname = "My body" # keep\n\n[body]\noptical_finder = true  # and this\n'
    path.write_text(text)
    measured(path, {"body.fetch_s": 1.0}, "first")
    measured(path, {"body.fetch_s": 2.0}, WHAT)
    now = path.read_text()
    assert all(line in now for line in text.splitlines())
    assert now.count("fetch_s = ") == 1
    file = load_body_file("simulated")
    assert (file.name, file.body.fetch_s, file.sources["body.fetch_s"].what) == ("My body", 2.0, WHAT)


def test_a_file_that_is_no_toml_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "broken.toml"
    path.write_text("name = ")
    with pytest.raises(PlanError, match="nothing was put into it"):
        measured(path, {"tried": WHAT}, WHAT)
    assert path.read_text() == "name = "


def test_a_draft_is_a_body_file_with_what_was_read(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    odd = 'Body "A" \\ 2'
    write_new(path, draft(odd, "canon-eos", OFFERS, name="mine", day="2026-11-25", library="libgphoto2 2.5.33"))
    file = load_body_file(str(path))
    assert file.name == odd
    assert file.driver is not None
    assert file.driver.models == (odd,)
    assert (file.times.longest.label, file.isos.highest.label) == ("30", "51200")
    assert file.sources["times"].kind == "own measurement"
    assert "NOT TRIED ON HARDWARE" in path.read_text()
    with pytest.raises(PlanError, match="left as it is"):
        write_new(path, "")


@pytest.mark.parametrize(
    ("model", "name"), [("Canon EOS R5", "canon-eos-r5"), ("Körper №1 (WLAN)", "korper-no1-wlan"), ("…", "camera")]
)
def test_a_model_gives_a_file_its_name(model: str, name: str) -> None:
    assert name_of(model) == name
