"""Who may come in: a link works once, and a browser is known by its secret alone."""

from __future__ import annotations

from tether.page.doors import Doors


def test_a_new_link_voids_the_one_of_its_kind_that_was_not_used() -> None:
    doors = Doors()
    first, watching = doors.new_link(may_steer=True), doors.new_link(may_steer=False)
    second = doors.new_link(may_steer=True)
    assert doors.enter(first) is None
    for token, may_steer in ((watching, False), (second, True)):
        session = doors.session(doors.enter(token))
        assert session is not None
        assert session.may_steer is may_steer


def test_a_link_works_once_and_another_token_not_at_all() -> None:
    doors = Doors()
    token = doors.new_link(may_steer=True)
    for wrong in ("", token[:-1], token + "x", "\udcff"):
        assert doors.enter(wrong) is None
    assert doors.enter(token) is not None
    assert doors.enter(token) is None


def test_a_browser_is_known_by_its_secret_and_by_nothing_else_that_it_has() -> None:
    doors = Doors()
    token = doors.new_link(may_steer=False)
    secret = doors.enter(token)
    session = doors.session(secret)
    assert secret is not None
    assert session is not None
    assert not session.may_steer
    for wrong in (None, "", token, session.token, secret[:-1]):
        assert doors.session(wrong) is None
    assert doors.session(secret) is session


def test_what_is_given_out_is_never_the_same_and_long_enough() -> None:
    doors = Doors()
    given = []
    for _ in range(50):
        secret = doors.enter(doors.new_link(may_steer=True))
        session = doors.session(secret)
        assert secret is not None
        assert session is not None
        given += [secret, session.token]
    assert len(set(given)) == 100
    # 192 bits, six to a letter.
    assert {len(one) for one in given} == {32}


def test_neither_links_nor_secrets_are_kept_themselves() -> None:
    doors = Doors()
    unused, token = doors.new_link(may_steer=False), doors.new_link(may_steer=True)
    secret = doors.enter(token)
    assert secret is not None
    kept = repr(vars(doors))
    assert unused not in kept
    assert secret not in kept
