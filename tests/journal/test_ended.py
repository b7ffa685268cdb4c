"""How a ladder, its rungs and its run ended: the last word counts, and only of this job."""

from __future__ import annotations

from tests.journal.outings import as_entries
from tests.journal.shown import ladder_ended, rung_ended
from tether.journal.ended import ladder_end, run_end, rungs_ended
from tether.journal.records import RunFailed

FAILED = RunFailed(ladder=1, text="The camera is gone.", trouble="lost")


def test_the_last_end_of_a_ladder_counts() -> None:
    told = as_entries([ladder_ended("stopped after a frame"), ladder_ended("done")])
    assert ladder_end(told, 1) == ladder_ended("done")
    assert ladder_end(told, 2) is None


def test_an_end_from_before_the_job_was_given_does_not_count() -> None:
    told = as_entries([ladder_ended("stopped after a frame"), rung_ended(2)])
    assert ladder_end(told, 1, after_seq=1) is None
    assert run_end(told, 1, after_seq=1) is None


def test_a_run_that_failed_is_no_end_of_its_ladder_but_of_the_run() -> None:
    told = as_entries([FAILED])
    assert ladder_end(told, 1) is None
    assert run_end(told, 1) == ladder_ended("failed", note="The camera is gone.", trouble="lost")


def test_a_rung_that_is_told_anew_ended_once() -> None:
    told = as_entries([rung_ended(1, "done in part"), rung_ended(2), rung_ended(1, "done")])
    assert {rung: one.outcome for rung, one in rungs_ended(told, 1).items()} == {1: "done", 2: "done"}
