"""Frames that arrive: gathered by stem, whole by count, by quiet only where the count fails, never twice."""

from __future__ import annotations

import dataclasses

from tests.body.driver.fakes import FakeSession
from tether.body.driver.arrivals import Arrivals, frames_of, number_of
from tether.body.driver.profile import DialReading, Events, Frames, Profile
from tether.body.driver.session import LibraryEvent
from tether.body.protocol import CardFile
from tether.clock import SteppedClock, to_ns

_NONE = DialReading(entries=())
PROFILE = Profile(
    models=("*",),
    time=_NONE,
    aperture=_NONE,
    iso=_NONE,
    events=Events(tells_open="BulbExposureTime"),
    frames=Frames(quiet_s=2.5),
)
CARD = "/store/DCIM/100"


class Ticking(FakeSession):
    """A session in which listening for nothing takes its time."""

    clock: SteppedClock

    def listen(self, slice_s: float) -> LibraryEvent:
        event = super().listen(slice_s)
        if event.kind == "nothing":
            self.clock.wait_until(self.clock.now_ns() + to_ns(slice_s))
        return event


def arrivals(*events: LibraryEvent, card: tuple[str, ...] = (), each: int = 1) -> Arrivals:
    session = Ticking(events=list(events), card=[(CARD, name) for name in card])
    session.clock = SteppedClock()
    found = Arrivals(PROFILE, session.clock)
    found.each = each
    found.use(session)
    return found


def handed_out(found: Arrivals, expected: int, allow_s: float) -> tuple[CardFile, ...]:
    found.gather(expected, allow_s)
    return found.hand_out()


def added(name: str) -> LibraryEvent:
    return LibraryEvent(kind="file", folder=CARD, name=name)


def test_files_of_one_stem_are_one_frame_the_raw_first() -> None:
    places = [(CARD, "A_0002.JPG"), (CARD, "A_0001.CR3"), (CARD, "A_0002.CR3")]
    assert frames_of(places) == [[(CARD, "A_0002.CR3"), (CARD, "A_0002.JPG")], [(CARD, "A_0001.CR3")]]
    assert [number_of(name) for name in ("IMG_0042.CR3", "_DSC1234.NEF", "capt0000.jpg", "frame")] == [
        42,
        1234,
        0,
        None,
    ]


def test_raw_and_jpeg_come_as_one_frame_however_late_the_second() -> None:
    found = arrivals(added("A_0001.CR3"), LibraryEvent(kind="complete"), added("A_0001.JPG"), each=2)
    (frame,) = handed_out(found, 1, 60.0)
    assert (frame.name, frame.number, frame.size) == ("A_0001.CR3", 1, 1000)
    assert [one.name for one in frame.beside] == ["A_0001.JPG"]
    assert handed_out(found, 0, 0.1) == ()


def test_a_second_file_that_never_comes_is_waited_for_until_it_is_quiet() -> None:
    found = arrivals(added("A_0001.CR3"), each=2)
    (frame,) = handed_out(found, 1, 60.0)
    assert frame.beside == ()


def test_an_event_that_comes_twice_is_one_file() -> None:
    found = arrivals(added("A_0001.CR3"), added("A_0001.CR3"))
    assert len(handed_out(found, 1, 1.0)) == 1
    assert handed_out(found, 0, 0.5) == ()


def test_what_no_event_told_of_is_found_on_the_card() -> None:
    found = arrivals(card=("A_0001.CR3",))
    (frame,) = handed_out(found, 1, 1.0)
    assert frame.name == "A_0001.CR3"


def test_after_a_lost_session_the_card_is_listed_at_once() -> None:
    found = arrivals(added("A_0001.CR3"))
    assert [one.name for one in handed_out(found, 1, 60.0)] == ["A_0001.CR3"]
    again = Ticking(events=[added("A_0003.CR3")], card=[(CARD, "A_0001.CR3"), (CARD, "A_0002.CR3")])
    again.clock = SteppedClock()
    found.use(again)
    assert [one.name for one in handed_out(found, 1, 60.0)] == ["A_0002.CR3"]


def test_the_bodys_own_count_of_seconds_is_kept() -> None:
    found = arrivals(LibraryEvent(kind="text", text="BulbExposureTime 7"), LibraryEvent(kind="text", text="Other 9"))
    found.drain(1.0)
    assert found.open_s == 7.0
    mute = dataclasses.replace(PROFILE, events=Events())
    session = Ticking(events=[LibraryEvent(kind="text", text="BulbExposureTime 7")])
    session.clock = SteppedClock()
    silent = Arrivals(mute, session.clock)
    silent.use(session)
    silent.drain(1.0)
    assert silent.open_s is None


def test_what_was_on_the_card_before_is_no_arrival_where_an_event_lacks() -> None:
    found = arrivals(card=("OLD_0001.CR3", "OLD_0002.CR3"))
    assert len(found.on_card()) == 2
    assert handed_out(found, 1, 5.0) == ()


def test_on_another_card_the_same_name_is_another_frame() -> None:
    found = arrivals(added("A_0001.CR3"), card=())
    assert len(handed_out(found, 1, 60.0)) == 1
    assert found.on_card() == ()
    found._session.events.append(added("A_0001.CR3"))  # type: ignore[attr-defined]
    assert len(handed_out(found, 1, 60.0)) == 1
