"""Holding the shutter: the way is found by what is offered, and a close that fails is not left at that."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.body.driver.fakes import SWITCH, FakeSession, HeardSendings, failure, listed
from tether.body.bodyfile import load_body_file
from tether.body.driver.errors import BUSY, GENERIC, IO, LibraryError
from tether.body.driver.profile import ConfigWrite, Release
from tether.body.driver.release import HeldRelease, usable

TWO_STAGES = Release(
    name="two stages",
    needs=(ConfigWrite(entry="remote", value="Full"),),
    open=(ConfigWrite(entry="remote", value="Full"),),
    close=(ConfigWrite(entry="remote", value="Off"),),
    else_close=((ConfigWrite(entry="remote", value="Off 2"),), (ConfigWrite(entry="remote", value="Off 1"),)),
)
SWITCHED = Release(
    name="switch",
    needs=("bulb",),
    open=(ConfigWrite(entry="bulb", value=1),),
    close=(ConfigWrite(entry="bulb", value=0),),
)


def remote() -> FakeSession:
    return FakeSession(entries={"remote": listed("None", "None", "Full", "Off", "Off 1", "Off 2")})


def test_the_first_way_that_the_body_offers_is_used() -> None:
    both = FakeSession(entries={"remote": listed("None", "Full"), "bulb": SWITCH})
    assert usable(both, (TWO_STAGES, SWITCHED)) is TWO_STAGES
    assert usable(FakeSession(entries={"bulb": SWITCH}), (TWO_STAGES, SWITCHED)) is SWITCHED
    without_choice = FakeSession(entries={"remote": listed("None", "None")})
    assert usable(without_choice, (TWO_STAGES, SWITCHED)) is None


@pytest.mark.parametrize(
    ("choices", "opens", "closes"),
    [
        # libgphoto2 up to 2.5.33, and from 2.5.34 on: camlibs/ptp2/config.c, the remote-release table.
        (
            ("None", "Press Half", "Press Full", "Release Half", "Release Full", "Immediate"),
            "Press Full",
            "Release Full",
        ),
        (
            (
                "None",
                "Press Half AF",
                "Press Full AF",
                "Press Half MF",
                "Press Full MF",
                "Release Half",
                "Release Full",
                "Release",
            ),
            "Press Full MF",
            "Release",
        ),
    ],
)
def test_a_release_is_picked_by_what_is_offered_not_by_place(choices: tuple[str, ...], opens: str, closes: str) -> None:
    profile = load_body_file("canon-eos").driver
    assert profile is not None
    way = usable(FakeSession(entries={"eosremoterelease": listed("None", *choices)}), profile.release)
    assert way is not None
    assert [one.value for one in way.open] == [opens]
    assert [one.value for one in way.close] == [closes]


def test_open_and_close_are_one_command_each() -> None:
    session = remote()
    held = HeldRelease(session, TWO_STAGES, pytest.fail, HeardSendings())
    held.prepare()
    held.open()
    held.close()
    assert session.written == [("remote", "Full"), ("remote", "Off")]


def test_a_close_that_fails_is_tried_by_every_other_way_and_told() -> None:
    session = remote()
    session.fails = {("remote", "Off"): [failure(GENERIC, "no")], ("remote", "Off 2"): [failure(GENERIC)]}
    told: list[str] = []
    HeldRelease(session, TWO_STAGES, told.append, HeardSendings()).close()
    assert [value for _, value in session.written] == ["Off", "Off 2", "Off 1"]
    assert told == ["The close command failed (no); another release command was taken."]


def test_where_no_way_closes_the_first_error_is_raised() -> None:
    session = remote()
    session.fails = {("remote", value): [failure(GENERIC, value)] for value in ("Off", "Off 2", "Off 1")}
    with pytest.raises(LibraryError, match="Off"):
        HeldRelease(session, TWO_STAGES, pytest.fail, HeardSendings()).close()


def test_one_that_was_not_opened_here_and_refuses_is_told_by_every_way_before_it_is_taken_for_shut() -> None:
    session = remote()
    session.fails = {("remote", "Off"): [failure(GENERIC)]}
    HeldRelease(session, TWO_STAGES, pytest.fail, HeardSendings()).close(opened=False)
    assert [value for _, value in session.written] == ["Off", "Off 2"]


def test_one_that_was_not_opened_here_and_refuses_every_way_is_shut() -> None:
    session = remote()
    session.fails = {("remote", value): [failure(GENERIC)] for value in ("Off", "Off 2", "Off 1")}
    HeldRelease(session, TWO_STAGES, pytest.fail, HeardSendings()).close(opened=False)
    assert [value for _, value in session.written] == ["Off", "Off 2", "Off 1"]


def test_one_that_was_not_opened_here_and_is_busy_by_one_of_the_ways_is_not_taken_for_shut() -> None:
    session = remote()
    session.fails = {
        ("remote", "Off"): [failure(GENERIC)],
        ("remote", "Off 2"): [failure(BUSY)],
        ("remote", "Off 1"): [failure(GENERIC)],
    }
    with pytest.raises(LibraryError) as raised:
        HeldRelease(session, TWO_STAGES, pytest.fail, HeardSendings()).close(opened=False)
    assert raised.value.code == BUSY


def test_a_session_that_is_gone_is_not_tried_further() -> None:
    session = remote()
    session.fails = {("remote", "Off"): [failure(IO)]}
    with pytest.raises(LibraryError):
        HeldRelease(session, TWO_STAGES, pytest.fail, HeardSendings()).close()
    assert session.written == [("remote", "Off")]


def test_a_late_answer_to_the_opening_hardly_lengthens_the_hold() -> None:
    """An opening that took two seconds once lengthened a hold of 0.4 s by 0.3 s; 0.0375 s is 0.13 stop of it."""
    way = Release(
        name="remote", needs=(), open=(), close=(), else_close=(), error_may_mean_shut=False, pause_s=0.0,
        opens_at=0.15, closes_at=0.25,
    )  # fmt: skip
    held = HeldRelease(remote(), way, lambda _text: None, HeardSendings())
    assert held.close_later_ns(2_000_000_000) <= 37_500_000


def test_a_command_late_in_its_call_is_counted_from_its_end() -> None:
    """Calls of 2 ms, and one of 8 ms in which all that came before the command was slow."""
    way = Release(
        name="bulb", needs=(), open=(), close=(), else_close=(), error_may_mean_shut=False, pause_s=0.0,
        opens_at=0.55, closes_at=0.0,
    )  # fmt: skip
    held = HeldRelease(remote(), way, lambda _text: None, HeardSendings())
    assert [held.close_later_ns(2_000_000) for _ in range(3)][-1] == 1_100_000
    assert held.close_later_ns(8_000_000) == 7_100_000


def test_one_slow_call_does_not_move_the_close() -> None:
    """Calls of 1.8 ms, and one of 7 ms in which the command went out as early as in the others."""
    way = Release(
        name="remote", needs=(), open=(), close=(), else_close=(), error_may_mean_shut=False, pause_s=0.0,
        opens_at=0.15, closes_at=0.25,
    )  # fmt: skip
    held = HeldRelease(remote(), way, lambda _text: None, HeardSendings())
    usual = [held.close_later_ns(1_800_000) for _ in range(3)][-1]
    assert held.close_later_ns(7_000_000) == usual == round(0.15 * 1_800_000 - 0.25 * 1_800_000)


def test_where_the_library_tells_when_it_sent_them_that_is_what_is_timed() -> None:
    """An opening that went out 3 ms into its call of 7, after a close that went out 0.4 ms into its own."""
    way = replace(TWO_STAGES, opens_with=(0x9207,), closes_with=(0x920C,), opens_at=0.1, closes_at=0.9)
    sendings = HeardSendings({0x920C: 10_400_000})
    held = HeldRelease(remote(), way, pytest.fail, sendings, lambda: 10_000_000)
    held.prepare()
    held.close()
    held.open()
    sendings.heard = {0x9207: 13_000_000}
    assert held.close_later_ns(7_000_000) == 2_600_000


def test_it_is_listened_from_the_preparation_to_the_close_alone() -> None:
    sendings = HeardSendings()
    held = HeldRelease(remote(), TWO_STAGES, pytest.fail, sendings)
    held.prepare()
    assert sendings.listening
    held.open()
    assert sendings.listening
    held.close()
    assert not sendings.listening
