"""Choosing a body: the choice crosses to another process whole."""

from __future__ import annotations

import json
from pathlib import Path

from tests.body.choices import choice
from tether.body.simulated.faults import Fault
from tether.body.simulated.world import TrueFilter
from tether.body.wire import pack, unpack


def test_a_choice_crosses_whole(tmp_path: Path) -> None:
    chosen = choice(
        tmp_path,
        filters={"Calder 10": TrueFilter(stops=10.4)},
        true_times_s={"30": 32.0},
        faults=(Fault(what="vanishes", at_frame=3, for_s=20),),
    )
    assert unpack(json.loads(json.dumps(pack(chosen)))) == chosen
