"""Live view by a body file's table: what is offered, what is written when, and where a point lies."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.body.driver.fakes import SWITCH, FakeSession, failure, listed
from tether.body.bodyfile import load_body_file
from tether.body.driver.errors import BUSY, CAMERA_FAILED, GENERIC, LibraryError
from tether.body.driver.live import LiveView
from tether.body.driver.profile import ConfigWrite, LiveSteps
from tether.body.driver.session import ConfigEntry
from tether.body.protocol import NO_LIVE_VIEW, LiveOffers
from tether.errors import CameraError

ANY = ConfigEntry(value="0", choices=(), writable=True)
LIVE = LiveSteps(
    switch="view",
    magnify=(ConfigWrite(entry="ratio", value="200%"), ConfigWrite(entry="ratio", value="100%")),
    times=4.0,
    whole=ConfigWrite(entry="ratio", value="All"),
    point="point",
    nearer=ConfigWrite(entry="lens", value="Near"),
    farther=ConfigWrite(entry="lens", value="Far"),
)
SENSOR_PX = (6000.0, 4000.0)


def session(**entries: ConfigEntry) -> FakeSession:
    """Return a session of a body with all of it, its entries changed as told."""
    all_of_it = {"view": SWITCH, "ratio": listed("All", "All", "100%"), "point": ANY, "lens": ANY}
    return FakeSession(entries=all_of_it | entries)


def view(on: FakeSession, live: LiveSteps | None = LIVE) -> LiveView:
    """Return live view on a session."""
    one = LiveView(live, SENSOR_PX)
    one.use(on)
    return one


def offered(offers: LiveOffers) -> tuple[bool, bool, bool]:
    """Return whether pictures, magnified ones and nudges are offered."""
    return offers.why_no_picture is None, offers.why_not_magnified is None, offers.why_not_nudged is None


def test_only_what_body_file_and_body_have_is_offered() -> None:
    assert offered(view(session()).offers()) == (True, True, True)
    assert view(session(), None).offers() == NO_LIVE_VIEW
    bare = session()
    del bare.entries["view"]
    assert offered(view(bare).offers()) == (False, False, False)
    assert offered(view(bare, replace(LIVE, switch="")).offers()) == (True, True, True)
    assert offered(view(session(ratio=listed("All", "All", "25%"))).offers()) == (True, False, True)
    assert offered(view(session(lens=listed("None", "None"))).offers()) == (True, True, False)
    assert offered(view(session(), replace(LIVE, point="")).offers()) == (True, False, True)


def test_each_change_is_written_once_and_taken_back_at_the_end(tmp_path: Path) -> None:
    on, path = session(), tmp_path / "live.jpg"
    live = view(on)
    live.off()
    assert on.written == []
    assert [live.picture(path, at).times for at in (None, (0.5, 0.5), (0.5, 0.5), (0.25, 0.5))] == [1.0, 4.0, 4.0, 4.0]
    live.off()
    live.off()
    assert [one for one in on.written if one != ("picture", "")] == [
        ("view", 1),
        ("ratio", "100%"),
        ("point", "2250,1500"),
        ("point", "750,1500"),
        ("ratio", "All"),
        ("view", 0),
    ]
    assert on.written.count(("picture", "")) == 4


@pytest.mark.parametrize(
    ("point_is", "times", "at", "written"),
    [
        ("corner", 4.0, (0.0, 1.0), "1,2999"),
        ("corner", 4.0, (1.0, 0.0), "4499,1"),
        ("centre", None, (0.0, 1.0), "1,3999"),
        ("centre", None, (0.5, 0.25), "3000,1000"),
        ("corner", None, (0.5, 0.25), "3000,1000"),
    ],
)
def test_a_point_is_written_in_pixels_of_the_sensor_and_inside_of_it(
    tmp_path: Path, point_is: str, times: float | None, at: tuple[float, float], written: str
) -> None:
    on = session()
    live = replace(LIVE, point_is=point_is, times=times)  # type: ignore[arg-type]
    assert view(on, live).picture(tmp_path / "live.jpg", at).times == times
    assert ("point", written) in on.written


def test_a_body_that_can_not_magnify_shows_the_whole(tmp_path: Path) -> None:
    on = session()
    live = view(on, replace(LIVE, point=""))
    assert live.picture(tmp_path / "live.jpg", (0.5, 0.5)).times == 1.0
    live.off()
    assert on.written == [("view", 1), ("picture", ""), ("view", 0)]


def test_a_point_that_was_refused_is_written_again_and_the_whole_is_shown_at_the_end(tmp_path: Path) -> None:
    on = session()
    live = view(on)
    on.fails = {("point", "2250,1500"): [failure(GENERIC)]}
    with pytest.raises(LibraryError):
        live.picture(tmp_path / "live.jpg", (0.5, 0.5))
    assert live.picture(tmp_path / "live.jpg", (0.5, 0.5)).times == 4.0
    assert on.written.count(("point", "2250,1500")) == 2
    live.off()
    assert on.written[-2:] == [("ratio", "All"), ("view", 0)]


def test_a_switch_that_failed_is_tried_again() -> None:
    on = session()
    live = view(on)
    live.nudge(1)
    on.fails = {("view", 0): [failure(BUSY)]}
    with pytest.raises(LibraryError):
        live.off()
    live.off()
    assert on.written == [("view", 1), ("lens", "Far"), ("view", 0), ("view", 0)]


@pytest.mark.parametrize("code", [GENERIC, CAMERA_FAILED])
def test_nudges_go_step_by_step_and_a_lens_that_does_not_move_is_told(code: int) -> None:
    on = session()
    live = view(on)
    live.nudge(-3)
    live.nudge(1)
    assert on.written == [("view", 1), *[("lens", "Near")] * 3, ("lens", "Far")]
    on.fails = {("lens", "Near"): [failure(code, "at its limit.")]}
    with pytest.raises(CameraError, match=r"at its limit\. Set the lens to AF"):
        live.nudge(-1)
    with pytest.raises(CameraError, match="not offered"):
        view(session(), replace(LIVE, nearer=None)).nudge(-1)


def test_the_families_whose_library_can_switch_it_off_or_need_not_offer_it() -> None:
    tables = {name: load_body_file(name).driver for name in ("canon-eos", "nikon", "sony-alpha", "panasonic-lumix")}
    assert all(one is not None and one.live is not None for one in tables.values())
    for name in ("fujifilm-x", "olympus-om", "pentax", "ricoh-gr"):
        driver = load_body_file(name).driver
        assert driver is not None
        assert driver.live is None
    old, new = (load_body_file(name).driver for name in ("canon-eos-m", "canon-eos"))
    assert old is not None
    assert new is not None
    assert old.live == replace(new.live or LiveSteps(), switch="")
