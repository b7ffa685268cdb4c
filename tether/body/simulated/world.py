"""The truth of a simulated world: what the light, the water, the filters and the body really are and do.

Every key has a default, so an empty file is a world. A file is TOML with the keys of :class:`World`::

    seed = 7
    stops_per_minute = 0.2
    base = { time_s = 0.015625, aperture = 11.3137, iso = 100, always_on = [{ name = "Polariser", stops = 1.5 }] }
    true_times_s = { "30" = 30.0 }

    [filters."Calder 10"]
    stops = 10.4

    [[faults]]
    what = "vanishes"
    at_frame = 3
    for_s = 20
"""

from __future__ import annotations

import zlib
from itertools import pairwise
from pathlib import Path
from typing import Literal

from pydantic import AwareDatetime, Field, ValidationError, field_validator

from tether.body.protocol import Fitted
from tether.body.simulated.faults import Fault, Part
from tether.errors import PlanError
from tether.validation import key_sentences, read_toml

#: Unmeasured filters are off by up to this share of their nominal strength: ±10 % of the nominal density in
#: manufacture, ANSI PH2.19-1976.
FILTER_TOLERANCE = 0.10
#: The cast of a filter that is not given: up to this share of its strength, red against blue. Own choice, no source.
CAST_SHARE = 0.02

#: What is drawn of clips: how far under white, how much spread, and how deep a knee at most. Own choice, of the kind
#: that files of real bodies show.
DRAWN_UNDER, DRAWN_SPREAD, DRAWN_KNEE = (0.08, 0.15), (0.003, 0.02), 0.06

Channels = tuple[float, float, float]


class Base(Part):
    """The exposure at which the still rocks have the level `base_level_stops` when the world begins.

    Attributes
    ----------
    time_s, aperture, iso
        Exact values [s, f-number, ISO].
    always_on
        Filters that were on the lens, as name and nominal strength [stops]. They are fitted when the world begins, and
        belong in every later :class:`~tether.body.protocol.Stage` that tells what is fitted.
    """

    time_s: float = Field(default=2.0**-6, gt=0)
    aperture: float = Field(default=2.0**3.5, gt=0.5)
    iso: float = Field(default=100.0, gt=1)
    always_on: tuple[Fitted, ...] = ()


class TrueFilter(Part):
    """What a filter really does.

    Attributes
    ----------
    stops
        Strength in green [stops]; left out: nominal, off by a share drawn from the seed and the filter's name.
    cast_stops
        What red, green and blue lose beyond that [stops]; left out: drawn likewise.
    """

    stops: float | None = Field(default=None, ge=0)
    cast_stops: Channels | None = None


class Clips(Part):
    """Where pixels really clip, at any ISO; as it stands, all of them at the white level that the file tells.

    Attributes
    ----------
    drawn
        Whether what follows is drawn from the world's seed instead: 8 to 15 % under, by channel, a spread of 0.3 to
        2 %, and a knee in half of the worlds.
    under
        How far under the file's white red, green and blue clip, as a share of the way from black to white.
    spread
        Standard deviation of the level from pixel to pixel, as a share of it; the same pattern in every frame.
    knee
        From so far under its clip, as a share of it, a pixel answers only half as strongly.
    """

    drawn: bool = False
    under: Channels = (0.0, 0.0, 0.0)
    spread: float = Field(default=0.0, ge=0, le=0.05)
    knee: float = Field(default=0.0, ge=0, le=0.3)

    @field_validator("under")
    @classmethod
    def _some_left(cls, under: Channels) -> Channels:
        if any(not 0 <= share <= 0.3 for share in under):
            raise ValueError("every share must be from 0 to 0.3")
        return under

    def really(self, seed: int) -> Clips:
        """Return what holds in a world of this seed."""
        if not self.drawn:
            return self
        import numpy as np  # here, since whoever starts a run has to do with worlds too

        rng = np.random.default_rng([seed, 6])
        red, green, blue = rng.uniform(*DRAWN_UNDER, 3)
        spread = float(np.exp(rng.uniform(*np.log(DRAWN_SPREAD))))
        knee = float(rng.uniform(0, DRAWN_KNEE) * (rng.random() < 0.5))
        return Clips(under=(float(red), float(green), float(blue)), spread=spread, knee=knee)


