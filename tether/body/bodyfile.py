"""Body files: what a body can do and how it is spoken to, as checked TOML files, and the abilities made from them.

A body file is found by its name among those shipped and in the user's own folder, or given as a path; how such files
are laid over each other stands in :mod:`tether.body.layers`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from tether.body.driver.profile import Profile
from tether.body.layers import Layered, read_layers
from tether.errors import PlanError
from tether.exposure.abilities import Abilities
from tether.exposure.labels import parse_iso, parse_time
from tether.exposure.marks import Mark, Step, aperture_marks, iso_marks, time_marks
from tether.validation import key_sentence


def _read_by(parse: Callable[[str, Step], Mark]) -> Callable[[object], Mark]:
    """Return a reader of labels whose refusal is told with the key; the ends of half- and third-stop lists are one."""

    def read(value: object) -> Mark:
        try:
            return parse(str(value), Step.THIRD)
        except PlanError as error:
            raise ValueError(str(error)) from error

    return read


TimeKey = Annotated[Mark, BeforeValidator(_read_by(parse_time))]
IsoKey = Annotated[Mark, BeforeValidator(_read_by(parse_iso))]


def _between(marks: tuple[Mark, ...], least: float, most: float) -> tuple[Mark, ...]:
    """Return the marks from one value to another."""
    edge = 2.0 ** (1 / 24)  # an eighth of a third-stop step: keeps the ends of a range in it
    return tuple(mark for mark in marks if least / edge <= mark.exact <= most * edge)


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Times(_Section):
    """The times a body keeps by itself.

    `means_s` names labels that stand for another time than their exact one; `also` are times outside `shortest` to
    `longest` that it has all the same.
    """

    shortest: TimeKey
    longest: TimeKey
    step: Step
    also: tuple[TimeKey, ...] = ()
    means_s: dict[str, Annotated[float, Field(gt=0)]] = {}

    def marks(self) -> tuple[Mark, ...]:
        """Return every time the body keeps by itself, ascending."""
        marks = _between(time_marks(self.step), self.shortest.exact, self.longest.exact)
        marks += tuple(mark for mark in self.also if mark not in marks)
        meant = [Mark(label=mark.label, exact=self.means_s.get(mark.label, mark.exact)) for mark in marks]
        return tuple(sorted(meant, key=lambda mark: mark.exact))


class Apertures(_Section):
    """How the body steps apertures."""

    step: Step


class Isos(_Section):
    """The ISO values of a body; those below `base_iso` are extended and lose headroom."""

    lowest: IsoKey
    highest: IsoKey
    step: Step
    base_iso: IsoKey


class Hold(_Section):
    """Whether and how long we can hold the shutter, and the body's own delays; unknown where left out."""

    can_hold: bool | None = None
    shortest_s: Annotated[float, Field(gt=0)] = 1.0
    longest_s: Annotated[float, Field(gt=0)] = 7200.0
    open_delay_s: Annotated[float, Field(ge=0, lt=5)] | None = None
    close_delay_s: Annotated[float, Field(ge=0, lt=5)] | None = None
    delay_uncertainty_s: Annotated[float, Field(ge=0, lt=5)] | None = None


class SensorTable(_Section):
    """Pixel pitch [µm] and size [mm]; where known, electrons of mid-grey at base ISO, and read noise [e-]."""

    pitch_um: Annotated[float, Field(gt=0.5, lt=30)]
    width_mm: Annotated[float, Field(gt=2, lt=100)]
    height_mm: Annotated[float, Field(gt=2, lt=100)]
    grey_e: Annotated[float, Field(gt=1, lt=1e6)] | None = None
    read_noise_e: Annotated[float, Field(gt=0, lt=1000)] | None = None


class ShutterOption(_Section):
    """A way to expose without the body shaking itself: how to set it, and the shortest time it leaves, if it caps."""

    how: str
    shortest: TimeKey | None = None


class Other(_Section):
    """What else the planner and the checks want to know; unknown where left out.

    `battery_per_h` is the share of a full charge, 0 to 1, that an hour in a run uses up.
    """

    optical_finder: bool | None = None
    dark_frame_by_body: bool | None = None
    fetch_s: Annotated[float, Field(ge=0)] | None = None
    frame_bytes: Annotated[int, Field(gt=0)] | None = None
    battery_per_h: Annotated[float, Field(gt=0, le=20)] | None = None


Source = Literal["library source", "model dump", "issue thread", "common practice", "from memory", "own measurement"]


class Provenance(_Section):
    """Where the values under a key come from."""

    kind: Source
    what: str


class BodyFile(_Section):
    """A whole body file.

    Attributes
    ----------
    name
        As shown to people.
    simulated
        Whether it stands for the simulated body.
    tried
        When and with what it was tried on hardware; left out: it was not.
    by_hand
        What the person must set on the body, as sentences.
    shutter
        Ways to expose without shaking: "first curtain" and "mirror up".
    driver
        How the body is spoken to; left out: it can't be (a simulated one).
    sources
        Where the values come from, by table.
    """

    name: str
    simulated: bool = False
    tried: str | None = None
    by_hand: tuple[str, ...] = ()
    times: Times
    apertures: Apertures
    isos: Isos
    hold: Hold = Hold()
    sensor: SensorTable
    body: Other = Other()
    shutter: dict[Literal["first curtain", "mirror up"], ShutterOption] = {}
    driver: Profile | None = None
    sources: dict[str, Provenance] = {}

    def profile(self) -> Profile:
        """Return how the body is spoken to. Raises PlanError where the file does not say."""
        if self.driver is None:
            raise PlanError(f"{self.name}: this body file does not say how the body is spoken to.")
        return self.driver

    def abilities(self, widest: float, narrowest: float) -> Abilities:
        """Return what this body can do with a lens whose f-numbers run from `widest` to `narrowest`."""
        return Abilities(
            name=self.name,
            simulated=self.simulated,
            tried=self.tried,
            times=self.times.marks(),
            apertures=_between(aperture_marks(self.apertures.step), widest, narrowest),
            isos=_between(iso_marks(self.isos.step), self.isos.lowest.exact, self.isos.highest.exact),
            base_iso=self.isos.base_iso.exact,
            can_hold=self.hold.can_hold,
            longest_hold_s=self.hold.longest_s,
            shortest_hold_s=self.hold.shortest_s,
            open_delay_s=self.hold.open_delay_s,
            close_delay_s=self.hold.close_delay_s,
            delay_uncertainty_s=self.hold.delay_uncertainty_s,
            pitch_um=self.sensor.pitch_um,
            sensor_mm=(self.sensor.width_mm, self.sensor.height_mm),
            optical_finder=self.body.optical_finder,
            dark_frame_by_body=self.body.dark_frame_by_body,
            fetch_s=self.body.fetch_s,
            frame_bytes=self.body.frame_bytes,
            grey_e=self.sensor.grey_e,
            read_noise_e=self.sensor.read_noise_e,
        )


def load_body_file(name: str) -> BodyFile:
    """Load and check a body file given by name or path. Raises PlanError with a sentence for every mistake."""
    return checked(read_layers(name))


def checked(layered: Layered) -> BodyFile:
    """Return a merged file as a body file. Raises PlanError with a sentence for every mistake, naming its file."""
    try:
        return BodyFile.model_validate(layered.data)
    except ValidationError as error:
        raise PlanError(*(key_sentence(layered.file_of(one["loc"]).name, one) for one in error.errors())) from error
