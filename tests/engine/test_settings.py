"""Setting the body: only what it reads back counts, and what it will not take is solved around within the limits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from tests.engine.small import FakeCamera, reads_back, small_run
from tests.plan.plans import TEN
from tether.body.protocol import ReadBack, Settings
from tether.engine.run_state import Run
from tether.engine.settings import apply, set_for_rung
from tether.errors import CameraError
from tether.exposure.labels import parse_aperture, parse_iso, parse_time
from tether.journal.records import ApplyIntent, ApplyOutcome
from tether.shot.shot import Shot, shot_of_rung

FAST = '[base]\ntime = "1/60"\naperture = "f/11"\niso = 200\n[rungs]\ntimes = ["1/60"]\n'
LONG = '[base]\ntime = "1/8"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\n' + TEN


def keeps(**kept: str) -> Callable[[Settings], ReadBack]:
    """Return a body that keeps some settings whatever it is told."""
    return lambda settings: reads_back(replace(settings, **kept))


def set_up(text: str, apply_: Callable[[Settings], ReadBack] = reads_back, **fields: Any) -> tuple[Run, Any, Any]:
    return small_run(text, FakeCamera({"apply": apply_}), **fields)


def set_it(run: Run, **more: float) -> tuple[Shot, str]:
    rung = run.ladder.rungs[0]
    return set_for_rung(run, rung, rung.choice, **more)


def test_a_body_that_takes_everything_is_told_once() -> None:
    run, telling, camera = set_up(FAST)
    _, around = set_it(run)
    assert (around, run.hand.state) == ("", "ready")
    assert camera.told("apply") == [Settings(time="1/60", aperture="f/11", iso="200")]
    assert [type(one) for one in telling.records if isinstance(one, ApplyIntent | ApplyOutcome)] == [
        ApplyIntent,
        ApplyOutcome,
    ], "what is about to be sent is told before it is"


def test_another_value_read_back_is_sent_once_more_before_it_is_believed() -> None:
    answers = [keeps(iso="400"), reads_back]
    run, _, camera = set_up(FAST, lambda settings: answers.pop(0)(settings))
    assert apply(run, shot_of_rung(run.ladder.rungs[0], run.ladder.rungs[0].choice)) == []
    assert len(camera.told("apply")) == 2


def test_what_is_still_otherwise_is_returned_in_sentences() -> None:
    run, _, _ = set_up(FAST, keeps(iso="400"))
    shot = shot_of_rung(run.ladder.rungs[0], run.ladder.rungs[0].choice)
    assert apply(run, shot) == ["the ISO is 400, not 200"]


def test_a_value_within_the_limits_is_solved_around_and_said() -> None:
    """A stop more by ISO is a stop narrower."""
    run, telling, _camera = set_up(FAST, keeps(iso="400"))
    shot, around = set_it(run)
    assert (shot.aperture.label, shot.iso.label, shot.time_label) == ("f/16", "400", "1/60")
    assert around == "the ISO is 400, not 200"
    assert telling.said == [
        "The body took another value: the ISO is 400, not 200. The rest is solved again.",
    ]


def test_a_time_that_it_took_instead_is_kept_and_the_rest_makes_up_for_it() -> None:
    """A third of a stop shorter, so a third of a stop more by ISO or aperture; the picture is the same to a third."""
    run, _, _ = set_up(FAST, keeps(time="1/80"))
    shot, _ = set_it(run)
    assert shot.time_label == "1/80"
    base = (parse_time("1/60").exact, parse_aperture("f/11").exact, parse_iso("200").exact)
    made = (shot.time_s, shot.aperture.exact, shot.iso.exact)
    light = [time_s / aperture**2 * iso for time_s, aperture, iso in (base, made)]
    assert light[0] == pytest.approx(light[1], rel=0.02)


@pytest.mark.parametrize(
    ("limits", "kept"),
    [
        ("[limits]\niso = [100, 200]\n", {"iso": "400"}),
        ('[limits]\naperture = ["f/8", "f/16"]\n', {"aperture": "f/5.6"}),
    ],
)
def test_what_lies_outside_the_limits_is_refused_in_a_sentence(limits: str, kept: dict[str, str]) -> None:
    run, _, _ = set_up(FAST + limits, keeps(**kept))
    with pytest.raises(
        CameraError, match=r"The body does not take what this rung needs: the (ISO is 400|aperture is f)"
    ):
        set_it(run)
    assert run.hand.state == "ready"


def test_a_bulb_exposure_whose_dial_is_elsewhere_cannot_be_solved_around() -> None:
    run, _, _ = set_up(LONG, keeps(time="30"))
    with pytest.raises(CameraError, match="the time is 30 s, not bulb"):
        set_it(run)


def test_a_body_that_takes_another_value_each_time_is_given_up() -> None:
    wanders = iter(["400", "400", "800", "800", "1600", "1600", "3200"])
    run, _telling, camera = set_up(FAST, lambda settings: keeps(iso=next(wanders))(settings))
    with pytest.raises(CameraError):
        set_it(run)
    assert len(camera.told("apply")) == 6, "three times solved, each sent twice"


def test_what_the_body_refuses_is_kept_with_its_reason() -> None:
    def refuses(_: Settings) -> ReadBack:
        raise CameraError("It is in a menu.")

    run, telling, _ = set_up(FAST, refuses)
    with pytest.raises(CameraError):
        set_it(run)
    (outcome,) = telling.of(ApplyOutcome)
    assert (outcome.read_back, outcome.problem) == (None, "It is in a menu.")


def test_what_the_person_wanted_brighter_stays_so_when_it_is_solved_around() -> None:
    """The choice is a stop brighter already, by ISO 400; the body keeps f/8, a stop wider: ISO 200 is left."""
    run, _, _ = set_up(FAST, keeps(aperture="f/8"))
    rung = run.ladder.rungs[0]
    brighter = replace(rung.choice, iso=parse_iso("400"))
    shot, _ = set_for_rung(run, rung, brighter, brighter_stops=1.0)
    assert (shot.aperture.label, shot.iso.label, shot.time_label) == ("f/8", "200", "1/60")
