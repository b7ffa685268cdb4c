"""What the records that cross between body and program work out for themselves."""

from __future__ import annotations

import pytest

from tether.body.protocol import CardFile, ShutterRecord, Status


@pytest.mark.parametrize(
    ("battery", "low", "wanted"),
    [
        (0.049, None, "the battery is at 5%"),
        (0.03, False, "the battery is at 3%"),
        (0.05, None, None),
        (0.5, True, "the camera says that its battery is low"),
        (None, True, "the camera says that its battery is low"),
        (None, None, None),
    ],
)
def test_another_battery_is_wanted_by_its_charge_or_by_the_bodys_own_word(
    battery: float | None, low: bool | None, wanted: str | None
) -> None:
    status = Status(battery=battery, card_frames_left=None, temperature_c=None, busy=False, battery_low=low)
    assert status.battery_wanted == wanted


def test_a_hold_is_what_lies_between_the_commands_less_what_the_close_was_called_later() -> None:
    record = ShutterRecord(
        frame=1,
        way="held",
        asked_s=4.0,
        open_called_ns=10**9,
        open_returned_ns=2 * 10**9,
        close_called_ns=5_250_000_000,
        close_returned_ns=6 * 10**9,
        closed_by="planned",
        realtime=True,
        later_ns=250_000_000,
    )
    assert record.held_s == 4.0


def test_a_frame_lies_wherever_its_files_do() -> None:
    jpeg = CardFile(folder="/second", name="A.JPG", number=1, size=None)
    raw = CardFile(folder="/first", name="A.CR3", number=1, size=None, beside=(jpeg,))
    assert raw.places == (("/first", "A.CR3"), ("/second", "A.JPG"))
