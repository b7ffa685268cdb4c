"""The hold: what is decided, what is commanded when, and what is told where something fails."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.body.fakes import Person, RecordingShutter
from tether.body.hold import (
    CLOSE_TRIES,
    CloseNow,
    Move,
    OpenShutter,
    Word,
    close_left_open,
    hold,
    left_open,
    open_between,
    take,
    wait_in_naps,
)
from tether.body.protocol import CameraEvent, Changed, Ended, Failed, Opened, Order, ShutterRecord, Way
from tether.clock import AffineClock, SteppedClock, to_ns, to_s
from tether.errors import BusyError, CameraError, LostError, SupplyError, TetherError

S = to_ns(1)
seconds = st.floats(min_value=0.001, max_value=40_000)


def shutter_open(open_s: float, called_ns: int = 0) -> OpenShutter:
    order = Order(frame=1, way="held", command_s=open_s)
    closes_at_ns = called_ns + to_ns(open_s)
    return OpenShutter(
        order=order, called_ns=called_ns, returned_ns=called_ns, closes_at_ns=closes_at_ns, realtime=False
    )


def held(
    open_s: float, *says: tuple[float, Word], **body: float | TetherError | tuple[TetherError, ...]
) -> tuple[RecordingShutter, list[CameraEvent]]:
    clock, events = SteppedClock(), list[CameraEvent]()
    shutter = RecordingShutter(clock, **body)  # type: ignore[arg-type]
    person = Person(clock, *says)
    hold(shutter, clock, Order(frame=7, way="held", command_s=open_s), person.hear, events.append, realtime=False)
    return shutter, events


# Deciding


@given(open_s=seconds, by_s=st.floats(min_value=-50_000, max_value=50_000), now=st.floats(min_value=0, max_value=1))
def test_a_moved_close_is_never_before_now_and_never_after_hearing_ended(
    open_s: float, by_s: float, now: float
) -> None:
    shutter = shutter_open(open_s)
    now_ns = round(now * shutter.closes_at_ns)
    told = shutter.told(Move(by_s=by_s), now_ns)
    if now_ns >= shutter.closes_at_ns - S:
        assert told is shutter
    elif told.closed_by == "planned":
        assert told.closes_at_ns == pytest.approx(shutter.closes_at_ns + to_ns(by_s), abs=1)
        assert told.closes_at_ns > now_ns
        assert told.closes_at_ns == told.called_ns + to_ns(told.order.command_s)
    else:
        assert told.closes_at_ns == now_ns
        assert open_s + by_s <= to_s(now_ns)


@given(open_s=seconds, now=st.floats(min_value=0, max_value=2))
def test_a_close_now_is_at_once_or_too_late(open_s: float, now: float) -> None:
    shutter = shutter_open(open_s)
    now_ns = round(now * shutter.closes_at_ns)
    told = shutter.told(CloseNow(), now_ns)
    if now_ns < shutter.closes_at_ns - S:
        assert (told.closes_at_ns, told.closed_by) == (now_ns, "person")
    else:
        assert told is shutter


@given(open_s=st.floats(min_value=0.001, max_value=1.0))
def test_a_hold_of_a_second_or_less_hears_nothing(open_s: float) -> None:
    shutter = shutter_open(open_s)
    assert shutter.told(CloseNow(), 0) is shutter


# Waiting and commanding


@given(open_s=seconds, accept_s=st.floats(min_value=0, max_value=0.5))
def test_the_time_to_accept_the_opening_does_not_lengthen_the_hold(open_s: float, accept_s: float) -> None:
    shutter, events = held(open_s, accept_s=accept_s)
    (opened_ns,), (closed_ns,) = shutter.moments_ns("open"), shutter.moments_ns("close")
    assert closed_ns - opened_ns == max(to_ns(open_s), to_ns(accept_s))
    assert events[0] == Opened(frame=7, at_ns=opened_ns, closes_at_ns=opened_ns + to_ns(open_s))
    ended = events[1]
    assert isinstance(ended, Ended)
    assert (ended.opening.open_called_ns, ended.opening.close_called_ns) == (opened_ns, closed_ns)
    assert ended.opening.open_returned_ns - opened_ns == ended.opening.close_returned_ns - closed_ns == to_ns(accept_s)
    assert (ended.opening.closed_by, ended.opening.asked_s, ended.opening.realtime) == ("planned", open_s, False)


def test_words_while_open_move_the_close_and_are_told() -> None:
    shutter, events = held(60, (10, Move(by_s=30)), (20, Move(by_s=-15.5)))
    assert shutter.moments_ns("close") == [to_ns(74.5)]
    assert events[1:-1] == [Changed(frame=7, closes_at_ns=90 * S), Changed(frame=7, closes_at_ns=to_ns(74.5))]
    ended = events[-1]
    assert isinstance(ended, Ended)
    assert (ended.opening.asked_s, ended.opening.closed_by) == (74.5, "planned")


def test_close_now_closes_at_once_and_keeps_what_was_asked() -> None:
    shutter, events = held(60, (12, CloseNow()))
    assert shutter.moments_ns("close") == [12 * S]
    ended = events[-1]
    assert isinstance(ended, Ended)
    assert (ended.opening.asked_s, ended.opening.held_s, ended.opening.closed_by) == (60, 12, "person")


def test_a_close_moved_into_the_past_is_a_close_now() -> None:
    shutter, events = held(60, (30, Move(by_s=-40)))
    assert shutter.moments_ns("close") == [30 * S]
    assert [type(event) for event in events] == [Opened, Ended]


def test_hearing_ends_a_second_before_the_close() -> None:
    heard, _ = held(60, (58.9, Move(by_s=10)))
    unheard, _ = held(60, (59.0, Move(by_s=10)))
    assert heard.moments_ns("close") == [70 * S]
    assert unheard.moments_ns("close") == [60 * S]


def test_naps_end_at_the_moment_on_every_clock() -> None:
    clock = SteppedClock()
    wait_in_naps(clock, 17 * S)
    assert clock.now_ns() == 17 * S
    paced = AffineClock.started_now(1000)
    at_ns = paced.now_ns() + 5 * S
    wait_in_naps(paced, at_ns)
    assert paced.now_ns() >= at_ns


def test_all_is_made_ready_before_the_moment_that_counts() -> None:
    shutter, events = held(5)
    assert shutter.prepared == 1
    assert shutter.moments_ns("open") == [0]
    assert isinstance(events[-1], Ended)


def test_a_command_that_goes_out_late_in_its_call_is_made_up_for() -> None:
    shutter, events = held(60, (10, Move(by_s=30)), later_s=0.088)
    assert shutter.moments_ns("close") == [to_ns(90.088)]
    ended = events[-1]
    assert isinstance(ended, Ended)
    assert (ended.opening.held_s, ended.opening.later_ns) == (90.0, to_ns(0.088))


def test_what_the_body_counted_is_kept_beside_what_we_held() -> None:
    _, events = held(9, says_open_s=8.0)
    ended = events[-1]
    assert isinstance(ended, Ended)
    assert (ended.opening.held_s, ended.opening.body_said_s) == (9.0, 8.0)


# Failing


def test_what_can_not_be_made_ready_is_not_opened() -> None:
    shutter, events = held(5, prepare_error=CameraError("Not on bulb."))
    assert events == [Failed(frame=7, kind="camera", sentences=("Not on bulb.",), opening=None)]
    assert shutter.calls == []


def test_a_failing_close_is_tried_again_and_the_open_time_is_an_interval() -> None:
    shutter, events = held(10, close_errors=(BusyError("The body is busy."),) * 3)
    assert shutter.moments_ns("close") == [to_ns(10 + 0.2 * tries) for tries in range(4)]
    failed = events[-1]
    assert isinstance(failed, Failed)
    assert failed.kind == "busy"
    assert "between 10.00 s and 10.60 s" in failed.sentences[0]
    assert "The body is busy." in failed.sentences
    assert failed.opening is not None
    assert (failed.opening.close_called_ns, failed.opening.close_returned_ns) == (10 * S, to_ns(10.6))
    assert left_open(failed) is None


def test_a_close_that_never_comes_is_said_loudly_and_made_good_later() -> None:
    shutter, events = held(10, close_errors=(LostError("The body is gone."),) * CLOSE_TRIES)
    failed = events[-1]
    assert isinstance(failed, Failed)
    assert failed.sentences[0].startswith("THE SHUTTER MAY STILL BE OPEN")
    left = left_open(failed)
    assert left is not None
    assert left.closed_by == "lost"
    clock = SteppedClock()
    clock.wait_until(100 * S)
    ended = close_left_open(shutter, clock, left)
    assert (ended.opening.close_called_ns, ended.opening.close_returned_ns) == (10 * S, 100 * S)
    assert ended.opening.closed_by == "lost"


@pytest.mark.parametrize("error", [CameraError("Not on bulb."), SupplyError("The card is full.")])
def test_a_refused_opening_fails_with_the_bodys_own_sentence_and_needs_no_close(error: TetherError) -> None:
    shutter, events = held(10, open_error=error)
    assert events == [Failed(frame=7, kind=error.kind, sentences=error.sentences, opening=None)]
    assert shutter.moments_ns("close") == []


@pytest.mark.parametrize("error", [BusyError("No answer in time."), LostError("The body is gone.")])
def test_an_opening_of_unknown_outcome_is_closed_to_be_sure(error: TetherError) -> None:
    shutter, events = held(10, open_error=error, accept_s=2, close_errors=(error,))
    (failed,) = events
    assert isinstance(failed, Failed)
    assert failed.kind == error.kind
    assert len(shutter.moments_ns("close")) == 2
    assert failed.opening is not None
    assert failed.opening.open_called_ns == 0


@pytest.mark.parametrize(
    ("error", "known"), [(None, True), (CameraError("Refused."), False), (LostError("Gone in the middle."), True)]
)
def test_a_timed_frame_ends_when_the_body_says_so(error: TetherError | None, known: bool) -> None:
    clock, events = SteppedClock(), list[CameraEvent]()
    body = RecordingShutter(clock, take_s=32, take_error=error)
    take(body, clock, Order(frame=2, way="timed", command_s=30), events.append)
    opened, end = events
    assert opened == Opened(frame=2, at_ns=0, closes_at_ns=30 * S)
    assert isinstance(end, Ended if error is None else Failed)
    assert isinstance(end, (Ended, Failed))
    assert (end.opening is not None) is known
    if end.opening is not None:
        assert end.opening.close_called_ns == 32 * S
        assert end.opening.closed_by == ("body" if error is None else "lost")
        assert end.opening.realtime is None


def known(way: Way, *, accepted: bool = True) -> ShutterRecord:
    """Return an exposure of which was heard for the last time 4 s after it was to be opened, and nothing for 2 s."""
    return ShutterRecord(
        frame=7,
        way=way,
        asked_s=30.0,
        open_called_ns=0,
        open_returned_ns=4 * S,
        close_called_ns=4 * S,
        close_returned_ns=6 * S,
        closed_by="lost",
        realtime=None,
        accepted=accepted,
    )


@pytest.mark.parametrize(
    ("opening", "sentence"),
    [
        (known("held"), "it was open for between 4.00 s and 6.00 s"),
        (known("held", accepted=False), "whether it opened is not known; it was open for 6.00 s at the most"),
        (known("timed"), "the body was to time 30 s by itself, and was lost 6.0 s after it was told to"),
    ],
)
def test_what_is_not_known_is_said_as_not_known(opening: ShutterRecord, sentence: str) -> None:
    assert open_between(opening) == sentence


def test_an_opening_that_was_not_answered_is_not_said_to_have_opened() -> None:
    clock, events = SteppedClock(), list[CameraEvent]()
    shutter = RecordingShutter(clock, open_error=LostError("Gone."))
    hold(shutter, clock, Order(frame=7, way="held", command_s=60), lambda _until: None, events.append, realtime=False)
    (failed,) = events
    assert isinstance(failed, Failed)
    assert failed.opening is not None
    assert not failed.opening.accepted
