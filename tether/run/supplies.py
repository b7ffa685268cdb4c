"""What is left to work with: battery, card, disk; as the body and the machine tell it."""

from __future__ import annotations

from tether.body.protocol import Status
from tether.run.context import Run
from tether.run.events import SuppliesSeen
from tether.run.machine import disk_at


def seen(status: Status, run: Run, rung: int) -> SuppliesSeen:
    """Return what is left before a rung, and how many frames are still to come from it on."""
    try:
        disk_bytes = disk_at(run.folder.path).free_bytes
    except OSError:
        disk_bytes = None
    frame_bytes = run.abilities.frame_bytes
    return SuppliesSeen(
        battery=status.battery,
        card_frames=status.card_frames_left,
        temperature_c=status.temperature_c,
        disk_bytes=disk_bytes,
        disk_frames=disk_bytes // frame_bytes if disk_bytes is not None and frame_bytes else None,
        to_come=len(run.ladder.exposures_from(rung)),
    )
