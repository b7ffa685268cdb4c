"""What runs show to faces, in few words, for the tests of what faces make of it."""

from __future__ import annotations

from datetime import UTC, datetime

from tether.control.server import Server
from tether.journal.codec import Entry
from tether.journal.readings import FrameReadings, LevelsSaid, RockSaid, Sharpness, Standing
from tether.journal.records import (
    Applied,
    ExifRead,
    ExposeOutcome,
    FetchOutcome,
    FrameKind,
    FrameOutcome,
    LadderEnded,
    LadderOutcome,
    Record,
    RungEnded,
    RungOutcome,
    Turn,
    TurnState,
)

NOON = datetime(2026, 10, 3, 12, 0, tzinfo=UTC)


def entry(record: Record, stream: int | None = 1, seq: int | None = None) -> Entry:
    """Return a record as the one of a number in what is shown."""
    return Entry(record=record, stream=stream, seq=seq, utc=NOON, mono_ns=7)


def exposed(
    frame: int,
    rung: int | None = 1,
    kind: FrameKind = "rung",
    *,
    outcome: FrameOutcome = "made",
    held_s: float | None = None,
) -> ExposeOutcome:
    return ExposeOutcome(
        frame=frame,
        rung=rung,
        kind=kind,
        outcome=outcome,
        held_s=held_s,
        realtime=None,
        closed_by=None,
        open_called_ns=None,
        open_returned_ns=None,
        close_called_ns=None,
        close_returned_ns=None,
        opened_utc=None,
        closed_utc=None,
    )


def home(frame: int | None, name: str) -> FetchOutcome:
    return FetchOutcome(frame=frame, card_name="SIM_0001.DNG", name=f"frames/{name}", size=1, sha256="0")


def differs(frame: int, *clauses: str) -> ExifRead:
    return ExifRead(frame=frame, exif=Applied(), taken_at=None, differs=list(clauses))


def turn(rung: int | None, what: str, reason: str, state: TurnState = "asked") -> Turn:
    return Turn(ladder=1, rung=rung, what=what, reason=reason, state=state)


def readings(
    *,
    headroom_stops: float | None = 0.8,
    clipped_share: float = 0.0,
    water: tuple[float | None, float] | None = None,
    off_stops: float | None = None,
    moved: tuple[float, float] | None = None,
    lost: float | None = None,
) -> FrameReadings:
    """Return what a frame says: `water` its headroom and clipped share, `moved` right and down [px]."""
    rock = RockSaid(brighter_stops={}, uncertainty_stops=0.01, lifted_share=0.0, off_stops=off_stops)
    sharpness = Sharpness(
        lost=lost or 0.0, uncertainty=0.01, lower=0.0, upper=0.0, along_px2=0.0, across_px2=0.0, along_deg=0.0
    )
    right_px, down_px = moved or (0.0, 0.0)
    still = Standing(
        right_px=right_px,
        down_px=down_px,
        uncertainty_px=0.1,
        turned_px=0.0,
        grown_px=0.0,
        most_px=0.0,
        sharpness=None if lost is None else sharpness,
        squares=9,
    )
    return FrameReadings(
        headroom_stops=headroom_stops,
        clipped_share=clipped_share,
        water=None if water is None else LevelsSaid(headroom_stops=water[0], clipped_share=water[1]),
        rock=None if off_stops is None else rock,
        still=None if moved is None else still,
    )


def rung_ended(rung: int, outcome: RungOutcome = "done", note: str | None = None) -> RungEnded:
    return RungEnded(ladder=1, rung=rung, outcome=outcome, note=note)


def ladder_ended(outcome: LadderOutcome = "done", note: str | None = None, trouble: str | None = None) -> LadderEnded:
    return LadderEnded(ladder=1, outcome=outcome, note=note, trouble=trouble)


class TellingServer(Server):
    """A server that numbers what it is given to show."""

    _last = 0

    def tell(self, *records: Record) -> None:
        """Show records to all faces."""
        for record in records:
            self._last += 1
            self.show(entry(record, self._last))
