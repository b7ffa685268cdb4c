"""The stamps file: what it keeps of an exposure at each of its moments."""

from __future__ import annotations

from pathlib import Path

import pytest

from tether.body import stamps
from tether.body.protocol import CameraEvent, Changed, ClosedBy, Ended, Failed, Opened, Order, ShutterRecord
from tether.body.stamps import Stamps
from tether.clock import AffineClock

CLOCK = AffineClock()
OPENING = ShutterRecord(
    frame=4,
    way="held",
    asked_s=60.0,
    open_called_ns=1000,
    open_returned_ns=1100,
    close_called_ns=9000,
    close_returned_ns=9100,
    closed_by="planned",
    realtime=True,
)


def begun() -> Stamps:
    return Stamps.begun(Order(frame=4, way="held", command_s=60.0), CLOCK)


def after(*events: CameraEvent) -> Stamps:
    known = begun()
    for event in events:
        later = known.after(event)
        assert later is not None
        known = later
    return known


def test_an_open_shutter_is_known_with_the_moment_of_its_close() -> None:
    known = after(Opened(frame=4, at_ns=1000, closes_at_ns=9000), Changed(frame=4, closes_at_ns=12_000))
    assert (known.open_called_ns, known.closes_at_ns, known.shut) == (1000, 12_000, False)
    left = known.opening(5000)
    assert (left.close_called_ns, left.close_returned_ns, left.closed_by) == (5000, 5000, "lost")


def test_an_exposure_that_ended_is_known_whole() -> None:
    known = after(Opened(frame=4, at_ns=1000, closes_at_ns=9000), Ended(frame=4, opening=OPENING))
    assert known.shut
    assert known.opening(0) == OPENING


@pytest.mark.parametrize(("closed_by", "shut"), [("planned", True), ("lost", False)])
def test_a_shutter_whose_close_failed_is_shut_only_if_it_closed_late(closed_by: str, shut: bool) -> None:
    opening = ShutterRecord(**{**OPENING.__dict__, "closed_by": closed_by})
    known = after(Failed(frame=4, kind="busy", sentences=("No.",), opening=opening))
    assert known.shut is shut


def test_of_an_exposure_that_was_not_made_nothing_is_left() -> None:
    assert begun().after(Failed(frame=4, kind="camera", sentences=("No.",), opening=None)) is None


def test_moments_mean_something_only_on_their_own_clock() -> None:
    assert begun().is_of(AffineClock())
    assert not begun().is_of(AffineClock.started_now(60))


def test_the_file_keeps_its_size_and_the_last_that_was_written(tmp_path: Path) -> None:
    path = tmp_path / "camera.stamps"
    stamps.make_file(path)
    size = path.stat().st_size
    assert stamps.read(path) is None
    for known in (begun(), after(Ended(frame=4, opening=OPENING)), begun()):
        stamps.write(path, known)
        assert stamps.read(path) == known
        stamps.make_file(path)
        assert stamps.read(path) == known
    stamps.write(path, None)
    assert stamps.read(path) is None
    assert path.stat().st_size == size


@pytest.mark.parametrize("content", [b"", b"{}", b"[1]", b"\xff\xff", b'{"frame": 1, "more": 2}'])
def test_a_file_that_cannot_be_read_tells_nothing(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "camera.stamps"
    path.write_bytes(content)
    assert stamps.read(path) is None


def test_a_timed_exposure_that_was_lost_is_over_when_its_time_and_a_dark_frame_are() -> None:
    known = Stamps.begun(Order(frame=4, way="timed", command_s=30.0, busy_after_s=30.0), CLOCK)
    known = known.after(Opened(frame=4, at_ns=1_000, closes_at_ns=1_000)) or known
    lost = known.after(Failed(frame=4, kind="lost", sentences=("Gone.",), opening=timed("lost")))
    assert lost is not None
    assert lost.free_at_ns == 1_000 + 60_000_000_000
    assert not lost.over
    told = known.after(Ended(frame=4, opening=timed("body")))
    assert told is not None
    assert told.over


def timed(closed_by: ClosedBy) -> ShutterRecord:
    """Return a timed exposure of 30 s that was heard of for the last time after 4 s."""
    return ShutterRecord(
        frame=4,
        way="timed",
        asked_s=30.0,
        open_called_ns=1_000,
        open_returned_ns=4_000_000_000,
        close_called_ns=4_000_000_000,
        close_returned_ns=4_000_000_000,
        closed_by=closed_by,
        realtime=None,
    )
