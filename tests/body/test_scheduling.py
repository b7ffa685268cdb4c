"""What is asked of the operating system is given back, and said truly."""

from __future__ import annotations

import contextlib
import gc
import os
import subprocess
import sys

import pytest

from tether.body.scheduling import undisturbed


@pytest.mark.parametrize("collecting", [True, False])
def test_garbage_collection_rests_while_open_and_is_then_as_before(collecting: bool) -> None:
    was = gc.isenabled()
    try:
        (gc.enable if collecting else gc.disable)()
        with contextlib.suppress(ZeroDivisionError), undisturbed(realtime=False) as granted:
            assert not gc.isenabled()
            assert granted is False
            raise ZeroDivisionError
        assert gc.isenabled() is collecting
    finally:
        (gc.enable if was else gc.disable)()


def test_real_time_scheduling_is_said_to_be_in_force_exactly_when_it_is() -> None:
    before = os.sched_getscheduler(0)
    with undisturbed(realtime=True) as granted:
        assert (os.sched_getscheduler(0) == os.SCHED_FIFO) is granted
    assert os.sched_getscheduler(0) == before


def test_short_turns_can_be_asked_for_on_every_machine_and_change_nothing_else() -> None:
    code = (
        "import os; from pathlib import Path; from tether.body.scheduling import ask_for_short_turns;"
        "os.nice(3); ask_for_short_turns();"
        "print(Path('/proc/self/timerslack_ns').read_text().strip(), os.sched_getscheduler(0), os.nice(0))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.split() == ["1", str(os.SCHED_OTHER), "3"]
