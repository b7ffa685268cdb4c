"""A frame that was exposed: how long it gathered light, and whether our own commands were as they should be."""

from __future__ import annotations

import pytest

from tests.shot.frames import made


def test_a_timed_frame_gathered_what_was_wanted() -> None:
    assert made(1, open_s=0.5, commands_s=None).open_s == 0.5
    assert made(1, open_s=0.5, commands_s=None).as_commanded


def test_a_held_one_gathered_what_our_commands_tell() -> None:
    assert made(1, open_s=30.0, commands_s=30.001).open_s == 30.001


@pytest.mark.parametrize(("commands_s", "as_commanded"), [(30.001, True), (15.0, False), (34.0, False), (0.0, False)])
def test_a_hold_that_ended_at_another_time_was_not_as_commanded(commands_s: float, as_commanded: bool) -> None:
    assert made(1, open_s=30.0, commands_s=commands_s).as_commanded == as_commanded
