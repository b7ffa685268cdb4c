"""A release that is refused is explained by what the body says of itself: battery, card, buffer, how it stands."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.body.driver.fakes import failure, listed
from tests.body.driver.on_wire import on_wire
from tests.body.driver.test_body import HELD, PROFILE, TIMED, Bench
from tether.body.dialects import Dialect
from tether.body.driver.errors import BUSY, GENERIC
from tether.body.driver.profile import Look
from tether.body.driver.refusal import battery_of
from tether.body.driver.session import Store
from tether.body.open import open_body
from tether.body.protocol import BULB, Body, Settings
from tether.body.responder.start import WireHow
from tether.clock import AffineClock
from tether.errors import BusyError, CameraError, SupplyError, TetherError

LOOKING = replace(
    PROFILE,
    look={
        "focus": Look(entries=("af",), good=("MF",), remedy="Set the lens to MF."),
        "mode dial": Look(entries=("mode",), good=("M",), remedy="Turn the mode dial to M."),
        "review": Look(entries=("review",), good=("None",), remedy="Take it off.", otherwise="note"),
    },
)
FINE = Store(read_only=False, free_bytes=10**9)
TIMED_ON_WIRE = Settings(time="1/8", aperture="f/8", iso="200")
HELD_ON_WIRE = Settings(time=BULB, aperture="f/8", iso="200")
#: Everything that may be wrong at once, in the order in which it is looked at, and what is then said and raised.
WRONG = {
    "battery": ("its battery is low (it says Low). Change the battery.", SupplyError),
    "card": ("its card is full. Change or clear the card.", SupplyError),
    "buffer": ("it still has to write earlier frames", BusyError),
    "dial": ("its mode dial stands on Av. Turn the mode dial to M.", CameraError),
    "focus": ("its focus stands on AF. Set the lens to MF.", CameraError),
}


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    bench = Bench(tmp_path, monkeypatch, profile=LOOKING)
    bench.session.entries |= {
        "battery": listed("Low"),
        "left": listed("0"),
        "maximumshots": listed("0"),
        "mode": listed("Av"),
        "af": listed("AF"),
        "review": listed("2 s"),
    }
    bench.body.close_shutter()
    bench.body.apply(TIMED)
    bench.session.trigger_error = failure(GENERIC, "Full-Press failed (0x2002: PTP General Error)")
    return bench


def mend(bench: Bench, what: str) -> None:
    entry, text = {
        "battery": ("battery", "50%"),
        "card": ("left", "12"),
        "buffer": ("maximumshots", "9"),
        "dial": ("mode", "M"),
        "focus": ("af", "MF"),
    }[what]
    bench.session.entries[entry] = listed(text)


def refused(bench: Bench) -> TetherError:
    with pytest.raises(TetherError) as caught:
        bench.body.take()
    return caught.value


def test_what_is_looked_at_first_is_battery_then_card_then_buffer_then_how_it_stands(bench: Bench) -> None:
    for what, (sentence, kind) in WRONG.items():
        error = refused(bench)
        assert type(error) is kind, what
        assert sentence in str(error)
        assert str(error).startswith("The camera could not ")
        mend(bench, what)
    error = refused(bench)
    assert type(error) is CameraError
    assert "It says: Full-Press failed (PTP General Error)." in str(error)


@pytest.mark.parametrize(
    ("cards", "sentence"),
    [
        ([], "there is no card in it. Put in a card."),
        ([Store(read_only=True, free_bytes=10**9)], "its card is write protected."),
        ([Store(read_only=False, free_bytes=0)], "its card is full."),
        ([Store(read_only=False, free_bytes=None)], None),
        ([Store(read_only=True, free_bytes=0), FINE], None),
        (None, None),
    ],
)
def test_a_card_that_is_not_there_locked_or_full_is_told_apart(
    bench: Bench, cards: list[Store] | None, sentence: str | None
) -> None:
    mend(bench, "battery")
    mend(bench, "card")
    bench.session.cards = cards
    error = refused(bench)
    assert isinstance(error, SupplyError) is (sentence is not None)
    assert (sentence or "it still has to write") in str(error)


def test_an_opening_that_is_refused_is_explained_too(bench: Bench) -> None:
    bench.body.apply(HELD)
    bench.body.prepare()
    bench.session.fails[("bulb", 1)] = [failure(GENERIC, "0x2002")]
    with pytest.raises(SupplyError, match="its battery is low"):
        bench.body.open_shutter()


def test_a_body_that_says_it_is_busy_is_busy(bench: Bench) -> None:
    bench.session.trigger_error = failure(BUSY, "Full-Press failed (0x2019: PTP Device Busy)")
    assert type(refused(bench)) is BusyError


def test_entries_that_can_not_be_read_explain_nothing(bench: Bench) -> None:
    for name in ("battery", "left", "maximumshots", "mode", "af"):
        del bench.session.entries[name]
    assert "It says: Full-Press failed" in str(refused(bench))


@pytest.mark.parametrize("dialect", ["eos", "nikon"])
@pytest.mark.parametrize("settings", [TIMED_ON_WIRE, HELD_ON_WIRE], ids=["timed", "held"])
@pytest.mark.parametrize(
    ("how", "truth", "sentence"),
    [
        (WireHow(), {"card_frames": 0}, "its card is full."),
        (WireHow(card=False), {}, "there is no card in it."),
        (WireHow(card=False), {"battery": 0.03}, "its battery is low (it says "),
    ],
    ids=["full", "no card", "low and no card"],
)
def test_on_the_wire_a_release_that_is_refused_is_explained(
    tmp_path: Path, dialect: Dialect, settings: Settings, how: WireHow, truth: dict[str, float], sentence: str
) -> None:
    with on_wire(tmp_path, dialect, how=how, **truth) as wire:
        wire.choice.folder.mkdir()
        body = open_body(wire.choice, AffineClock())
        body.apply(settings)
        try:
            with pytest.raises(SupplyError) as caught:
                expose(body, settings)
        finally:
            body.leave()
    assert sentence in str(caught.value)
    assert "0x" not in str(caught.value)


def expose(body: Body, settings: Settings) -> None:
    if settings.time == BULB:
        body.prepare()
        body.open_shutter()
    else:
        body.take()


# Facts: libgphoto2 tells "NN%", and of old Canon bodies "Low", "25%" … or "Unknown value".
@pytest.mark.parametrize(
    ("text", "charge", "low"),
    [
        ("85%", 0.85, None),
        ("25%", 0.25, None),
        ("100 %", 1.0, None),
        ("Low", None, True),
        (" low ", None, True),
        ("Unknown value 0007", None, None),
        ("Unknown", None, None),
        ("101%", None, None),
        ("", None, None),
    ],
)
def test_a_battery_is_read_as_a_charge_or_as_a_word(text: str, charge: float | None, low: bool | None) -> None:
    assert battery_of(text, PROFILE) == (charge, low)


def test_the_status_has_the_word(bench: Bench) -> None:
    status = bench.body.status()
    assert (status.battery, status.battery_low) == (None, True)
    assert status.battery_wanted == "the camera says that its battery is low"
    bench.session.entries["battery"] = listed("Unknown")
    assert bench.body.status().battery_wanted is None