class SensorTruth(Part):
    """The sensor.

    Attributes
    ----------
    window_px
        Width and height of the part that is read out, at the true pixel pitch, so that frames stay small [px]; even.
    black, white
        Raw levels of no light and of clipping [DN], 14 bit.
    full_well_e
        Electrons that reach `white` at base ISO.
    read_noise_e
        Standard deviation of one reading [electrons].
    dark_e_s
        Dark current of a pixel at 20 °C [electrons/s].
    dark_doubling_c
        Degrees that double it [°C], 5 to 8 (A. Theuwissen, Harvest Imaging blog, 2009).
    hot_share, hot_e_s
        Share of pixels that are hot, and their mean dark current at 20 °C [electrons/s].
    stuck_share
        Share of pixels that read half of clipping or more, whatever falls on them.
    clips
        See :class:`Clips`.
    """

    window_px: tuple[int, int] = (1200, 800)
    black: int = Field(default=512, ge=0, le=4096)
    white: int = Field(default=16383, gt=4096, le=16383)
    full_well_e: float = Field(default=50_000.0, gt=100)
    read_noise_e: float = Field(default=3.0, ge=0)
    dark_e_s: float = Field(default=0.05, ge=0)
    dark_doubling_c: float = Field(default=6.0, ge=5, le=8)
    hot_share: float = Field(default=5e-5, ge=0, le=0.01)
    hot_e_s: float = Field(default=20.0, ge=0)
    stuck_share: float = Field(default=0.0, ge=0, le=0.01)
    clips: Clips = Clips()

    @field_validator("window_px")
    @classmethod
    def _even(cls, window: tuple[int, int]) -> tuple[int, int]:
        if any(side % 2 or not 120 <= side <= 4000 for side in window):
            raise ValueError("width and height must be even and from 120 to 4000 px")
        return window


class LensTruth(Part):
    """The lens and where the scene is: focal length [mm] and distance [m]."""

    focal_mm: float = Field(default=35.0, gt=5, le=1000)
    distance_m: float = Field(default=8.0, gt=0.5, le=10_000)


class SceneTruth(Part):
    """What moves: speeds of the water across the view [m/s], frequency [1/s] and amplitude [m] of the leaves' swing."""

    fall_m_s: float = Field(default=2.2, ge=0, le=30)
    run_m_s: float = Field(default=1.4, ge=0, le=30)
    pool_m_s: float = Field(default=0.2, ge=0, le=30)
    leaves_hz: float = Field(default=0.7, ge=0.01, le=20)
    leaves_m: float = Field(default=0.007, ge=0, le=0.1)


class Clouds(Part):
    """How the light wanders beside its steady fall.

    Attributes
    ----------
    stops
        How far it goes to either side at most [stops].
    period_s
        The time after which its slowest part comes again [s]; three faster ones are laid over it.
    """

    stops: float = Field(default=0.0, ge=0, le=3)
    period_s: float = Field(default=120.0, ge=0.01, le=86_400)


class Sun(Part):
    """The sun at a place as the light: that of a clear sky by its altitude, as haze and hills let it through.

    Attributes
    ----------
    latitude, longitude
        Of the place [degrees].
    base_utc
        When the base is right, but for clouds: a moment with its offset.
    late_s
        How much later than by the sun's altitude the light comes and goes [s].
    pace
        How many stops it changes by for each that a clear sky's changes by.
    """

    latitude: float = Field(ge=-90, le=90)
    longitude: float = Field(ge=-180, le=180)
    base_utc: AwareDatetime
    late_s: float = Field(default=0.0, ge=-7200, le=7200)
    pace: float = Field(default=1.0, ge=0, le=3)


