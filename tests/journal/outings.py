"""A believable outing, record by record, for the tests of what is read out of a journal."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from tests.journal.planned import a_ladder
from tether.journal.codec import Entry
from tether.journal.records import (
    Applied,
    ApplyIntent,
    ApplyOutcome,
    BodyFileUsed,
    CameraSeen,
    ExifRead,
    ExposeIntent,
    ExposeOutcome,
    FetchIntent,
    FetchOutcome,
    FrameKind,
    FrameOutcome,
    Kept,
    LadderEnded,
    LadderStarted,
    Noted,
    Record,
    RungEnded,
    RunStarted,
    Steered,
    Turn,
)
from tether.journal.store import Journal
from tether.journal.story import FrameStory, Outing
from tether.journal.telling import tell

START = datetime(2026, 10, 3, 16, 30, tzinfo=UTC)
APERTURE, BASE_ISO = 2**3.5, 100.0
CALDER, FENWICK = "Calder 10", "Fenwick 4"


def applied(time_s: float | None, time_label: str, aperture: float = APERTURE, iso: float = BASE_ISO) -> Applied:
    aperture_label = {2**3.0: "f/8", 2**3.5: "f/11"}[aperture]
    return Applied(
        time_s=time_s,
        time_label=time_label,
        aperture=aperture,
        aperture_label=aperture_label,
        iso=iso,
        iso_label=f"{iso:.0f}",
    )


def planned_rung(rung: int, time_s: float, label: str, filters: list[str], **more: Any) -> dict[str, Any]:
    stops = sum({CALDER: 10.0, FENWICK: 4.0}[name] for name in filters)
    return {
        "rung": rung,
        "time_s": time_s,
        "time_label": label,
        "aperture": APERTURE,
        "aperture_label": "f/11",
        "iso": BASE_ISO,
        "filters": filters,
        "filter_stops": stops,
        "way": "held" if time_s > 30 else "timed",
        "frames": 1,
        "taken": "at once",
        "stands_for_s": None,
        "proof": None,
        "others": [],
        "darker_by_stops": 0.0,
        "error_stops": 0.0,
        "reason": "No filter needed; aperture and ISO stay at the base.",
        **more,
    }


PLANNED = a_ladder(schema="tether-ladder/1", plan="Weir below the mill", base={
        "time_s": 2**-3,
        "time_label": "1/8",
        "aperture": APERTURE,
        "aperture_label": "f/11",
        "iso": BASE_ISO,
        "filters": [{"name": "Lorne polariser", "kind": "always on", "stops": 1.5}],
    }, body={"name": "Simulated body", "simulated": True, "tried": None}, forecast_s=612.4, leave_by=None, forecast={
        "exposing_s": 420.0, "proofs_s": 2.4, "changes_s": 180.0, "settling_s": 10.0, "fetching_s": 0.0, "darks_s": 0.0
    }, rungs=[
        planned_rung(
            1, 2**-10, "1/1000", [], iso=3200.0, aperture=2**3.0, aperture_label="f/8", error_stops=-1.0,
            reason="Paid with five stops of ISO and one of aperture; a stop short, the nearest that can be had.",
        ),
        planned_rung(2, 2**-3, "1/8", [], frames=3),
        planned_rung(3, 2.0, "2", [FENWICK], frames=3, reason="Four stops of filter buy four stops of time."),
        planned_rung(4, 32.0, "30", [FENWICK], iso=25.0, reason="Filter first, then ISO; the slowest the body times."),
        planned_rung(5, 124.3, "bulb", [CALDER], darker_by_stops=0.3, error_stops=0.0042,
                     proof={"way": "timed", "time_s": 2.0, "time_label": "2", "iso": 3200.0},
                     reason="Ten stops of filter; the held time takes up the rest."),
        planned_rung(6, 1980.0, "bulb", [FENWICK, CALDER], darker_by_stops=0.3, reason="Both filters; half an hour."),
    ], turns=[
        {"before_rung": 3, "what": f"fit {FENWICK}", "reason": "Rungs 3 and 4 are taken through it."},
        {"before_rung": 5, "what": f"take off {FENWICK}, fit {CALDER}", "reason": "Rung 5 is taken through it."},
        {"before_rung": 5, "what": "cover the viewfinder", "reason": "Stray light spoils long exposures."},
    ], unreached=[
        {"wanted_s": 2**-13, "wanted_label": "1/8000", "sentence": "1/8000 s: 2 stops of light too little."},
    ], cautions=["Calder 10 is not measured: rung 5 may be a stop off."])  # fmt: skip


def run_started() -> RunStarted:
    return RunStarted(
        version="0.1.0",
        simulated=True,
        pace="60",
        camera=CameraSeen(model="Simulated body", serial="SIM1", firmware="1", lens="35 mm", simulated=True),
        body_file=BodyFileUsed(name="simulated", tried=None),
    )


def ladder_started() -> LadderStarted:
    return LadderStarted(ladder=1, title="Weir below the mill", plan_text='title = "Weir"\n', planned=PLANNED)


def frame_begun(
    frame: int,
    rung: int | None,
    planned: Applied,
    *,
    kind: FrameKind = "rung",
    way: str = "timed",
    open_s: float | None = None,
    filters: tuple[str, ...] = (),
) -> list[Record]:
    """What is kept up to the moment a frame is exposed."""
    held = way == "held"
    asked = applied(None, "bulb", planned.aperture or 1, planned.iso or 1) if held else planned
    return [
        ApplyIntent(frame=frame, asked=asked, rung=rung),
        ApplyOutcome(frame=frame, read_back=asked),
        ExposeIntent(
            frame=frame,
            ladder=1,
            rung=rung,
            kind=kind,
            way=way,
            planned=planned,
            asked=asked,
            open_s=open_s or planned.time_s or 0.0,
            filters=list(filters),
            filter_stops=sum({CALDER: 10.0, FENWICK: 4.0}[name] for name in filters),
        ),
    ]


def frame_exposed(
    frame: int, held_s: float | None, *, outcome: FrameOutcome = "made", note: str | None = None
) -> ExposeOutcome:
    open_ns = frame * 40_000_000_000
    opened = START + timedelta(seconds=40 * frame)
    span_s = held_s or 0.01
    return ExposeOutcome(
        frame=frame,
        outcome=outcome,
        held_s=held_s,
        realtime=True if held_s else None,
        closed_by="person" if outcome == "closed early" else "planned",
        open_called_ns=open_ns,
        open_returned_ns=open_ns + 1_200_000,
        close_called_ns=open_ns + round(span_s * 1e9),
        close_returned_ns=open_ns + round(span_s * 1e9) + 1_100_000,
        opened_utc=opened.isoformat(),
        closed_utc=(opened + timedelta(seconds=span_s)).isoformat(),
        note=note,
    )


def frame_fetched(frame: int, rung: int | None, exif: Applied, *, differs: tuple[str, ...] = ()) -> list[Record]:
    """What is kept when a frame has come home."""
    card_name = f"SIM_{frame:04d}.DNG"
    stem = f"weir_l1_r{rung:02d}_{frame:04d}_SIM_{frame:04d}" if rung else f"weir_l1_{frame:04d}_SIM_{frame:04d}"
    return [
        FetchIntent(frame=frame, folder="/DCIM/100SIM", name=card_name),
        FetchOutcome(
            frame=frame,
            card_name=card_name,
            name=f"frames/{stem}.dng",
            size=2_000_000 + frame,
            sha256=f"{frame:064x}",
            preview=f"previews/{stem}.jpg",
        ),
        ExifRead(frame=frame, exif=exif, taken_at=None, differs=list(differs)),
    ]


def weir(*, end: bool = True) -> list[Record]:
    """An evening at a weir; without `end` the run breaks off while frame 9 is open."""
    fast, eighth = applied(2**-10, "1/1000", 2**3.0, 3200), applied(2**-3, "1/8")
    two, thirty = applied(2.0, "2"), applied(32.0, "30", iso=25)
    proof, long = applied(2.0, "2", 2**3.0, 3200), applied(124.3, "2:04")
    records: list[Record] = [run_started(), ladder_started()]
    records += [*frame_begun(1, None, eighth, kind="base"), frame_exposed(1, None), *frame_fetched(1, None, eighth)]
    records += [*frame_begun(2, 1, fast), frame_exposed(2, None), *frame_fetched(2, 1, fast)]
    records += [RungEnded(ladder=1, rung=1, outcome="done")]
    for frame in (3, 4):
        records += [
            *frame_begun(frame, 2, eighth), frame_exposed(frame, None), *frame_fetched(frame, 2, eighth)
        ]  # fmt: skip
    records += [Steered(verb="next", effect="The last frame of rung 2 is not taken.")]
    records += [RungEnded(ladder=1, rung=2, outcome="done in part", note="Two of three frames.")]
    fit = Turn(ladder=1, rung=3, what=f"fit {FENWICK}", reason="Rungs 3 and 4 are taken through it.", state="asked")
    records += [fit, Turn(ladder=1, rung=3, what=fit.what, reason=fit.reason, state="answered")]
    records += [*frame_begun(5, 3, two, filters=(FENWICK,)), frame_exposed(5, None), *frame_fetched(5, 3, two)]
    records += [RungEnded(ladder=1, rung=3, outcome="done")]
    off = "The body's 30 s was 33.6 s: 0.07 stop brighter than asked."
    records += [*frame_begun(6, 4, thirty, filters=(FENWICK,)), frame_exposed(6, None, outcome="made, differs")]
    records += frame_fetched(6, 4, applied(33.6, "33.6", iso=25), differs=(off,))
    records += [RungEnded(ladder=1, rung=4, outcome="done, differs")]
    swap = f"take off {FENWICK}, fit {CALDER}"
    records += [Turn(ladder=1, rung=5, what=swap, reason="Rung 5 is taken through it.", state="answered beforehand")]
    records += [*frame_begun(7, 5, proof, kind="proof", filters=(CALDER,)), frame_exposed(7, None)]
    records += frame_fetched(7, 5, proof)
    records += frame_begun(8, 5, long, way="held", open_s=124.3, filters=(CALDER,))
    records += [Steered(verb="close and keep", effect="Frame 8 was closed after 101 s and kept.")]
    records += [
        frame_exposed(8, 101.0004, outcome="closed early", note="Closed by the person."),
        *frame_fetched(8, 5, applied(101.0, "101")),
    ]
    records += [RungEnded(ladder=1, rung=5, outcome="done")]
    records += [Noted(about="caution", text="Light fell by 0.2 stop since the base.", rung=6)]
    longest = applied(1980.0, "33:00")
    records += frame_begun(9, 6, longest, way="held", open_s=1980.0, filters=(FENWICK, CALDER))
    if end:
        records += [frame_exposed(9, 1980.0002), *frame_fetched(9, 6, applied(1980.0, "1980"))]
        records += [RungEnded(ladder=1, rung=6, outcome="done"), LadderEnded(ladder=1, outcome="done in part")]
    return records


def as_entries(records: Iterable[Record]) -> tuple[Entry, ...]:
    """Records as the journal would give them back, five seconds apart."""
    return tuple(
        Entry(seq=seq, utc=START + timedelta(seconds=5 * seq), mono_ns=5_000_000_000 * seq, record=record)
        for seq, record in enumerate(records, start=1)
    )


def write_outing(folder: Path, records: Iterable[Record]) -> None:
    """Keep records in a journal and close it."""
    journal = Journal.create(folder)
    journal._db.execute("PRAGMA synchronous = OFF")  # for speed; that a journal flushes is tested by itself
    for entry in as_entries(records):
        assert isinstance(entry.record, Kept)
        journal.add(entry.record, utc=entry.utc, mono_ns=entry.mono_ns)
    journal.close()


def told(records: Iterable[Record], *, running: bool = False) -> Outing:
    """Return what records tell as an outing."""
    return tell(as_entries(records), name="weir", running=running)


def frame(outing: Outing, number: int) -> FrameStory:
    """Return the frame of a running number."""
    return next(one for ladder in outing.ladders for one in ladder.frames if one.frame == number)
