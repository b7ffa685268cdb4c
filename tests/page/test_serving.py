"""Where the page may be reached: addresses that will do and those that are refused, its links, and who is let go."""

from __future__ import annotations

import ipaddress
import socket
from contextlib import closing

import pytest

from tests.page.rig import Page
from tether.errors import BusyError, PlanError
from tether.page.serving import Serving, address_of, open_place


def test_by_default_only_this_machine_reaches_it(page: Page) -> None:
    assert page.at[0] == "127.0.0.1"
    assert not page.place.on_network


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("0.0.0.0", "stands for every network"),  # noqa: S104 - to be refused
        ("::", "stands for every network"),
        ("::ffff:0.0.0.0", "stands for every network"),
        ("my-machine", "this is not an address"),
        ("192.168.1.20:80", "this is not an address"),
        ("", "this is not an address"),
        ("224.0.0.1", "can't open a page at such"),
        ("fe80::1%eth0", "can't open a page at such"),
    ],
)
def test_an_address_that_is_not_one_is_refused_in_a_sentence(text: str, sentence: str) -> None:
    with pytest.raises(PlanError, match=sentence):
        address_of(text)


def test_an_address_of_another_machine_is_refused_in_a_sentence() -> None:
    with pytest.raises(PlanError, match="not an address of this machine"):
        open_place(address_of("192.0.2.7"), 0)  # RFC 5737: nobody's


def test_a_port_that_is_taken_is_a_sentence(page: Page) -> None:
    with pytest.raises(BusyError, match="is taken"):
        open_place(None, page.place.port)


@pytest.mark.parametrize("text", ["192.168.1.20", "127.0.0.2", "::1", "fe80::1", "::ffff:192.168.1.20"])
def test_an_address_of_one_machine_will_do(text: str) -> None:
    assert address_of(text) == ipaddress.ip_address(text)


def opened(text: str | None) -> Serving:
    place = open_place(address_of(text) if text else None, 0)
    place.listening.close()
    return place


def test_for_this_machine_alone_it_has_two_names_and_by_an_address_one() -> None:
    with closing(open_place(None, 0).listening) as listening:
        port = listening.getsockname()[1]
    place = open_place(None, port)
    with closing(place.listening):
        assert place.hosts == (f"127.0.0.1:{port}", f"localhost:{port}")
        assert (place.port, place.link("secret")) == (port, f"http://127.0.0.1:{port}/#secret")
    named = open_place(address_of("127.0.0.2"), port)
    with closing(named.listening):
        assert named.hosts == (f"127.0.0.2:{port}",)


def test_loopback_is_no_network_however_it_is_written() -> None:
    assert not opened(None).on_network
    assert not opened("127.0.0.2").on_network
    assert not opened("127.0.0.2").is_public


@pytest.mark.skipif(not socket.has_ipv6, reason="this machine has no IPv6")
def test_a_long_address_stands_in_brackets() -> None:
    try:
        place = open_place(address_of("::1"), 0)
    except PlanError:
        pytest.skip("this machine has no IPv6 address")
    with closing(place.listening):
        assert place.hosts == (f"[::1]:{place.port}",)
        assert not place.on_network