class Knock(Part):
    """The tripod is knocked, or the picture goes soft, before an exposure of the body's own count from 1.

    Attributes
    ----------
    before_frame
        From this exposure on it is so.
    right_px, down_px
        How far the picture moves [px].
    soft_px
        Standard deviation of a blur that is added: focus off, spray on the glass [px].
    """

    before_frame: int = Field(ge=1)
    right_px: float = Field(default=0.0, ge=-30, le=30)
    down_px: float = Field(default=0.0, ge=-30, le=30)
    soft_px: float = Field(default=0.0, ge=0, le=20)


class Latency(Part):
    """How long the body takes.

    Attributes
    ----------
    apply_s
        To set one value [s].
    accept_s
        To accept an open, close or trigger command [s].
    card_s
        From the end of an exposure until its file is on the card [s].
    bytes_per_s
        Of a download.
    """

    apply_s: float = Field(default=0.05, ge=0, le=60)
    accept_s: float = Field(default=0.005, ge=0, le=60)
    card_s: float = Field(default=0.3, ge=0, le=600)
    bytes_per_s: float = Field(default=20e6, gt=1e3)


class World(Part):
    """The truth of a simulated world.

    Attributes
    ----------
    seed
        Of everything drawn: the scene's textures, filters, noise, delays.
    base, base_level_stops
        The light: the still rocks' mean in green at this exposure lies so many stops from clipping [stops], ≤ 0.
    stops_per_minute
        How fast the light falls; negative: rises.
    sun
        The sun's course instead, see :class:`Sun`.
    clouds
        See :class:`Clouds`.
    light
        Or its whole course instead of all these: moments since the world began [s], in order, and how much brighter it
        is then [stops]; between them it goes evenly, after the last one it stays.
    knocks
        See :class:`Knock`.
    focus_off_px
        How far off the focus is when the world begins: the standard deviation of the blur that this makes [px];
        negative: it lies too near. Nudging moves it.
    leak_e_s
        Light that comes not through the lens but through finder or filter holder: electrons in a pixel, mean over the
        frame; three times as many at its lower edge as at its upper one [electrons/s].
    filters
        What filters really do, by name.
    true_times_s
        Times that are not what they say: label to seconds really open.
    steps_off_stops
        How far an ISO or an f-number may be off what it says, beside the base's: drawn for each from the seed [stops].
    open_delay_s, close_delay_s, delay_jitter_s
        From command to shutter movement [s], and by how much either may be off each time (evenly drawn, plus or minus).
    dark_frame_by_body
        Whether, after frames of 1 s and more, the body takes a dark frame as long and subtracts it.
    exif_time
        Whether files tell the time really open ("open") or what the body's label stands for ("label").
    exif_held_whole
        Whether files of held frames tell whole seconds only, one at the least.
    vanish_closes_s
        When the body vanishes with its shutter held open: so many seconds after, it shuts by itself; left out: never.
    card_frames
        Frames that the card holds.
    battery, battery_per_s, battery_per_frame
        Charge at the start (0..1), and what a second open and a frame cost of it.
    temperature_c
        Of the sensor [°C].
    sensor, lens, scene, latency
        See :class:`SensorTruth`, :class:`LensTruth`, :class:`SceneTruth`, :class:`Latency`.
    faults
        See :class:`~tether.body.simulated.faults.Fault`.
    """

    seed: int = Field(default=1, ge=0)
    base: Base = Base()
    base_level_stops: float = Field(default=-4.0, ge=-14, le=0)
    stops_per_minute: float = Field(default=0.0, ge=-5, le=5)
    sun: Sun | None = None
    clouds: Clouds = Clouds()
    light: tuple[tuple[float, float], ...] = ()
    knocks: tuple[Knock, ...] = ()
    focus_off_px: float = Field(default=0.0, ge=-20, le=20)
    leak_e_s: float = Field(default=0.0, ge=0, le=1e6)
    filters: dict[str, TrueFilter] = Field(default_factory=dict)
    true_times_s: dict[str, float] = Field(default_factory=dict)
    steps_off_stops: float = Field(default=0.0, ge=0, le=0.5)
    open_delay_s: float = Field(default=0.060, ge=0, lt=5)
    close_delay_s: float = Field(default=0.045, ge=0, lt=5)
    delay_jitter_s: float = Field(default=0.005, ge=0, lt=1)
    dark_frame_by_body: bool = False
    exif_time: Literal["open", "label"] = "open"
    exif_held_whole: bool = False
    vanish_closes_s: float | None = Field(default=None, gt=0)
    card_frames: int = Field(default=1000, ge=0)
    battery: float = Field(default=1.0, gt=0, le=1)
    battery_per_s: float = Field(default=2e-5, ge=0)
    battery_per_frame: float = Field(default=2e-4, ge=0)
    temperature_c: float = Field(default=12.0, ge=-40, le=70)
    sensor: SensorTruth = SensorTruth()
    lens: LensTruth = LensTruth()
    scene: SceneTruth = SceneTruth()
    latency: Latency = Latency()
    faults: tuple[Fault, ...] = ()

    @field_validator("light")
    @classmethod
    def _in_order(cls, light: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        if any(later <= sooner for (sooner, _), (later, _) in pairwise(light)) or (light and light[0][0] > 0):
            raise ValueError("moments must rise, from 0 on")
        return light

    @field_validator("true_times_s")
    @classmethod
    def _longer_than_nothing(cls, times: dict[str, float]) -> dict[str, float]:
        if any(not 0 < seconds < 86_400 for seconds in times.values()):
            raise ValueError("every time must be more than 0 and less than 86400 s")
        return times

    def aperture_off_stops(self, aperture: float) -> float:
        """Return how much brighter an f-number is than it says, beside the base's [stops]."""
        return self._off_stops(8, aperture) - self._off_stops(8, self.base.aperture)

    def iso_off_stops(self, iso: float) -> float:
        """Return how much brighter an ISO is than it says, beside the base's [stops]."""
        return self._off_stops(9, iso) - self._off_stops(9, self.base.iso)

    def _off_stops(self, of: int, value: float) -> float:
        if not self.steps_off_stops:
            return 0.0
        import numpy as np  # here, since whoever starts a run has to do with worlds too

        rng = np.random.default_rng([self.seed, of, round(96 * np.log2(value))])
        return float(self.steps_off_stops / 2 * rng.uniform(-1, 1))

    def filter_stops(self, fitted: Fitted) -> Channels:
        """Return what a fitted filter really takes from red, green and blue [stops].

        A filter whose strength is not given is the same in every world of this seed.
        """
        import numpy as np  # here, since whoever starts a run has to do with worlds too

        truth = self.filters.get(fitted.name, TrueFilter())
        rng = np.random.default_rng([self.seed, zlib.crc32(fitted.name.encode())])
        off, warmth = rng.uniform(-1, 1, 2)
        stops = fitted.stops * (1 + FILTER_TOLERANCE * off) if truth.stops is None else truth.stops
        cast = CAST_SHARE * warmth * stops
        red, green, blue = (-cast, 0.0, cast) if truth.cast_stops is None else truth.cast_stops
        return stops + red, stops + green, stops + blue

    def stack_stops(self, fitted: tuple[Fitted, ...]) -> Channels:
        """Return what a stack of filters really takes from red, green and blue [stops]."""
        red, green, blue = map(sum, zip((0.0, 0.0, 0.0), *map(self.filter_stops, fitted), strict=True))
        return float(red), float(green), float(blue)


def load_world(path: Path) -> World:
    """Load and check a world file.

    Raises
    ------
    PlanError
        The file is not TOML, or not a world: a sentence for every mistake.
    """
    try:
        return World.model_validate(read_toml(path.read_text(encoding="utf-8-sig"), path.name))
    except ValidationError as error:
        raise PlanError(*key_sentences(path.name, error, World.model_fields)) from error
    except (OSError, UnicodeDecodeError) as error:
        raise PlanError(f"{path} can't be read as a world file; it must be a text file in TOML.") from error
