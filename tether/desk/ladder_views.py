"""What the desk says of a ladder, as plain text: pure functions of the ladder's data and of what was edited."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from itertools import takewhile

from tether import wording as words
from tether.editor.messages import PlanKey
from tether.journal.planned import PlannedLadder, PlannedRung
from tether.journal.snapshot import Snapshot
from tether.report.ending import ending, length
from tether.report.ladder_view import more_or_less

_FILTERS, _FRAMES, _CALLED = 17, 17, 18
RUNGS_HEAD = (
    f"  {'No':>2} {'Time':>10} {'f/':>4} {'ISO':>5} {'Filters':<{_FILTERS}}{'ND':>5} {'Frames':<{_FRAMES}}{'Off':>5}"
)

#: The mark of a rung that must be had.
MUST = "!"
_SETTINGS = ("aperture_label", "iso_label", "filters", "way", "frames")


def rung_line(rung: PlannedRung, mark: str) -> str:
    """Write a rung in the columns of `RUNGS_HEAD`, after a mark of one sign and that of a must-have."""
    filters = words.filters(rung.filters) if rung.filters else "none"
    around = rung.bracket_stops
    tests = {0: "", 1: ", test"}.get(len(rung.tests), f", {len(rung.tests)} tests")
    beside = f", {around:+.3g}" if around is not None else tests
    frames = f"{rung.frames} {words.way(rung.way)}{beside}"
    aperture = words.aperture(rung.aperture).removeprefix("f/")
    must = MUST if rung.must else " "
    return (
        f"{mark:1}{must}{rung.rung:>2} {rung.name:>10} {aperture:>4} {words.iso(rung.iso):>5} "
        f"{_cut(filters, _FILTERS - 1):<{_FILTERS}}{words.count(rung.filter_stops):>5} {frames:<{_FRAMES}}"
        f"{words.stops(rung.error_stops):>5}"
    )


def changed(before: PlannedLadder | None, now: PlannedLadder | None) -> frozenset[int]:
    """Return the numbers of the rungs that another ladder did not have so."""
    if before is None or now is None or before is now:
        return frozenset()
    known = {_told_apart(rung) for rung in before.rungs}
    return frozenset(rung.rung for rung in now.rungs if _told_apart(rung) not in known)


def _told_apart(rung: PlannedRung) -> tuple[str, ...]:
    """Return by what a person tells rungs apart; all that are held have one time label, so the time itself."""
    by = (rung.opens, words.count(rung.darker_by_stops), bool(rung.proof), rung.must, rung.bracket_stops)
    return tuple(str(one) for one in (*by, *(getattr(rung, name) for name in _SETTINGS)))


def marks(snapshot: Snapshot) -> dict[int, str]:
    """Return a mark for each rung of a run that is in hand (>) or over (its outcome's sign)."""
    found = {one.rung: "=" if one.outcome == "done" else "-" for one in snapshot.rungs}
    if snapshot.rung:
        found[snapshot.rung.rung] = ">"
    return found


MARKS_OF_DRAFT = "* new, or other than before the last edit   ! must be had"
MARKS_OF_RUN = "> in hand   = done   - left out, or in part   ! must be had"


def rung_told(ladder: PlannedLadder, number: int) -> tuple[str, ...]:
    """Say of one rung why it is so, what it costs, what else there is, and what the person does before it."""
    rung = ladder.rung(number)
    if rung is None:
        return ()
    turns = [f"Before it: {one.what} ({one.reason})" for one in ladder.turns if one.before_rung == number]
    darker = rung.darker_by_stops
    wanted = f"The plan wants it {words.count(darker)} stop darker than the base. " if darker >= 0.05 else ""
    other = f", planned to be open {rung.opens}" if rung.opens != rung.name else ""
    if (asked := words.planned_time(rung.wanted_s)) != rung.name:
        other += f" ({asked} was asked for: the nearest that is as bright)"
    return (
        f"Rung {number}, {rung.name}{other}: {rung.reason}",
        f"{wanted}{rung.costs}".strip(),
        *(f"Or {one.words} ({more_or_less(one.price_more)})" for one in rung.others if one.words not in rung.costs),
        *turns,
    )


def whole_told(ladder: PlannedLadder, now: datetime | None, pace: float = 1.0) -> tuple[str, ...]:
    """Say of the whole ladder how long it takes, what the person does, what is not to be had.

    `now` is the time of day, to say when it ends; None: it is begun already.
    """
    turns = [f"Task: {words.before(one.before_rung)}: {one.what}" for one in ladder.turns]
    return (
        f"{length(ladder)}, as it was planned." if now is None else ending(ladder, now, pace),
        *(f"Out of reach: {one.sentence}" for one in ladder.unreached),
        *turns,
        *(f"To know: {one}" for one in ladder.notes),
        *(f"Take care: {one}" for one in ladder.cautions),
        *(f"Learned: {one}" for one in ladder.learned),
    )


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


def wish_of(ladder: PlannedLadder, number: int) -> tuple[str, bool, str] | None:
    """Return what is wished for a rung: its time, whether it must be had, and the frames around it, as typed.

    A frame around a rung stands for that rung. None: there is no such rung.
    """
    rungs = ladder.rungs
    at = next((at for at, one in enumerate(rungs) if one.rung == number), None)
    if at is None:
        return None
    while at and rungs[at].bracket_stops is not None:
        at -= 1
    after = takewhile(lambda one: one.bracket_stops is not None, rungs[at + 1 :])
    return rungs[at].wanted_label, rungs[at].must, ", ".join(f"{one.bracket_stops:+g}" for one in after)


def wish_typed(time: str, must: bool, around: str) -> str:
    """Write a wish for a rung as a person types it."""
    return f"{time} = {', '.join(one for one in ('must' if must else '', around) if one) or 'asked for'}"


def next_choice(key: PlanKey, by: int) -> str:
    """Return the choice after or before the one that counts."""
    at = key.choices.index(key.value or key.default) if (key.value or key.default) in key.choices else -by
    return key.choices[(at + by) % len(key.choices)]


def rungs_of(ladder: PlannedLadder | None, marked: Mapping[int, str] | Collection[int], width: int) -> tuple[str, ...]:
    """Write the rungs of a ladder, each with its mark; given numbers only, these are marked as changed."""
    if ladder is None:
        return ()
    signs = marked if isinstance(marked, Mapping) else dict.fromkeys(marked, "*")
    return tuple(_cut(rung_line(rung, signs.get(rung.rung, "")), width) for rung in ladder.rungs)


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: max(width - 1, 0)]}…"
