"""The hardware notes: every claim says how sure it is, every family has its page; and the keys of body files."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from tether.body.bodyfile import (
    Apertures,
    BodyFile,
    Hold,
    Isos,
    Other,
    SensorTable,
    ShutterOption,
    Times,
    load_body_file,
)
from tether.body.driver.profile import DialReading, Events, Frames, LiveSteps, Look, Profile, Release, TellEntries
from tether.body.layers import profile_folders, read_layers

NOTES = Path(__file__).parents[2] / "hardware-notes"
PAGES = sorted(path for path in NOTES.glob("*.md") if path.name != "README.md")
INDEX = (NOTES / "README.md").read_text(encoding="utf-8")
MARKS = ("source", "dump", "thread", "common practice", "from memory", "tried", "documentation")
SURE = re.compile(rf"\((?:{'|'.join(MARKS)})\b[^()]*\)$")


def claims(text: str) -> list[str]:
    """Return every point of a page's lists, each on one line."""
    return [" ".join(point.split()) for point in re.findall(r"^- (.*(?:\n  .*)*)", text, flags=re.MULTILINE)]


@pytest.mark.parametrize("path", [*PAGES, NOTES / "README.md"], ids=lambda path: path.stem)
def test_every_claim_says_how_sure_it_is(path: Path) -> None:
    found = claims(path.read_text(encoding="utf-8"))
    assert found
    assert [claim for claim in found if not SURE.search(claim)] == []


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.stem)
def test_every_page_is_in_the_index_and_says_that_nothing_was_tried(path: Path) -> None:
    assert f"({path.name})" in INDEX
    assert "ot tried on hardware" in path.read_text(encoding="utf-8") or "Nothing here was tried" in path.read_text()


def test_every_link_leads_somewhere() -> None:
    for path in (*PAGES, NOTES / "README.md"):
        for target in re.findall(r"\]\(([^)#]+)\)", path.read_text(encoding="utf-8")):
            assert (NOTES / target).exists(), f"{path.name}: {target}"


def test_every_family_of_bodies_has_a_page() -> None:
    names = [path.stem for path in profile_folders("bodies")[1].glob("*.toml")]
    real = [name for name in names if not load_body_file(name).simulated]
    families = {read_layers(name).paths[0].stem for name in real}
    assert families
    assert all(f"`{family}`" in INDEX for family in families)


def test_every_key_of_a_body_file_is_explained_for_contributors() -> None:
    text = (NOTES.parent / "docs" / "body-files.md").read_text(encoding="utf-8")
    sections = (BodyFile, Times, Apertures, Isos, Hold, SensorTable, Other, ShutterOption)
    keys = {key for section in sections for key in section.model_fields} - {"driver"}
    records = (Profile, DialReading, Release, Look, LiveSteps, TellEntries, Events, Frames)
    keys |= {one.name for record in records for one in fields(record)} - {"release", "look", "time", "aperture", "iso"}
    tables = {"times", "apertures", "isos", "hold", "sensor", "body", "shutter", "sources"}
    tables |= {"live", "tell", "events", "frames"}
    assert {key for key in keys - tables if f"`{key}`" not in text} == set()
    assert {table for table in tables if f"[{table}" not in text and f".{table}]" not in text} == set()
