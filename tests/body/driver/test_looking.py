"""Looking at a body before a run: what will do, what stops, what is set by itself."""

from __future__ import annotations

import pytest

from tests.body.driver.fakes import FakeSession, listed
from tether.body.driver.looking import clock_finding, findings, set_up
from tether.body.driver.profile import DialReading, Look, Profile
from tether.body.driver.session import ConfigEntry

_NONE = DialReading(entries=())
PROFILE = Profile(
    models=("*",),
    time=_NONE,
    aperture=_NONE,
    iso=_NONE,
    look={
        "mode dial": Look(entries=("mode",), good=("Manual", "M"), remedy="Turn it to M."),
        "card": Look(entries=("target",), good=("Memory card",), remedy="x", set_to=("Memory card",)),
        "drive": Look(entries=("drive",), good=("Single*",), remedy="Set it to single.", otherwise="note"),
    },
)


def test_what_will_do_is_ok_and_what_will_not_says_what_to_do() -> None:
    session = FakeSession(entries={"mode": listed("AV"), "target": listed("Memory card"), "drive": listed("Burst")})
    verdicts = {found.what: (found.verdict, found.sentence) for found in findings(session, PROFILE)}
    assert verdicts["mode dial"] == ("stop", "It says AV. Turn it to M.")
    assert verdicts["card"][0] == "ok"
    assert verdicts["drive"][0] == "note"


def test_what_it_does_not_tell_is_left_to_the_person() -> None:
    verdicts = {found.what: found for found in findings(FakeSession(), PROFILE)}
    assert verdicts["mode dial"].verdict == "note"
    assert "Turn it to M." in verdicts["mode dial"].sentence


def test_what_can_be_set_is_set_once_and_what_was_found_is_returned() -> None:
    session = FakeSession(entries={"target": listed("Internal RAM", "Internal RAM", "Memory card")})
    assert set_up(session, PROFILE) == {"target": "Internal RAM"}
    assert set_up(session, PROFILE) == {}
    read_only = FakeSession(entries={"target": listed("Internal RAM", "Internal RAM", "Memory card", writable=False)})
    assert set_up(read_only, PROFILE) == {}
    assert read_only.written == []


@pytest.mark.parametrize(
    ("off_s", "verdict", "words"),
    [
        (0.5, "ok", "right"),
        (7200.0, "ok", "time zone"),
        (-19_800.0, "ok", "time zone"),
        (3.0, "note", "3 s ahead"),
        (-90.0, "note", "90 s behind"),
        (3600.0 - 300, "note", "5 min behind"),
        (86_400.0 * 30, "note", "30 days ahead"),
    ],
)
def test_the_bodys_clock_is_compared_but_for_time_zones(off_s: float, verdict: str, words: str) -> None:
    session = FakeSession(entries={"datetime": ConfigEntry(value=1e9 + off_s, choices=(), writable=True)})
    found = clock_finding(session, PROFILE, 1e9)
    assert found.verdict == verdict
    assert words in found.sentence
