"""The three values on bodies whose lists are not what is written: bulb under another name, and no list at all."""

from __future__ import annotations

import pytest

from tests.body.driver.fakes import FakeSession, listed
from tether.body.bodyfile import load_body_file
from tether.body.driver.dials import OneDial
from tether.body.driver.errors import BUSY, LibraryError
from tether.body.driver.session import ConfigEntry
from tether.body.protocol import BULB
from tether.errors import CameraError


def time_dial(file_name: str, entry: ConfigEntry) -> tuple[FakeSession, OneDial]:
    """Return the time of a body with this one entry, by a shipped body file."""
    file = load_body_file(file_name)
    assert file.driver is not None
    session = FakeSession(entries={"shutterspeed": entry})
    return session, OneDial(session, "time", file.driver.time, file.abilities(2.8, 22.0).times)


def test_bulb_is_written_as_the_body_understands_it_not_as_its_list_has_it() -> None:
    session, dial = time_dial("panasonic-lumix", listed("1", "2147483.6", "2", "1"))
    dial.write(BULB)
    assert session.written == [("shutterspeed", "bulb")]
    assert dial.read() == (BULB, None)


def test_bulb_is_not_written_where_it_is_not_offered() -> None:
    session, dial = time_dial("panasonic-lumix", listed("1", "2", "1"))
    with pytest.raises(CameraError, match="bulb"):
        dial.write(BULB)
    assert session.written == []


def test_a_list_that_turned_to_bulb_throughout_is_remembered_as_it_was() -> None:
    session, dial = time_dial("panasonic-lumix", listed("1", "2", "1", "1/1.3"))
    assert dial.labels() == ("0.8", "1", "2")
    session.entries["shutterspeed"] = listed("bulb", "bulb", "bulb", "bulb")
    assert dial.labels() == ("0.8", "1", "2")


def test_where_the_library_has_no_list_that_of_the_body_file_is_believed() -> None:
    session, dial = time_dial("pentax", ConfigEntry(value="10/1", choices=(), writable=True))
    assert dial.read()[0] == "10"
    assert {"1/4000", "0.3", "1.3", "30"} <= set(dial.labels())
    dial.write("30")
    assert session.written == [("shutterspeed", "30/1")]


class BusySession(FakeSession):
    """A body that is busy for its first so many readings."""

    busy: int = 1

    def read(self, name: str) -> ConfigEntry:
        if self.busy:
            self.busy -= 1
            raise LibraryError(BUSY, f"tell its {name}", "")
        return super().read(name)


def test_an_entry_that_could_not_be_read_for_a_moment_is_not_taken_for_missing() -> None:
    file = load_body_file("canon-eos")
    assert file.driver is not None
    session = BusySession(entries={"shutterspeed": listed("1/500", "bulb", "1/500")})
    dial = OneDial(session, "time", file.driver.time, file.abilities(2.8, 22.0).times)
    with pytest.raises(LibraryError):
        dial.read()
    assert dial.read()[0] == "1/500"


def test_a_time_that_can_not_be_read_is_not_bulb() -> None:
    _, dial = time_dial("canon-eos", listed("auto", "auto"))
    assert dial.read() == ("auto", None)
