"""The report of a trial, as Markdown that can be sent to others: no serial number in it unless that is asked for."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any

from tether import __version__
from tether.capture.trial_result import FrameTried, Trial
from tether.wording import measured_time, planned_time, way

TRIAL_SCHEMA = "tether-trial/1"
#: So many sentences of one kind are in a report at most.
_MOST = 20


@dataclass(frozen=True, kw_only=True)
class About:
    """What a trial was made with.

    Attributes
    ----------
    when
        When it was begun.
    library
        The camera library and its version.
    body_file
        The body file, by name.
    reason
        What was set and read back: the needs of a plan, or the whole list.
    serial
        Whether the serial number is to be told.
    """

    when: datetime
    library: str
    body_file: str
    reason: str
    serial: bool = False


def trial_json(trial: Trial, about: About, *, report: str, own_file: str) -> dict[str, Any]:
    """Return a trial as plain data, valid by ``trial.schema.json``; the last two are the files written."""
    identity, (before, after) = trial.identity, trial.battery
    return {
        "schema": TRIAL_SCHEMA,
        "simulated": identity.simulated,
        "model": identity.model or None,
        "firmware": identity.firmware or None,
        "lens": identity.lens or None,
        "serial": (identity.serial or None) if about.serial else None,
        "begun_utc": about.when.astimezone(UTC).isoformat(timespec="seconds"),
        "took_s": trial.took_s,
        "library": about.library,
        "body_file": about.body_file,
        "reason": about.reason,
        "checks": [{"what": one.what, "verdict": one.verdict, "sentence": one.sentence} for one in trial.looked],
        "offers": {
            "times": list(trial.offers.times),
            "apertures": list(trial.offers.apertures),
            "isos": list(trial.offers.isos),
            "held_by": trial.offers.held_by,
            "why_not_held": trial.offers.why_not_held,
        },
        "settings": {
            "count": trial.settings.count,
            "median_s": trial.settings.median_s,
            "otherwise": list(trial.settings.otherwise),
        },
        "frames": [asdict(frame) for frame in trial.frames],
        "battery": {"before": before, "after": after, "used_per_h": trial.battery_per_h},
        "remarks": list(trial.remarks),
        "good": trial.good,
        "report": report,
        "own_file": own_file,
    }


def report_of(trial: Trial, about: About) -> str:
    """Return the report as Markdown."""
    return "\n".join((*_head(trial, about), *_looked(trial), *_settings(trial, about), *_frames(trial), *_end(trial)))


def _head(trial: Trial, about: About) -> Iterator[str]:
    identity = trial.identity
    yield f"# Trial of {identity.model or 'a camera without a name'}"
    yield ""
    if identity.simulated:
        yield "**SIMULATED: no camera was tried. Nothing here says anything about a body that can be bought.**"
        yield ""
    yield from _list(
        ("tried", f"{about.when.astimezone():%Y-%m-%d %H:%M %Z}, took {trial.took_s / 60:.1f} min"),
        ("with", f"Tether {__version__}, {about.library}"),
        ("on", f"{platform.system()} {platform.release()}, {platform.machine()}, {os.cpu_count()} processors"),
        ("firmware", identity.firmware),
        ("lens", identity.lens),
        ("serial number", identity.serial if about.serial else ""),
        ("body file", about.body_file),
    )


def _list(*lines: tuple[str, str]) -> Iterator[str]:
    return (f"- {what}: {said}" for what, said in lines if said)


def _looked(trial: Trial) -> Iterator[str]:
    yield from ("", "## State of the camera", "")
    yield from _list(*((found.what, f"{found.verdict}. {found.sentence}") for found in trial.looked))


def _settings(trial: Trial, about: About) -> Iterator[str]:
    offers, tried = trial.offers, trial.settings
    held = offers.held_by or f"it can't be. {offers.why_not_held or ''}".strip()
    yield from ("", "## What it offers", "")
    yield from _list(
        ("times", _ends(offers.times)),
        ("apertures", _ends(offers.apertures)),
        ("ISO", _ends(offers.isos)),
        ("bulb by", held),
        ("set and read back", f"{tried.count} settings ({about.reason}), {tried.median_s:.2f} s each at the median"),
        ("not as asked", str(len(tried.otherwise)) if tried.otherwise else "none"),
    )
    yield from (f"  - {sentence}" for sentence in tried.otherwise[:_MOST])
    if len(tried.otherwise) > _MOST:
        yield f"  - and {len(tried.otherwise) - _MOST} more"


def _ends(labels: Sequence[str]) -> str:
    return f"{labels[0]} to {labels[-1]}, {len(labels)} values" if labels else "none can be set from here"


def _frames(trial: Trial) -> Iterator[str]:
    yield from ("", "## Frames", "")
    if not trial.frames:
        yield "None was made."
        return
    yield "| frame | between our commands | by its own count | Exif | calls took | file after | copied in | bytes |"
    yield "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
    yield from (_row(frame) for frame in trial.frames if frame.problem is None)
    yield from (
        f"\n{way(frame.way)} {planned_time(frame.asked_s)}: {frame.problem}" for frame in trial.frames if frame.problem
    )


def _row(frame: FrameTried) -> str:
    cells = (
        f"{way(frame.way)} {planned_time(frame.asked_s)}",
        measured_time(frame.held_s),
        measured_time(frame.body_said_s),
        measured_time(frame.exif_s),
        ", ".join(f"{s * 1000:.1f} ms" for s in (frame.open_call_s, frame.close_call_s) if s is not None) or "–",
        _seconds(frame.came_s),
        _seconds(frame.fetch_s),
        f"{frame.size_bytes or 0:,}" + (f" in {frame.files} files" if frame.files > 1 else ""),
    )
    return f"| {' | '.join(cells)} |"


def _seconds(seconds: float | None) -> str:
    return "–" if seconds is None else f"{seconds:.2f} s"


def _end(trial: Trial) -> Iterator[str]:
    yield from ("", "## Besides", "")
    yield from _list(("battery", _battery(trial)), ("dark frames", _darks(trial.frames)))
    yield from (f"- {remark}" for remark in trial.remarks)
    yield ""
    yield (
        "Not tried: cold, longer holds, other lenses, other positions of the dial. How long the shutter really was open"
        " is not measured here: our commands, the body's count and its Exif are what is told."
    )
    yield ""


def _battery(trial: Trial) -> str:
    before, after = trial.battery
    if before is None or after is None:
        return "the camera does not tell"
    change = f"{before:.0%} before, {after:.0%} after {trial.took_s / 60:.1f} min"
    if (per_h := trial.battery_per_h) is not None:
        return f"{change}: {per_h / 60:.2%} a minute"
    return f"{change}: too short, or told in too coarse steps, for a rate"


def _darks(frames: Sequence[FrameTried]) -> str:
    if any(frame.dark_frame for frame in frames):
        return "it seems to take one after long frames: the file came about as long after as the frame was open"
    return "none noticed" if any(frame.way == "held" and frame.came_s for frame in frames) else ""
