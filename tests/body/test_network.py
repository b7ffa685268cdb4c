"""A camera on a network: its port as the library wants it, and what it is."""

from __future__ import annotations

import pytest

from tether.body.bodyfile import load_body_file
from tether.body.driver.session import network_models
from tether.body.network import full_port, model_at
from tether.errors import PlanError

NAMES = ("Canon EOS (WLAN)", "Nikon DSLR (WLAN)", "PTP/IP Camera")
PORT = "ptpip:192.168.1.5"


@pytest.mark.parametrize(
    ("port", "full"),
    [
        ("ptpip:192.168.1.5", "ptpip:192.168.1.5"),
        ("ptpip:192.168.1.5:15741", "ptpip:192.168.1.5:15741:15741"),
        ("ptpip:127.0.0.1:4000:4001", "ptpip:127.0.0.1:4000:4001"),
    ],
)
def test_a_port_that_is_not_the_usual_one_is_said_twice(port: str, full: str) -> None:
    assert full_port(port) == full


def test_what_it_is_comes_from_the_person_or_from_the_body_file() -> None:
    assert model_at(PORT, "nikon dslr (wlan)", known=NAMES) == "Nikon DSLR (WLAN)"
    assert model_at(PORT, "", load_body_file("canon-eos"), NAMES) == "Canon EOS (WLAN)"
    assert model_at("usb:001,004", "", load_body_file("canon-eos"), NAMES) == ""


def test_what_can_not_be_told_is_refused_with_the_names_there_are() -> None:
    for given, file in (("", None), ("", load_body_file("sony-alpha")), ("Zorki 4", load_body_file("canon-eos"))):
        with pytest.raises(PlanError, match=r'--model.*"Canon EOS \(WLAN\)", "Nikon DSLR \(WLAN\)", "PTP/IP Camera"'):
            model_at(PORT, given, file, NAMES)


def test_a_name_without_a_network_is_refused() -> None:
    with pytest.raises(PlanError, match="--port ptpip:"):
        model_at("", "Canon EOS (WLAN)", known=NAMES)


def test_the_library_knows_such_names() -> None:
    assert {"Canon EOS (WLAN)", "Nikon DSLR (WLAN)"} <= set(network_models())
