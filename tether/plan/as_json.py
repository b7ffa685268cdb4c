"""A planned ladder as plain records (`tether.journal.planned`)."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from tether.exposure.filters import Filter
from tether.journal.planned import (
    OtherWay,
    Paid,
    PlannedBase,
    PlannedBaseFrames,
    PlannedBeside,
    PlannedBody,
    PlannedDark,
    PlannedFilter,
    PlannedLadder,
    PlannedProof,
    PlannedRung,
)
from tether.plan.ladder import Dark, Ladder, Proof, Rung


def _filter(one: Filter) -> PlannedFilter:
    return PlannedFilter(
        name=one.name,
        kind=one.kind,
        stops=one.stops,
        measured=one.measured,
        spread_stops=one.spread_stops,
    )


def _beside(one: Proof | Dark) -> PlannedBeside:
    return PlannedBeside(
        way=one.way,
        time_s=one.time_s,
        time_label=one.time_label,
        iso=one.iso.exact,
        iso_label=one.iso.label,
    )


def _proof(proof: Proof) -> PlannedProof:
    return PlannedProof(**vars(_beside(proof)), faster_by_stops=proof.faster_by_stops, error_stops=proof.error_stops)


def _rung(rung: Rung) -> PlannedRung:
    choice = rung.choice
    return PlannedRung(
        rung=rung.number,
        wanted_s=rung.asked.exact,
        wanted_label=rung.asked.label,
        time_s=choice.time_s,
        expected_s=rung.expected_s,
        time_label=choice.time_label,
        aperture=choice.aperture.exact,
        aperture_label=choice.aperture.label,
        iso=choice.iso.exact,
        iso_label=choice.iso.label,
        filters=tuple(one.name for one in rung.fitted),
        filter_stops=choice.filter_stops,
        way=choice.way,
        frames=rung.frames,
        taken=rung.taken,
        stands_for_s=choice.stands_for_s if choice.way == "many" else None,
        darker_by_stops=choice.darker_by_stops,
        error_stops=choice.error_stops,
        time_off_stops=choice.time_off_stops,
        headroom_lost_stops=rung.headroom_lost_stops,
        proof=None if rung.proof is None else _proof(rung.proof),
        bare=tuple(_proof(one) for one in rung.bare),
        must=rung.must,
        bracket_stops=choice.bracket_stops,
        reason=rung.reason,
        costs=rung.costs,
        price=choice.price + rung.touches_stops,
        paid=Paid(**asdict(choice.paid), touches_stops=rung.touches_stops),
        others=tuple(OtherWay(words=one.words, kind=one.kind, price_more=one.price_more) for one in rung.others),
    )


def planned_of(ladder: Ladder) -> PlannedLadder:
    """Return the ladder as plain records, ready for JSON."""
    base = ladder.base
    return PlannedLadder(
        plan=ladder.title,
        body=PlannedBody(name=ladder.body_name, simulated=ladder.simulated, tried=ladder.body_tried),
        base=PlannedBase(
            time_s=base.time.exact,
            time_label=base.time.label,
            aperture=base.aperture.exact,
            aperture_label=base.aperture.label,
            iso=base.iso.exact,
            iso_label=base.iso.label,
            measured=base.measured,
            filters=tuple(_filter(one) for one in ladder.always_on),
        ),
        forecast_s=ladder.forecast.total_s,
        forecast=ladder.forecast,
        frames=len(ladder.exposures),
        base_frames=PlannedBaseFrames(before=ladder.base_frames.before, after=ladder.base_frames.after),
        leave_by=ladder.leave_by,
        filters_on_hand=tuple(_filter(one) for one in ladder.on_hand),
        rungs=tuple(_rung(rung) for rung in ladder.rungs),
        turns=ladder.turns,
        darks=tuple(PlannedDark(**vars(_beside(dark)), offered=dark.offered) for dark in ladder.darks),
        unreached=ladder.unreached,
        cautions=ladder.cautions,
        notes=ladder.notes,
        learned=ladder.learned,
    )


def ladder_json(planned: PlannedLadder) -> dict[str, Any]:
    """Return what `tether ladder --json` prints, valid by ``ladder.schema.json``."""
    data = asdict(planned)
    if not planned.learned:
        del data["learned"]  # it is there only where something was learned
    return data
