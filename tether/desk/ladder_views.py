"""What the desk says of a ladder, as plain text: pure functions of the ladder's data and of what was edited."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, time, timedelta
from typing import Any

from tether.report import words
from tether.report.ladder_view import rung_time
from tether.run.draft.lines import PlanKey
from tether.run.snapshot import Snapshot

Ladder = Mapping[str, Any]
Rung = Mapping[str, Any]

_FILTERS, _FRAMES, _CALLED = 18, 13, 18
RUNGS_HEAD = (
    f"  {'No':>2} {'Time':>10} {'f/':>4} {'ISO':>5} {'Filters':<{_FILTERS}}{'ND':>5} {'Frames':<{_FRAMES}}{'Off':>5}"
)
#: What makes two rungs the same to a person.
_SAME = ("time_label", "aperture_label", "iso_label", "filters", "way", "frames")


def rung_line(rung: Rung, mark: str) -> str:
    """Write a rung in the columns of `RUNGS_HEAD`, after a mark of one sign."""
    filters = words.filters(rung["filters"]) if rung["filters"] else "none"
    frames = f"{rung['frames']} {rung['way']}{', proof' if rung['proof'] else ''}"
    aperture = words.aperture(rung["aperture"]).removeprefix("f/")
    return (
        f"{mark:1} {rung['rung']:>2} {rung_time(rung):>10} {aperture:>4} {words.iso(rung['iso']):>5} "
        f"{_cut(filters, _FILTERS - 1):<{_FILTERS}}{words.count(rung['filter_stops']):>5} {frames:<{_FRAMES}}"
        f"{words.stops(rung['error_stops']):>5}"
    )


def changed(before: Ladder | None, now: Ladder | None) -> frozenset[int]:
    """Return the numbers of the rungs that another ladder did not have so."""
    if before is None or now is None or before is now:
        return frozenset()
    known = {tuple(str(rung[name]) for name in _SAME) for rung in before["rungs"]}
    return frozenset(rung["rung"] for rung in now["rungs"] if tuple(str(rung[name]) for name in _SAME) not in known)


def marks(snapshot: Snapshot) -> dict[int, str]:
    """Return a mark for each rung of a run that is in hand (>) or over (its outcome's sign)."""
    found = {one.rung: "=" if one.outcome == "done" else "-" for one in snapshot.rungs}
    if snapshot.rung:
        found[snapshot.rung.rung] = ">"
    return found


MARKS_OF_DRAFT = "* new, or other than before the last edit"
MARKS_OF_RUN = "> in hand   = done   - left out, or in part"


def rung_told(ladder: Ladder, number: int) -> tuple[str, ...]:
    """Say of one rung why it is so, what it costs, what else there is, and what the person does before it."""
    rung = next((one for one in ladder["rungs"] if one["rung"] == number), None)
    if rung is None:
        return ()
    turns = [f"Before it: {one['what']} ({one['reason']})" for one in ladder["turns"] if one["before_rung"] == number]
    darker = rung["darker_by_stops"]
    wanted = f"Wanted {words.count(darker)} stop darker than the base. " if darker >= 0.05 else ""
    return (
        f"Rung {number}: {rung['reason']}",
        f"{wanted}Price {words.count(rung['price'])}.",
        *(f"Or: {one['words']} (price {words.count(one['price_more'])} more)" for one in rung["others"]),
        *turns,
    )


def whole_told(ladder: Ladder, now: datetime) -> tuple[str, ...]:
    """Say of the whole ladder how long it takes and when it ends, what the person does, what is not to be had."""
    turns = [f"Turn: {words.before(one['before_rung'])}: {one['what']}" for one in ladder["turns"]]
    return (
        ending(ladder, now),
        *(f"Not to be had: {one['sentence']}" for one in ladder["unreached"]),
        *turns,
        *(f"Caution: {one}" for one in ladder["cautions"]),
    )


def ending(ladder: Ladder, now: datetime) -> str:
    """Say how long the ladder takes, and when it ends if it is begun now, against the time to leave by."""
    end = now + timedelta(seconds=ladder["forecast_s"])
    count = len(ladder["rungs"])
    rungs = f"{count} rung{'' if count == 1 else 's'}"
    said = f"{rungs}, {words.span(ladder['forecast_s'])}; begun now, it ends at {end:%H:%M}"
    leave = _leave_by(ladder["leave_by"], now)
    if leave is None:
        return f"{said}."
    spare_s = (leave - end).total_seconds()
    if spare_s >= 0:
        return f"{said}, {words.span(spare_s)} before you leave at {leave:%H:%M}."
    return f"! {said}, {words.span(-spare_s)} after you leave at {leave:%H:%M}: its last rungs are not begun."


def _leave_by(text: str | None, now: datetime) -> datetime | None:
    """Return the moment of the time to leave by: today, or the next day where that is long past."""
    if not text:
        return None
    try:
        at = time.fromisoformat(text)
    except ValueError:
        moment = datetime.fromisoformat(text)
        return moment if moment.tzinfo else moment.replace(tzinfo=now.tzinfo)
    moment = datetime.combine(now.date(), at, now.tzinfo)
    return moment + timedelta(days=1) if moment < now - timedelta(hours=12) else moment


def key_lines(keys: Sequence[PlanKey], width: int) -> tuple[str, ...]:
    """Write keys, a line each; the group stands before its first."""
    lines, group = [], ""
    for one in keys:
        shown = one.group if one.group != group else ""
        group = one.group
        value = one.value or (f"({one.default})" if one.default else "–")
        lines.append(_cut(f"{shown:<8}{_cut(one.called, _CALLED - 1):<{_CALLED}}{value}", width))
    return tuple(lines)


def key_hint(key: PlanKey) -> str:
    """Say what a key may be."""
    parts = [", ".join(key.choices), key.hint]
    default = f"({key.default}) counts while it is empty" if key.default else ""
    return "; ".join(part for part in (*parts, default) if part)


def next_choice(key: PlanKey, by: int) -> str:
    """Return the choice after or before the one that counts."""
    at = key.choices.index(key.value or key.default) if (key.value or key.default) in key.choices else -by
    return key.choices[(at + by) % len(key.choices)]


def rungs_of(ladder: Ladder | None, marked: Mapping[int, str] | Collection[int], width: int) -> tuple[str, ...]:
    """Write the rungs of a ladder, each with its mark; given numbers only, these are marked as changed."""
    if ladder is None:
        return ()
    signs = marked if isinstance(marked, Mapping) else dict.fromkeys(marked, "*")
    return tuple(_cut(rung_line(rung, signs.get(rung["rung"], "")), width) for rung in ladder["rungs"])


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: max(width - 1, 0)]}…"
