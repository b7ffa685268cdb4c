"""Body files: what a body can do, as a checked TOML file, and the abilities made from it.

A body file is found by its name in the user's own folder first, then among those shipped; or it is given as a path.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from tether.errors import PlanError
from tether.exposure.abilities import Abilities
from tether.exposure.labels import parse_iso, parse_time
from tether.exposure.marks import Mark, Step, aperture_marks, iso_marks, time_marks
from tether.sentences import key_sentences, read_toml

SHIPPED = "bodies"


def profile_folders(kind: str) -> tuple[Path, ...]:
    """Return the folders that hold profiles of a kind, the user's own first, then the shipped one."""
    config = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "tether" / kind
    package = Path(__file__).resolve().parent.parent
    shipped = package / "profiles" / kind
    return config, shipped if shipped.is_dir() else package.parent / "profiles" / kind


def _step(value: object) -> object:
    return Step(value) if isinstance(value, str) and value in {s.value for s in Step} else value


StepKey = Annotated[Step, BeforeValidator(_step)]
#: Half-stop and third-stop bodies share these ends, so a label is read on either scale.
TimeKey = Annotated[Mark, BeforeValidator(lambda value: parse_time(str(value), Step.THIRD))]
IsoKey = Annotated[Mark, BeforeValidator(lambda value: parse_iso(str(value), Step.THIRD))]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Times(_Section):
    """The times a body keeps by itself; `means_s` names labels that stand for another time than their exact one."""

    shortest: TimeKey
    longest: TimeKey
    step: StepKey
    means_s: dict[str, Annotated[float, Field(gt=0)]] = {}


class Apertures(_Section):
    """How the body steps apertures."""

    step: StepKey


class Isos(_Section):
    """The ISO values of a body; those below `base_iso` are extended and lose headroom."""

    lowest: IsoKey
    highest: IsoKey
    step: StepKey
    base_iso: IsoKey


class Hold(_Section):
    """Whether and how long we can hold the shutter, and the body's own delays; unknown where left out."""

    can_hold: bool | None = None
    shortest_s: Annotated[float, Field(gt=0)] = 1.0
    longest_s: Annotated[float, Field(gt=0)] = 7200.0
    open_delay_s: Annotated[float, Field(ge=0, lt=5)] | None = None
    close_delay_s: Annotated[float, Field(ge=0, lt=5)] | None = None
    delay_uncertainty_s: Annotated[float, Field(ge=0, lt=5)] | None = None


class Sensor(_Section):
    """Pixel pitch [µm] and size [mm] of the sensor."""

    pitch_um: Annotated[float, Field(gt=0.5, lt=30)]
    width_mm: Annotated[float, Field(gt=2, lt=100)]
    height_mm: Annotated[float, Field(gt=2, lt=100)]


class Other(_Section):
    """What else the planner and the checks want to know; unknown where left out."""

    optical_finder: bool | None = None
    dark_frame_by_body: bool | None = None
    fetch_s: Annotated[float, Field(ge=0)] | None = None
    frame_bytes: Annotated[int, Field(gt=0)] | None = None


class BodyFile(_Section):
    """A whole body file. `tried` says when and with what it was tried on hardware; left out: it was not."""

    name: str
    simulated: bool = False
    tried: str | None = None
    times: Times
    apertures: Apertures
    isos: Isos
    hold: Hold = Hold()
    sensor: Sensor
    body: Other = Other()

    def abilities(self, widest: float, narrowest: float) -> Abilities:
        """Return what this body can do with a lens whose f-numbers run from `widest` to `narrowest`."""
        edge = 2.0 ** (1 / 24)  # an eighth of a third-stop step: keeps the ends of a range in it
        return Abilities(
            name=self.name,
            simulated=self.simulated,
            tried=self.tried,
            times=tuple(
                Mark(label=mark.label, exact=self.times.means_s.get(mark.label, mark.exact))
                for mark in time_marks(self.times.step)
                if self.times.shortest.exact / edge <= mark.exact <= self.times.longest.exact * edge
            ),
            apertures=tuple(
                mark for mark in aperture_marks(self.apertures.step) if widest / edge <= mark.exact <= narrowest * edge
            ),
            isos=tuple(
                mark
                for mark in iso_marks(self.isos.step)
                if self.isos.lowest.exact / edge <= mark.exact <= self.isos.highest.exact * edge
            ),
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
        )


def find_body_file(name: str) -> Path:
    """Return the path of a body file given by name or path.

    Raises
    ------
    PlanError
        If there is none; the sentence lists the names that exist.
    """
    given = Path(name)
    if given.suffix == ".toml" and given.is_file():
        return given
    for folder in profile_folders(SHIPPED):
        path = folder / f"{name}.toml"
        if path.is_file():
            return path
    known = sorted({path.stem for folder in profile_folders(SHIPPED) for path in folder.glob("*.toml")})
    raise PlanError(
        f'body.file = "{name}": there is no such body file; known are {", ".join(known)}, or a path to one.'
    )


def load_body_file(name: str) -> BodyFile:
    """Load and check a body file given by name or path. Raises PlanError with a sentence for every mistake."""
    path = find_body_file(name)
    try:
        return BodyFile.model_validate(read_toml(path.read_text(encoding="utf-8-sig"), path.name))
    except (OSError, UnicodeDecodeError) as error:
        raise PlanError(f"{path}: this body file cannot be read; it must be a text file in TOML.") from error
    except ValidationError as error:
        raise PlanError(*key_sentences(path.name, error)) from error
