"""The light that is expected by the sun, for the terminal, from the data that `tether light --json` gives."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType
from rich.text import Text

from tether import wording as words
from tether.light.sun import ASTRONOMICAL, CIVIL, HORIZON, NAUTICAL
from tether.report.layout import Column, heading, listing, table

Line = Mapping[str, Any]
_PAIRS = (
    ("horizon", "sunrise", "sunset"),
    ("6° below", "civil dawn", "civil dusk"),
    ("12° below", "nautical dawn", "nautical dusk"),
    ("18° below", "astronomical dawn", "astronomical dusk"),
)
_SKIES = (
    (HORIZON, "day"),
    (CIVIL, "civil twilight"),
    (NAUTICAL, "nautical twilight"),
    (ASTRONOMICAL, "astronomical twilight"),
)
#: Light that changes more slowly is called steady [stops/min].
_STEADY = 0.003


@dataclass(frozen=True)
class LightView:
    """What `tether light` prints: a rich renderable for 80 characters and more, its clock in a time zone."""

    expected: Mapping[str, Any]
    zone: tzinfo

    def __rich_console__(self, _console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        expected, day = self.expected, self.expected["day"]
        yield Text(f"Light at {_place(expected['place'])}", style="bold")
        yield Text(f"{datetime.fromisoformat(day['date']):%A %Y-%m-%d}, by this computer's clock ({self.zone})")
        yield Text()
        yield table(self._day_columns(), _PAIRS, options.max_width)
        yield from (Text(sentence) for sentence in self._without())
        yield heading(f"Light against {self._clock(expected['from_utc'])}, until {self._clock(expected['until_utc'])}")
        yield table(self._course_columns(), expected["course"], options.max_width)
        yield Text("Light: stops, + brighter, - darker. Pace: stops a minute. –: beyond the table.")
        yield from self._plan(options.max_width)
        yield from listing("Take care", [("·", one) for one in expected.get("cautions", ())])
        yield heading("What this goes by")
        yield Text(expected["not_in_it"])
        if expected.get("clock"):
            yield Text(f"The times go by this computer's clock. {expected['clock']['sentence']}")

    def _day_columns(self) -> tuple[Column[tuple[str, str, str]], ...]:
        return (
            Column(heading="Sun", shows=lambda row: row[0]),
            Column(heading="Morning", shows=lambda row: self._moment(row[1])),
            Column(heading="Evening", shows=lambda row: self._moment(row[2])),
        )

    def _moment(self, name: str) -> str:
        utc = self.expected["day"]["moments"][name]
        return f"no {name}" if utc is None else f"{name} {self._dated(utc)}"

    def _without(self) -> Iterator[str]:
        """Say why there is no sunset, sunrise or full darkness."""
        day = self.expected["day"]
        lowest = f"at its lowest, {self._dated(day['lowest_utc'])}, it is {words.altitude(day['lowest_deg'])}"
        if day["highest_deg"] < HORIZON:
            highest = f"at its highest, {self._dated(day['highest_utc'])}, it is {words.altitude(day['highest_deg'])}"
            yield f"The sun does not rise on this day: {highest}."
        elif day["lowest_deg"] > HORIZON and day["moments"]["sunset"] is None:
            lifted = ", and is still seen: the air lifts it" if day["lowest_deg"] < 0 else ""
            yield f"The sun does not set on this day: {lowest}{lifted}."
            return
        if day["lowest_deg"] > ASTRONOMICAL:
            yield f"It does not get fully dark: the sun stays above -18°; {lowest}."

    def _course_columns(self) -> tuple[Column[Line], ...]:
        return (
            Column(heading="Clock", shows=lambda line: self._clock(line["utc"]), number=True),
            Column(heading="Sun", shows=lambda line: _degrees(line["sun_deg"]), number=True),
            Column(heading="Sky", shows=lambda line: sky(line["sun_deg"])),
            Column(heading="Light", shows=lambda line: words.stops(line["light_stops"]), number=True),
            Column(heading="Pace", shows=lambda line: _pace(line["change_stops_per_min"]), number=True),
            Column(heading="A stop in", shows=lambda line: _a_stop_in(line["change_stops_per_min"]), number=True),
        )

    def _plan(self, width: int) -> Iterator[RenderableType]:
        plan = self.expected["plan"]
        if plan is None:
            return
        begins = self._clock(self.expected["from_utc"])
        yield heading(
            f"{plan['title']}, begun and its base metered at {begins}: {words.span(plan['forecast_s'])} in all"
        )
        rungs: Sequence[Line] = plan["long_rungs"]
        if not rungs:
            yield Text("It has no rung of 30 s or more.")
            return
        yield table(self._rung_columns(), rungs, width)
        yield Text("Light: against the base as the rung opens. Same light: the open time it takes.")
        if plan["leave_by_utc"]:
            yield Text(f"Leave by {self._dated(plan['leave_by_utc'])}; * ends later and would be left out.")

    def _rung_columns(self) -> tuple[Column[Line], ...]:
        return (
            Column(
                heading="Rung", shows=lambda rung: f"{rung['rung']}{'*' if rung['after_leave_by'] else ''}", number=True
            ),
            Column(heading="Time", shows=lambda rung: words.planned_time(rung["time_s"]), number=True),
            Column(heading="Opens", shows=lambda rung: self._clock(rung["opens_utc"]), number=True),
            Column(heading="Sun", shows=lambda rung: _degrees(rung["sun_deg"]), number=True),
            Column(heading="Light", shows=lambda rung: words.stops(rung["light_stops"]), number=True),
            Column(heading="Same light", shows=_same_light, number=True),
        )

    def _local(self, utc: str) -> datetime:
        """Return a moment by the clock, to the nearest minute, as printed tables have it."""
        return (datetime.fromisoformat(utc) + timedelta(seconds=30)).astimezone(self.zone)

    def _clock(self, utc: str) -> str:
        return f"{self._local(utc):%H:%M}"

    def _dated(self, utc: str) -> str:
        """Write a moment, with its day where that is not the one that is told of."""
        local = self._local(utc)
        day = "" if local.date().isoformat() == self.expected["day"]["date"] else f" ({local:%Y-%m-%d})"
        return f"{local:%H:%M}{day}"


def sky(sun_deg: float) -> str:
    """Say what the sky is called while the sun is at an altitude [degrees]."""
    return next((name for lowest, name in _SKIES if sun_deg >= lowest), "night")


def _place(place: Mapping[str, Any]) -> str:
    on_earth = words.spot(place["latitude"], place["longitude"])
    return f"{place['name']} ({on_earth})" if place["name"] else on_earth


def _degrees(value: float) -> str:
    return f"{value:.1f}°".replace("-0.0°", "0.0°")


def _pace(change: float | None) -> str:
    if change is None:
        return words.NOT_KNOWN
    return f"{change:+.3f}" if abs(change) >= 0.0005 else "0.000"


def _a_stop_in(change: float | None) -> str:
    if change is None:
        return words.NOT_KNOWN
    return "steady" if abs(change) < _STEADY else words.span(60 / abs(change))


def _same_light(rung: Line) -> str:
    needed_s = rung["same_light_s"]
    return "too little light left" if needed_s is None else words.planned_time(needed_s)
