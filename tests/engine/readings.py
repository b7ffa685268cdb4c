"""What frames say, made up for tests: rock, water, and where the still parts stand."""

from __future__ import annotations

from tether.journal.readings import FrameReadings, LevelsSaid, RockSaid, Sharpness, Standing, StreakSaid


def standing(
    *, right_px: float = 0.0, lost: float | None = None, squares: int = 60, uncertainty_px: float = 0.02
) -> Standing:
    """Return where the still parts stand: moved to the right, and how much of the sharpness is lost."""
    sharpness = lost if lost is None else Sharpness(
        lost=lost, uncertainty=0.01, lower=lost, upper=lost, along_px2=1.0, across_px2=1.0, along_deg=0.0
    )  # fmt: skip
    return Standing(
        right_px=right_px,
        down_px=0.0,
        uncertainty_px=uncertainty_px,
        turned_px=0.0,
        grown_px=0.0,
        most_px=abs(right_px),
        sharpness=sharpness,
        squares=squares,
    )


def rock(brighter_stops: float = 0.0, *, lifted_share: float = 0.0, off_stops: float | None = None) -> RockSaid:
    """Return still parts so much brighter than the base's."""
    return RockSaid(
        brighter_stops={"G": brighter_stops}, uncertainty_stops=0.01, lifted_share=lifted_share, off_stops=off_stops
    )


def readings(
    *,
    water_clips: float | None = None,
    water_room_stops: float | None = None,
    still: Standing | None = None,
    of_rock: RockSaid | None = None,
    streak: StreakSaid | None = None,
) -> FrameReadings:
    """Return what a frame says."""
    known = water_clips is not None or water_room_stops is not None
    water = LevelsSaid(headroom_stops=water_room_stops, clipped_share=water_clips or 0.0) if known else None
    return FrameReadings(headroom_stops=1.0, clipped_share=0.0, water=water, still=still, rock=of_rock, streak=streak)
