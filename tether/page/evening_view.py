"""What the page shows of an evening that is planned, as plain data: plans, keys, the ladder as rows, what to pack."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from itertools import groupby
from math import log2
from typing import Any

from tether import wording as words
from tether.editor.known import Known
from tether.editor.messages import Drafted, PlanKey, Start
from tether.editor.plans import FoundPlan
from tether.journal.planned import PlannedLadder, PlannedRung
from tether.report.ending import ending
from tether.report.packing import packing

Data = dict[str, Any]

_WHERE = {"here": "in this folder", "yours": "yours", "shipped": "comes with Tether; copy it to change it"}
#: What is edited first on the way to an evening; the rest is there, folded.
_FIRST = ("rungs", "a rung", "filters", "run")
_ORDER = ("stop", "note", "ok")
#: The end of a sentence that is to be typed at the computer.
_TYPED = re.compile(r"[.,;]?\s*[^.,;]*: (?:tether |--).*", re.DOTALL)
#: The length of the shortest time’s bar, as a share.
_LEAST_SHARE = 0.04


def plan_view(plan: FoundPlan) -> Data:
    """Return what is shown of a plan in the list."""
    body = "simulated body" if plan.body.startswith("simulated") else plan.body
    return {
        "key": plan.key,
        "title": plan.title,
        "file": plan.path.name,
        "where": _WHERE[plan.where],
        "body": body,
        "may_edit": plan.where != "shipped",
    }


def draft_view(known: Known, start: Start, now: datetime) -> Data:
    """Return what is shown of the plan that is worked on.

    Parameters
    ----------
    known, start
        What its process told, and what it was begun with.
    now
        The person's time of day.
    """
    state = known.state
    return {
        "rehearse": start.simulated,
        "pace": start.pace,
        "plan": _plan(state) if state else None,
        "ladder": _ladder(state.ladder, now, start.pace) if state and state.ladder else None,
        "checks": _checks(known),
        "doing": known.doing,
        "said": known.said,
        "refused": known.refused,
        "answered": known.answered,
        "begin": _begin(state) if state else None,
    }


def _plan(state: Drafted) -> Data:
    by_group = groupby(state.keys, key=lambda one: one.group)
    groups = [{"name": name, "first": name in _FIRST, "keys": [_key(one) for one in keys]} for name, keys in by_group]
    return {
        "path": state.path,
        "saved": state.saved,
        "edits": state.edits,
        "mistakes": list(state.mistakes),
        "groups": sorted(groups, key=lambda one: not one["first"]),
    }


def _key(key: PlanKey) -> Data:
    shown = {name: getattr(key, name) for name in ("key", "called", "value", "default", "hint")}
    return {**shown, "choices": list(key.choices)}


def _ladder(ladder: PlannedLadder, now: datetime, pace: float) -> Data:
    pack = packing(ladder)
    return {
        "title": ladder.plan,
        "ending": ending(ladder, now, pace),
        "leave_by": ladder.leave_by,
        "rows": _rows(ladder),
        "fit": list(pack.fit),
        "bring": list(pack.bring),
        "leave": list(pack.leave),
        "unreached": [f"{one.wanted_label}: {one.sentence}" for one in ladder.unreached],
        "notes": list(ladder.notes),
        "cautions": [*ladder.cautions, words.LOCAL_RULES],
    }


def _rows(ladder: PlannedLadder) -> list[Data]:
    """Return the ladder as rows: each rung with its bar, and the tasks before it."""
    lengths = _shares(ladder.rungs)
    found: list[Data] = []
    for rung, share in zip(ladder.rungs, lengths, strict=True):
        found += _tasks(ladder, rung.rung)
        found.append(_rung(rung, share))
    return found + _tasks(ladder, None)


def _tasks(ladder: PlannedLadder, before: int | None) -> list[Data]:
    return [
        {"task": turn.what, "takes": words.span(turn.takes_s)} for turn in ladder.turns if turn.before_rung == before
    ]


def _rung(rung: PlannedRung, share: float) -> Data:
    frames = f"{rung.frames} frames" if rung.frames > 1 else ""
    tests = len(rung.tests)
    test = f"{tests} test exposures first" if tests > 1 else "a test exposure first" if tests else ""
    more = ", ".join(filter(None, (frames, test, "must" if rung.must else "")))
    return {
        "rung": rung.rung,
        "time": rung.name,
        "shot": f"{rung.aperture_label}, ISO {rung.iso_label}",
        "filters": words.filters(rung.filters) if rung.filters else "",
        "more": more,
        "bulb": rung.way == "held",
        "share": share,
    }


def _shares(rungs: Sequence[PlannedRung]) -> list[float]:
    """Return how long each bar is, as a share of the longest: by the stops between the times."""
    stops = [log2(rung.stands_for_s or rung.time_s) for rung in rungs]
    if not stops:
        return []
    low, span = min(stops), max(max(stops) - min(stops), 1e-9)
    return [round(_LEAST_SHARE + (1 - _LEAST_SHARE) * (one - low) / span, 4) for one in stops]


def _checks(known: Known) -> Data | None:
    if known.checked is None:
        return None
    findings = sorted(known.checked.findings, key=lambda one: _ORDER.index(one.verdict))
    return {
        "at": known.checked.at,
        "stale": known.state is not None and known.state.text != known.checked_text,
        "findings": [{"what": one.what, "verdict": one.verdict, "text": one.text} for one in findings],
    }


def finish_view(told: Data) -> Data:
    """Return what is shown of how an outing ends: what was found, and whether what is on the card is to be copied.

    What is to be typed at the computer is left out: the page has a button for it.
    """
    found = [
        {"what": one["what"].capitalize(), "verdict": one["verdict"], "text": _TYPED.sub(".", one["sentence"])}
        for one in sorted(told["found"], key=lambda one: _ORDER.index(one["verdict"]))
    ]
    return {"found": found, "fetch": any("--fetch" in one["sentence"] for one in told["found"])}


def stopped_by(known: Known, despite: dict[str, str]) -> list[str]:
    """Return which checks stop the ladder, of those that are not to be gone against with a reason."""
    findings = known.checked.findings if known.checked else ()
    return [one.what for one in findings if one.verdict == "stop" and not despite.get(one.what, "").strip()]


def _begin(state: Drafted) -> Data:
    """Return what beginning means: with a camera, or as a rehearsal, said so."""
    ladder = state.ladder
    if ladder is None:
        wrong = "The plan has mistakes; nothing can be begun."
        return {"button": "", "how": wrong, "may": False, "simulated": state.simulated}
    if state.simulated:
        how = "A REHEARSAL: no camera is used, and the frames come from the simulated body."
        return {"button": "Begin the rehearsal", "how": how, "may": True, "simulated": True}
    tried = "" if ladder.body.tried else " Its body file was never tried on hardware."
    how = f"ON THE CONNECTED CAMERA: {ladder.body.name}.{tried}"
    return {"button": "Begin on the camera", "how": how, "may": True, "simulated": False}
