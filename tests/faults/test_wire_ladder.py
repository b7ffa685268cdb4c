"""A ladder of ten rungs, three of them held, through the driver on a camera on the wire: clean, and in drawn troubles.

`python -m tests.faults.wire_table` puts it through every trouble and prints what came of each.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.faults.troubles import TROUBLES
from tests.faults.wire import HELD, work
from tests.faults.wire_table import main
from tether.body.dialects import MODELS, Dialect
from tether.journal.records import Noted
from tether.journal.store import read_contents

#: A different handful can be drawn with another seed.
SEED = 20261125
QUICK = sorted(name for name in TROUBLES if not name.startswith(("none", "battery", "delivers")))


@pytest.mark.prove
@pytest.mark.parametrize("dialect", ["eos", "nikon"])
def test_what_was_in_force_at_every_opening_is_what_was_asked(tmp_path: Path, dialect: Dialect) -> None:
    came = work(tmp_path, dialect)
    assert (came.outcome, came.problems(), came.settings_off()) == ("done", [], [])
    assert [one.frame for one in came.seen] == list(range(1, 11))
    assert set(came.held_off_s()) == HELD
    assert [frame.outcome for frame in came.ladder.frames] == ["made"] * 10
    notes = [one.record.text for one in read_contents(came.folder).entries if isinstance(one.record, Noted)]
    (session,) = [note for note in notes if note.startswith("Session with ")]
    assert f"{MODELS[dialect]}, serial WIRE" in session
    assert "firmware 1.0 at ptpip:127.0.0.1:" in session


@pytest.mark.prove
@pytest.mark.timeout(300)
def test_in_trouble_it_ends_complete_or_with_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    drawn = random.Random(SEED).sample(QUICK, 2)
    assert main(drawn) == 0, capsys.readouterr().out
