"""What a face knows of a draft: frames that are read anew, and how sharp the part was that is looked at."""

from __future__ import annotations

from dataclasses import replace

from tether.editor.known import Focus, Known, after
from tether.editor.messages import DraftFrame, EditorEvent, PictureShown
from tether.journal.readings import HistogramSaid

BARS = HistogramSaid(of="whole picture", stops=10, shares={}, clipped={})
FRAME = DraftFrame(picture="1.jpg", bars=BARS, exposure="", sentence="", headroom_stops=0.5, clipped_share=0.0)
WHOLE = PictureShown(picture="live.jpg", times=1.0, sharpness=0.05)
CLOSER = replace(WHOLE, times=5.0, at=(0.5, 0.5), sharpness=0.02)


def told(*news: EditorEvent) -> Known:
    known = Known()
    for one in news:
        known = after(known, one)
    return known


def test_a_frame_that_is_read_anew_takes_its_own_place_and_ends_no_live_view() -> None:
    anew = replace(FRAME, headroom_stops=1.5)
    known = told(FRAME, WHOLE, anew)
    assert known.frames == (anew,)
    assert known.live == WHOLE
    other = replace(FRAME, picture="2.jpg")
    assert told(FRAME, WHOLE, other).frames == (FRAME, other)
    assert told(FRAME, WHOLE, other).live is None


def test_sharpness_is_compared_within_the_part_that_is_shown() -> None:
    known = told(WHOLE, CLOSER, replace(CLOSER, sharpness=0.04), replace(CLOSER, sharpness=0.03))
    assert known.focus == Focus(trace=(0.02, 0.04, 0.03), best=0.04)
    elsewhere = after(known, replace(CLOSER, at=(0.6, 0.5), sharpness=0.01))
    assert elsewhere.focus == Focus(trace=(0.01,), best=0.01)
    assert after(known, replace(CLOSER, sharpness=None)).focus == known.focus, "a dark one says nothing"


def test_the_best_stays_known_when_its_picture_is_long_past() -> None:
    known = told(CLOSER, replace(CLOSER, sharpness=0.9), *[replace(CLOSER, sharpness=0.5)] * 200)
    assert known.focus.best == 0.9
    assert 60 <= len(known.focus.trace) < 200
    assert set(known.focus.trace) == {0.5}


def test_once_live_view_is_over_its_sharpness_is_forgotten() -> None:
    over = told(CLOSER, PictureShown(picture="", times=None))
    assert (over.live, over.focus) == (None, Focus())
