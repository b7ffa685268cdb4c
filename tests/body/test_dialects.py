"""What a simulated camera on the wire may speak: each has its body file, and a name by which the library knows it."""

from __future__ import annotations

from typing import get_args

from tether.body.connection import wire_name
from tether.body.dialects import MODELS, Dialect
from tether.body.driver.session import network_models
from tether.body.layers import known_names


def test_each_has_a_name_that_the_library_reaches_over_a_network() -> None:
    assert set(MODELS) == set(get_args(Dialect))
    assert set(MODELS.values()) <= set(network_models())


def test_each_has_a_body_file_and_there_is_no_other() -> None:
    wires = {name for name in known_names() if name.startswith("wire-")}
    assert wires == {wire_name(dialect) for dialect in get_args(Dialect)}
