"""What a sidecar says of a frame: standard fields for what they carry, and our own for the rest.

Every field is described in ``docs/handing-over.md``; the names are a promise to other programs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import isfinite

from tether import wording as words
from tether.files.exif import LARGEST, exif_rational
from tether.files.sidecar import Fields, Ordered, Unordered, Value, Words
from tether.journal.readings import FrameReadings, RockSaid
from tether.journal.story import FrameStory, LadderStory, Outing
from tether.report.audit import Split
from tether.report.choices import Choice, Verdict
from tether.report.harmless import xml_text
from tether.report.said_of_frames import light_since_base

#: The rating of a choice (xmp:Rating, ISO 16684-1: 1 to 5 stars, -1 rejected).
RATINGS: Mapping[Verdict, str] = {"keep": "5", "maybe": "3", "no": "-1"}
#: From here on a time is written in millionths of a second [s].
_MILLIONTHS_FROM_S = 0.3


def sidecar_fields(
    outing: Outing, ladder: LadderStory, frame: FrameStory, split: Split | None, choice: Choice
) -> Fields:
    """Return the fields of a frame's sidecar; what is not known is left out.

    `split` is where the frame's light went, None where that could not be read.
    """
    if frame.void:
        split = None  # it goes by the filters that were thought to be on
    found = {
        "Xmp.xmp.Rating": RATINGS[choice.verdict] if choice.verdict else None,
        "Xmp.dc.description": Words(" ".join(_sentences(outing, ladder, frame, split, choice))),
        "Xmp.dc.subject": Unordered(tuple(dict.fromkeys(_keywords(outing, ladder, frame)))),
        "Xmp.exif.ExposureTime": _time(frame.believed_open_s),
        "Xmp.exif.FNumber": _aperture(frame),
        "Xmp.exif.ISOSpeedRatings": _sensitivity(frame),
        "Xmp.exif.DateTimeOriginal": frame.opened_utc,
        "Xmp.tiff.Model": _model(outing),
        **{f"Xmp.tether.{name}": value for name, value in _own(outing, frame, split, choice).items()},
        **{f"Xmp.tether.{name}": _number(value) for name, value in _own_numbers(frame, split).items()},
    }
    return {key: _harmless(value) for key, value in found.items() if value is not None}


def _harmless(value: Value) -> Value:
    match value:
        case Words(text):
            return Words(xml_text(text))
        case Unordered(items) | Ordered(items):
            return type(value)(tuple(map(xml_text, items)))
    return xml_text(value)


# For people


def _sentences(
    outing: Outing, ladder: LadderStory, frame: FrameStory, split: Split | None, choice: Choice
) -> Iterator[str]:
    yield f"{_joined(ladder.title) or f'Ladder {ladder.ladder}'}, {_place(frame)}."
    opened = f"Open {words.measured_time(frame.believed_open_s)} at {words.aperture(frame.aperture)}"
    yield f"{opened}, ISO {words.iso(frame.iso)}."
    yield _filters(frame)
    if split is not None:
        yield light_since_base(split)
    if outing.simulated:
        yield "Simulated: no camera took it."
    if choice.note:
        yield f"Note: {_joined(choice.note)}"


def _joined(text: str) -> str:
    return " ".join(text.split())


def _place(frame: FrameStory) -> str:
    match frame.kind:
        case "rung":
            return f"rung {frame.rung}"
        case "proof":
            return f"test exposure before rung {frame.rung}"
        case "by hand":
            return "frame by hand"
    return f"{words.kind(frame.kind)} frame"


def _filters(frame: FrameStory) -> str:
    if frame.void:
        return "What was on the lens is not known: the task before it was taken back."
    if not frame.filters:
        return "No filter."
    many = "Filters" if len(frame.filters) > 1 else "Filter"
    return f"{many}: {words.filters(frame.filters)} ({words.count(frame.filter_stops)} stops)."


def _known(frame: FrameStory) -> tuple[str, ...]:
    """Return the filters that were on; none where nobody knows."""
    return () if frame.void else frame.filters


def _keywords(outing: Outing, ladder: LadderStory, frame: FrameStory) -> Iterator[str]:
    if title := _joined(ladder.title):
        yield title
    yield _place(frame)
    yield from filter(None, map(_joined, _known(frame)))
    if outing.simulated:
        yield "simulated"


# Standard fields


def _time(time_s: float | None) -> str | None:
    if time_s is None or not 0 < time_s <= LARGEST:
        return None
    return _ratio(Fraction(f"{time_s:.6f}") if time_s >= _MILLIONTHS_FROM_S else exif_rational(time_s))


def _aperture(frame: FrameStory) -> str | None:
    if frame.aperture is None or not 0 < frame.aperture <= LARGEST:
        return None
    return _ratio(Fraction(words.aperture(frame.aperture).removeprefix("f/")))


def _ratio(value: Fraction) -> str:
    return f"{value.numerator}/{value.denominator}"


def _sensitivity(frame: FrameStory) -> Ordered | None:
    return Ordered((words.iso(frame.iso),)) if frame.iso is not None and 0 < frame.iso <= LARGEST else None


def _model(outing: Outing) -> str | None:
    """Return the body that took the outing; None where more than one did."""
    models = {run.camera.model for run in outing.runs}
    return models.pop() if len(models) == 1 else None


# Our own


def _own(outing: Outing, frame: FrameStory, split: Split | None, choice: Choice) -> dict[str, Value | None]:
    return {
        "Outing": outing.name,
        "Kind": words.kind(frame.kind),
        "Simulated": "True" if outing.simulated else None,
        "Outcome": frame.outcome,
        "OpenedAt": frame.opened_utc,
        "ClosedAt": frame.closed_utc,
        "Filters": Ordered(_known(frame)) if _known(frame) else None,
        "ColourCast": _cast(frame, frame.readings.rock if frame.readings else None),
        "Light": light_since_base(split) if split else None,
        "Choice": choice.verdict,
        "Note": choice.note or None,
    }


def _own_numbers(frame: FrameStory, split: Split | None) -> dict[str, float | None]:
    readings = frame.readings or FrameReadings(headroom_stops=None, clipped_share=float("nan"))
    shortest_s, longest_s = _bounds_s(frame)
    return {
        "Ladder": frame.ladder,
        "Rung": frame.rung,
        "Frame": frame.frame,
        "PlannedTime": frame.planned.time_s,
        "OpenTime": frame.believed_open_s,
        "OpenTimeShortest": shortest_s,
        "OpenTimeLongest": longest_s,
        "FilterStops": frame.filter_stops if _known(frame) else None,
        "BrighterThanPlanned": frame.difference_stops,
        "Headroom": readings.headroom_stops,
        "ClippedShare": readings.clipped_share,
        "WaterHeadroom": readings.water.headroom_stops if readings.water else None,
        "WaterClippedShare": readings.water.clipped_share if readings.water else None,
        "LightStops": split.light_stops if split else None,
        "LightUncertainty": split.uncertainty_stops if split else None,
        "StreakLength": readings.streak.length_px if readings.streak else None,
    }


def _bounds_s(frame: FrameStory) -> tuple[float | None, float | None]:
    """Return the bounds of the open time [s, s]; none where it is not our commands that are believed."""
    by_commands = frame.believed_open_s is not None and frame.believed_open_s == frame.open_s.held
    return frame.open_bounds_s if by_commands and frame.open_bounds_s else (None, None)


def _cast(frame: FrameStory, rock: RockSaid | None) -> Ordered | None:
    """Return how much more of red, green and blue came through the glass than of green, against the base [stops]."""
    if rock is None or not _known(frame):
        return None
    stops = [rock.brighter_stops.get(channel, float("nan")) for channel in ("R", "G", "B")]
    if not all(map(isfinite, stops)):
        return None
    return Ordered(tuple(f"{one - stops[1]:.3f}".replace("-0.000", "0.000") for one in stops))


def _number(value: float | None) -> str | None:
    return f"{value:.9g}" if value is not None and isfinite(value) else None
