"""A report of a trial held against a body file: what agrees, what differs, and whether that is “tried on hardware”."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from tether.body.bodyfile import BodyFile
from tether.body.driver.profile import Profile
from tether.body.driver.reading import matches
from tether.body.protocol import Finding
from tether.capture.trial_file import REPORT_SCHEMA
from tether.checks.findings import note, ok, stop
from tether.errors import PlanError
from tether.exposure.labels import parse_iso

#: Of these a body file and a report may be apart by as much as this factor: they are no promises.
_ABOUT = 2.0
_MOST_NAMED = 6

Report = Mapping[str, Any]


def read_report(path: Path) -> dict[str, Any]:
    """Return a report that was written. Raises PlanError where a file is none."""
    try:
        report = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise PlanError(f"{path}: this can't be read as the report of a trial: {error}") from error
    if not isinstance(report, dict) or report.get("schema") != REPORT_SCHEMA:
        raise PlanError(f"{path}: this is no report of a trial ({REPORT_SCHEMA}); “tether body try” writes one.")
    return report


def compared(report: Report, file: BodyFile) -> tuple[Finding, ...]:
    """Return what a report says of each thing in a body file: *ok* it agrees, *stop* it differs, *note* not known.

    Raises
    ------
    PlanError
        The file does not say how the body is spoken to.
    """
    trial, profile = report["trial"], file.profile()
    return (
        _model(trial["model"], profile),
        *_entries(report["entries"], profile),
        _times(trial["offers"]["times"], [mark.label for mark in file.times.marks()]),
        _isos(trial["offers"]["isos"], file),
        _held(trial["offers"], file),
        _settings(trial["settings"]),
        *(_frame(one) for one in trial["frames"]),
        *_figures(trial["frames"], file),
    )


def tried_line(report: Report, found: Iterable[Finding]) -> str | None:
    """Return what a body file may say of itself after this report: when, with what, by which firmware, what was made.

    None where it may say nothing: no camera was tried, or no frame was made, or something differs.
    """
    trial = report["trial"]
    made = [frame for frame in trial["frames"] if frame["problem"] is None]
    if trial["simulated"] or not made or any(one.verdict == "stop" for one in found):
        return None
    firmware = f", firmware {trial['firmware']}" if trial["firmware"] else ""
    return (
        f"{trial['day']}, {trial['library']}{firmware}: {len(made)} of {len(trial['frames'])} frames made,"
        f" {trial['settings']['count']} settings read back as asked"
    )


def _agrees(what: str, agrees: bool, sentence: str) -> Finding:
    return ok(what, sentence) if agrees else stop(what, sentence)


def _model(model: str | None, profile: Profile) -> Finding:
    patterns = ", ".join(profile.models)
    return _agrees(
        "model", matches(model or "", profile.models), f"{model or 'It has no name'}; the file is of {patterns}."
    )


def _entries(entries: Iterable[Mapping[str, Any]], profile: Profile) -> Iterator[Finding]:
    """Say for each of the three dials by which entry it was read, and whether that can be written."""
    seen = {one["name"]: one for one in entries}
    if not seen:
        yield note("entries", "The report has none.")
        return
    for dial, reading in (("time", profile.time), ("aperture", profile.aperture), ("iso", profile.iso)):
        name = next((one for one in reading.entries if one in seen and seen[one]["failed"] is None), None)
        if name is None:
            wanted = ", ".join(reading.entries)
            yield stop(f"{dial} entry", f"None of {wanted} can be read.")
            continue
        writable = bool(seen[name]["writable"])
        yield _agrees(
            f"{dial} entry", writable, f"{name}, {'which can be set' if writable else 'which can not be set'}."
        )


def _times(offered: Sequence[str], filed: Sequence[str]) -> Finding:
    """Compare the times that a body offered with those of its file."""
    if not offered:
        return stop("times", "None was offered.")
    besides = [label for label in offered if label not in filed]
    missing = [label for label in filed if label not in offered]
    parts = [f"{offered[0]} to {offered[-1]}, {len(offered)} values"]
    parts += [f"not in the file: {_few(besides)}"] if besides else []
    parts += [f"not offered: {_few(missing)}"] if missing else []
    return _agrees("times", not besides and not missing, f"{'; '.join(parts)}.")


def _few(labels: Sequence[str]) -> str:
    more = f" and {len(labels) - _MOST_NAMED} more" if len(labels) > _MOST_NAMED else ""
    return f"{', '.join(labels[:_MOST_NAMED])}{more}"


def _isos(offered: Sequence[str], file: BodyFile) -> Finding:
    """Compare the ends of the ISO list; which steps lie between is the body's own matter."""
    if not offered:
        return stop("ISO", "None was offered.")
    ends = [parse_iso(label).exact for label in (offered[0], offered[-1])]
    filed = [file.isos.lowest.exact, file.isos.highest.exact]
    same = all(abs(one / other - 1) < 0.01 for one, other in zip(ends, filed, strict=True))
    says = "" if same else f"; the file says {file.isos.lowest.label} to {file.isos.highest.label}"
    return _agrees("ISO", same, f"{offered[0]} to {offered[-1]}{says}.")


def _held(offers: Mapping[str, Any], file: BodyFile) -> Finding:
    by, can = offers["held_by"], file.hold.can_hold
    known = [way.name for way in file.profile().release]
    said = f"By {by}." if by else f"It can't be held: {offers['why_not_held']}"
    if can is None:
        return _agrees("bulb", by is None or by in known, said)
    return _agrees("bulb", can == bool(by), f"{said} The file says that it {'can' if can else 'can not'}.")


def _settings(settings: Mapping[str, Any]) -> Finding:
    wrong = len(settings["otherwise"])
    return _agrees("settings", not wrong, f"{settings['count']} were taken, {wrong} were not as asked.")


def _frame(frame: Mapping[str, Any]) -> Finding:
    what = f"{'bulb' if frame['way'] == 'held' else 'timed'} {frame['asked_s']:g} s"
    if frame["problem"]:
        return stop(what, str(frame["problem"]))
    counted = (frame[key] for key in ("held_s", "body_said_s", "exif_s"))
    held, said, exif = (f"{one:.3f} s" if one is not None else "not told" for one in counted)
    return ok(what, f"Made. Between our commands {held}, by its own count {said}, by its Exif {exif}.")


def _figures(frames: Sequence[Mapping[str, Any]], file: BodyFile) -> Iterator[Finding]:
    """Say of sizes and fetching times whether the file has them about right."""
    made = [frame for frame in frames if frame["problem"] is None]
    for what, key, filed, unit, scale in (
        ("bytes of a frame", "size_bytes", file.body.frame_bytes, "MB", 1e6),
        ("fetching a frame", "fetch_s", file.body.fetch_s, "s", 1.0),
    ):
        values = [frame[key] for frame in made if frame[key]]
        if not values or not filed:
            told = f"{max(values) / scale:.2f} {unit}" if values else "Not measured"
            yield note(what, f"{told}; the file does not say." if not filed else f"{told}.")
            continue
        same = filed / _ABOUT <= max(values) <= filed * _ABOUT
        sentence = f"{max(values) / scale:.2f} {unit}; the file says {filed / scale:.2f} {unit}."
        yield ok(what, sentence) if same else note(what, sentence)
