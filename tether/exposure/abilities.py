"""What a body and its lens can do, as data: the planner's view of a camera.

None always means "not known", never "no limit" and never "leave as it is".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from tether.exposure.marks import Mark

#: The three values of an exposure that a body is set to, one at a time.
Dial = Literal["time", "aperture", "iso"]
DIALS: tuple[Dial, ...] = get_args(Dial)


@dataclass(frozen=True, kw_only=True)
class Abilities:
    """Lists of marks and limits of one body with one lens.

    Attributes
    ----------
    name
        The body, as shown to people.
    simulated
        True for the simulated body; shown wherever results are.
    tried
        When and with what this body file was tried on hardware; None: not tried on hardware.
    times, apertures, isos
        What the body offers, ascending in exact value; `label` is what the body is sent.
    base_iso
        Lowest ISO that is not extended; marks below it lose highlight headroom.
    can_hold
        Whether we can hold the shutter open and close it ourselves; None: not known.
    longest_hold_s, shortest_hold_s
        Bounds of a held exposure [s].
    open_delay_s, close_delay_s, delay_uncertainty_s
        From our command to the shutter's movement [s]; None: not known.
    pitch_um
        Distance between pixel centres [µm].
    sensor_mm
        Width and height of the sensor [mm].
    optical_finder
        Whether stray light can enter through an optical finder; None: not known.
    dark_frame_by_body
        Whether the body can take a dark frame after each long exposure by itself; None: not known.
    fetch_s
        Time to bring one frame home [s]; None: not known.
    frame_bytes
        Size of one frame [bytes]; None: not known.
    grey_e, read_noise_e
        Electrons of mid-grey at base ISO, and read noise [e-]; None: not known.
    """

    name: str
    simulated: bool
    tried: str | None
    times: tuple[Mark, ...]
    apertures: tuple[Mark, ...]
    isos: tuple[Mark, ...]
    base_iso: float
    can_hold: bool | None
    longest_hold_s: float
    shortest_hold_s: float
    open_delay_s: float | None
    close_delay_s: float | None
    delay_uncertainty_s: float | None
    pitch_um: float
    sensor_mm: tuple[float, float]
    optical_finder: bool | None
    dark_frame_by_body: bool | None
    fetch_s: float | None
    frame_bytes: int | None
    grey_e: float | None = None
    read_noise_e: float | None = None

    def marks(self, dial: Dial) -> tuple[Mark, ...]:
        """Return what the body offers of one of the three."""
        return {"time": self.times, "aperture": self.apertures, "iso": self.isos}[dial]

    @property
    def sensor_px(self) -> tuple[float, float]:
        """Width and height of the sensor [px], as near as pitch and size tell."""
        width_mm, height_mm = self.sensor_mm
        return width_mm * 1e3 / self.pitch_um, height_mm * 1e3 / self.pitch_um
